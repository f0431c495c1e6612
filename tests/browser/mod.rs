//! A Chromium to ask questions of a page: the DevTools protocol (Chromium's own, as its `--remote-debugging-pipe` speaks it: JSON
//! messages, each ended by a NUL, on the file descriptors 3 and 4).
#![allow(dead_code)] // each test file uses a part of it

use serde_json::{Value, json};
use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::{Child, ChildStdin, ChildStdout, Command, Stdio};
use tempfile::TempDir;

/// A browser with one tab.
pub struct Browser {
    child: Child,
    to: ChildStdin,
    from: BufReader<ChildStdout>,
    session: Option<String>,
    next: u64,
    /// What the tab told since the last page was opened.
    pub events: Vec<Value>,
    _profile: TempDir,
}

/// How a page is looked at.
#[derive(Clone, Copy, Debug)]
pub struct View {
    pub width: u32,
    pub scheme: &'static str,
}

impl Browser {
    /// None where there is no Chromium.
    pub fn start() -> Option<Browser> {
        Command::new("chromium").arg("--version").output().ok()?;
        let profile = tempfile::tempdir().expect("a folder");
        // The shell gives our pipes the numbers that Chromium looks for; what else it prints goes astray.
        let mut child = Command::new("sh")
            .args([
                "-c",
                "exec chromium \"$@\" 3<&0 4>&1 0</dev/null 1>&2",
                "sh",
            ])
            .args([
                "--headless",
                "--no-sandbox",
                "--disable-gpu",
                "--no-first-run",
            ])
            .args(["--disable-background-networking", "--remote-debugging-pipe"])
            .arg(format!("--user-data-dir={}", profile.path().display()))
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("a shell");
        let to = child.stdin.take().expect("a pipe");
        let from = BufReader::new(child.stdout.take().expect("a pipe"));
        let mut browser = Browser {
            child,
            to,
            from,
            session: None,
            next: 0,
            events: Vec::new(),
            _profile: profile,
        };
        let tab = browser.ask("Target.createTarget", json!({"url": "about:blank"}));
        let params = json!({"targetId": tab["targetId"], "flatten": true});
        let attached = browser.ask("Target.attachToTarget", params);
        browser.session = attached["sessionId"].as_str().map(str::to_string);
        for domain in ["Page", "Runtime", "Log", "Network"] {
            browser.ask(&format!("{domain}.enable"), json!({}));
        }
        Some(browser)
    }

    /// Opens a page and waits until it is there.
    pub fn open(&mut self, page: &Path, view: View) {
        self.resize(view.width, 900);
        let features = json!([{"name": "prefers-color-scheme", "value": view.scheme}]);
        self.ask("Emulation.setEmulatedMedia", json!({"features": features}));
        self.events.clear();
        let url = format!("file://{}", page.display());
        self.ask("Page.navigate", json!({"url": url}));
        while !self
            .events
            .iter()
            .any(|event| event["method"] == "Page.loadEventFired")
        {
            let message = self.read();
            self.events.push(message);
        }
    }

    /// Gives the window another size.
    pub fn resize(&mut self, width: u32, height: u32) {
        let metrics =
            json!({"width": width, "height": height, "deviceScaleFactor": 1, "mobile": false});
        self.ask("Emulation.setDeviceMetricsOverride", metrics);
    }

    /// What a script of the test comes to in the page.
    pub fn evaluate(&mut self, script: &str) -> Value {
        let params = json!({"expression": script, "returnByValue": true, "awaitPromise": true});
        let answer = self.ask("Runtime.evaluate", params);
        assert!(
            answer["exceptionDetails"].is_null(),
            "{}",
            answer["exceptionDetails"]
        );
        answer["result"]["value"].clone()
    }

    /// Sends a command and waits for its answer.
    pub fn ask(&mut self, method: &str, params: Value) -> Value {
        self.next += 1;
        let mut message = json!({"id": self.next, "method": method, "params": params});
        if let Some(session) = &self.session {
            message["sessionId"] = json!(session);
        }
        write!(self.to, "{message}\0").expect("Chromium listens");
        self.to.flush().expect("Chromium listens");
        loop {
            let message = self.read();
            if message["id"] == self.next {
                assert!(message["error"].is_null(), "{method}: {}", message["error"]);
                return message["result"].clone();
            }
            self.events.push(message);
        }
    }

    fn read(&mut self) -> Value {
        let mut bytes = Vec::new();
        self.from
            .read_until(0, &mut bytes)
            .expect("Chromium answers");
        assert_eq!(bytes.pop(), Some(0), "Chromium has gone");
        serde_json::from_slice(&bytes).expect("JSON")
    }

    /// What the page complained about, and every request that is not for the page itself.
    pub fn complaints(&self, page: &Path) -> Vec<String> {
        let own = format!("file://{}", page.display());
        let complaint = |event: &Value| match event["method"].as_str()? {
            "Runtime.consoleAPICalled" | "Runtime.exceptionThrown" | "Log.entryAdded" => {
                Some(event.to_string())
            }
            "Network.requestWillBeSent" => {
                let url = event["params"]["request"]["url"].as_str()?;
                let is_own =
                    url.split('#').next() == Some(own.as_str()) || url.starts_with("data:");
                (!is_own).then(|| format!("request for {url}"))
            }
            _ => None,
        };
        self.events.iter().filter_map(complaint).collect()
    }
}

impl Drop for Browser {
    fn drop(&mut self) {
        // It may have ended by itself.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

const QUESTIONS: &str = include_str!("questions.js");

/// What a browser finds wrong with a page, question by question.
pub fn faults(browser: &mut Browser, page: &Path, view: View) -> Vec<(&'static str, Vec<String>)> {
    browser.open(page, view);
    browser.evaluate(QUESTIONS);
    let list = |value: &Value| -> Vec<String> {
        let items = value.as_array().unwrap_or_else(|| panic!("{value}")).iter();
        items
            .filter_map(|item| item.as_str().map(str::to_string))
            .collect()
    };
    let shut = list(&browser.evaluate("questions.overflow()"));
    let height = browser
        .evaluate("questions.unfold()")
        .as_u64()
        .expect("a height");
    // As high as the page, so that every text can be hit without scrolling.
    browser.resize(view.width, height as u32 + 100);
    let open = list(&browser.evaluate("questions.overflow()"));
    let contrast = browser.evaluate("questions.contrast()");
    let (hit, all) = (contrast["hit"].as_u64(), contrast["all"].as_u64());
    let few = view.width > 1000 && hit < all.map(|all| all * 9 / 10);
    let mut poor = list(&contrast["wrong"]);
    poor.extend(few.then(|| format!("only {hit:?} of {all:?} texts could be looked at")));
    vec![
        ("overflow", [shut, open].concat()),
        ("contrast", poor),
        (
            "selectable",
            list(&browser.evaluate("questions.selectable()")),
        ),
        ("focus", list(&browser.evaluate("questions.focus()"))),
        ("complaints", browser.complaints(page)),
    ]
}
