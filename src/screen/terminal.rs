//! The terminal while the screen is up: taken once, given back however the program ends.

use crate::quiet::Quiet;
use ratatui::crossterm::cursor::{Hide, Show};
use ratatui::crossterm::execute;
use ratatui::crossterm::terminal::{
    Clear, ClearType, EnterAlternateScreen, LeaveAlternateScreen, disable_raw_mode, enable_raw_mode,
};
use ratatui::{Terminal, backend::CrosstermBackend};
use std::io::{self, IsTerminal, Stdout};
use std::sync::{Mutex, MutexGuard, Once, PoisonError};

/// Whether the screen is up, with standard error sent away meanwhile. One for the process, as the terminal is.
static UP: Mutex<Option<Quiet>> = Mutex::new(None);
static HOOK: Once = Once::new();

/// The terminal in raw mode, on its alternate screen; dropped, it is as it was before. A panic on any thread gives it back
/// before it is reported.
pub struct Screen {
    terminal: Terminal<CrosstermBackend<Stdout>>,
    #[cfg(unix)]
    signals: Signals,
}

/// What the system asks for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Asked {
    /// To be suspended: call [`Screen::suspend`].
    Suspend,
    /// To draw all of it again: the program was stopped from outside and goes on.
    Resume,
}

#[cfg(unix)]
struct Signals {
    suspend: std::sync::Arc<std::sync::atomic::AtomicBool>,
    resume: std::sync::Arc<std::sync::atomic::AtomicBool>,
    ids: Vec<signal_hook::SigId>,
}

impl Screen {
    /// Takes the terminal. Standard error goes to the log until it is given back.
    pub fn open() -> io::Result<Screen> {
        HOOK.call_once(|| {
            let before = std::panic::take_hook();
            std::panic::set_hook(Box::new(move |panic| {
                give_back();
                before(panic);
            }));
        });
        #[cfg(unix)]
        let signals = Signals::heard()?;
        take()?;
        Ok(Screen {
            terminal: blank().inspect_err(|_| give_back())?,
            #[cfg(unix)]
            signals,
        })
    }

    /// Draws a frame; only what has changed is sent.
    pub fn draw(&mut self, view: &super::View, look: super::Look) -> io::Result<()> {
        self.terminal
            .draw(|frame| super::draw(view, frame.area(), frame.buffer_mut(), look))?;
        Ok(())
    }

    /// Whether the terminal was closed: nothing more comes of it, and nothing can be drawn.
    pub fn is_gone(&self) -> bool {
        !io::stdin().is_terminal()
    }

    /// What the system has asked for since the last call.
    pub fn asked(&self) -> Option<Asked> {
        #[cfg(unix)]
        {
            use std::sync::atomic::Ordering::AcqRel;
            let taken = |flag: &std::sync::atomic::AtomicBool| {
                flag.compare_exchange(true, false, AcqRel, std::sync::atomic::Ordering::Relaxed)
                    .is_ok()
            };
            if taken(&self.signals.suspend) {
                return Some(Asked::Suspend);
            }
            if taken(&self.signals.resume) {
                return Some(Asked::Resume);
            }
        }
        None
    }

    /// Gives the terminal to the shell and stops the whole program; returns when it goes on, with the screen up again.
    /// Where there is no such thing, only the screen is drawn anew.
    pub fn suspend(&mut self) -> io::Result<()> {
        #[cfg(unix)]
        {
            give_back();
            signal_hook::low_level::emulate_default_handler(signal_hook::consts::SIGTSTP)?;
            // Stopped here until somebody says to go on.
            self.signals.forget();
        }
        self.resume()
    }

    /// Takes the terminal anew and draws all of it with the next frame.
    pub fn resume(&mut self) -> io::Result<()> {
        take()?;
        self.terminal = blank()?;
        Ok(())
    }
}

impl Drop for Screen {
    fn drop(&mut self) {
        give_back();
    }
}

#[cfg(unix)]
impl Signals {
    fn heard() -> io::Result<Signals> {
        use signal_hook::consts::{SIGCONT, SIGTSTP};
        let mut signals = Signals {
            suspend: Default::default(),
            resume: Default::default(),
            ids: Vec::new(),
        };
        let flags = [(SIGTSTP, &signals.suspend), (SIGCONT, &signals.resume)];
        for (signal, flag) in flags {
            let id = signal_hook::flag::register(signal, std::sync::Arc::clone(flag))?;
            signals.ids.push(id);
        }
        Ok(signals)
    }

    fn forget(&self) {
        for flag in [&self.suspend, &self.resume] {
            flag.store(false, std::sync::atomic::Ordering::Release);
        }
    }
}

#[cfg(unix)]
impl Drop for Signals {
    fn drop(&mut self) {
        for id in &self.ids {
            signal_hook::low_level::unregister(*id);
        }
    }
}

/// An empty screen, known to be empty. (`Terminal::clear` asks the terminal where its cursor is, and would take the answer,
/// or a key, from whoever reads events.)
fn blank() -> io::Result<Terminal<CrosstermBackend<Stdout>>> {
    execute!(io::stdout(), Clear(ClearType::All))?;
    Terminal::new(CrosstermBackend::new(io::stdout()))
}

fn up() -> MutexGuard<'static, Option<Quiet>> {
    UP.lock().unwrap_or_else(PoisonError::into_inner)
}

fn take() -> io::Result<()> {
    let mut up = up();
    let taken = enable_raw_mode().and_then(|()| execute!(io::stdout(), EnterAlternateScreen, Hide));
    if up.is_none() {
        *up = Some(Quiet::start());
    }
    drop(up);
    taken.inspect_err(|_| give_back())
}

/// Gives the terminal back, if it is taken. There is nobody to tell if that fails.
fn give_back() {
    // Nothing panics with the lock held, so a panic's hook never waits for its own thread.
    let Some(quiet) = up().take() else { return };
    let _ = execute!(io::stdout(), LeaveAlternateScreen, Show);
    let _ = disable_raw_mode();
    drop(quiet);
}
