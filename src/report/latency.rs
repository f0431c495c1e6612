//! Latency in words.

use crate::judge::settings::Latency;
use crate::latency::kept::{KeptLatency, Method};
use crate::units::Key;

/// What `play` says where nothing is kept for what it opened.
pub const NONE_KEPT: &str = "No latency is kept for these ports, so none is taken off: `leadsman latency measure` finds it.";

/// `8.03 ± 0.15 ms + 1.498 ± 0.009 periods`: with its standard errors where they are known.
pub fn law(latency: &Latency) -> String {
    let error = |error: Option<String>| error.map_or(String::new(), |error| format!(" ± {error}"));
    let fixed_se = error(latency.fixed_se.map(|se| format!("{:.2}", se.ms())));
    let periods_se = error(latency.periods_se.map(|se| format!("{se:.3}")));
    format!(
        "{:.2}{fixed_se} ms + {:.3}{periods_se} periods",
        latency.fixed.ms(),
        latency.periods
    )
}

/// What it comes to on the open strings: `E1 44.4 · A1 35.3 · D2 28.5 · G2 23.3 ms`.
pub fn on_open_strings(latency: &Latency) -> String {
    let of = |key: u8| {
        let key = Key(key);
        let ms = latency.fixed.ms() + 1000.0 * latency.periods / key.frequency_hz();
        format!("{key} {ms:.1}")
    };
    format!("{} ms", [28, 33, 38, 43].map(of).join(" · "))
}

/// The one line that `play` says about a latency it uses.
pub fn kept_line(kept: &KeptLatency) -> String {
    let day = kept.date.split('T').next().unwrap_or_default();
    let again = match kept.method {
        Method::Tapped => "; your lean is in it",
        Method::Measured | Method::Given => "",
    };
    let how = match kept.method {
        Method::Measured => "measured",
        Method::Tapped => "tapped",
        Method::Given => "given",
    };
    format!(
        "Latency taken off: {}, {how} on {day} for these ports{again}.",
        law(&kept.latency())
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Nanos;

    /// One period of the open strings in ms: E1 24.27, A1 18.18, D2 13.62, G2 10.20 (1 / f0).
    #[test]
    fn a_law_is_said_with_its_errors_and_what_it_comes_to() {
        let latency = Latency {
            fixed: Nanos::from_ms(8),
            periods: 1.5,
            fixed_se: Some(Nanos::from_ms_f64(0.15)),
            periods_se: Some(0.009),
        };
        assert_eq!(law(&latency), "8.00 ± 0.15 ms + 1.500 ± 0.009 periods");
        assert_eq!(
            on_open_strings(&latency),
            "E1 44.4 · A1 35.3 · D2 28.4 · G2 23.3 ms"
        );
        assert_eq!(law(&Latency::default()), "0.00 ms + 0.000 periods");
    }
}
