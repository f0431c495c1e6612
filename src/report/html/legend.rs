//! Words for marks: each sign as it is drawn, so that no colour is needed to read it.

use maud::{Markup, html};

/// What marks stand for, where they are about time.
pub(super) fn timing(window: &str) -> Markup {
    signs(&[
        ("disc", "●", window),
        ("early", "▼", "early"),
        ("late", "▲", "late"),
    ])
}

/// A row of signs with their meaning.
pub(super) fn signs(signs: &[(&str, &str, &str)]) -> Markup {
    html! {
        span class="legend" {
            @for (class, sign, meaning) in signs {
                span { span class=(class) aria-hidden="true" { (sign) } " " (meaning) }
            }
        }
    }
}
