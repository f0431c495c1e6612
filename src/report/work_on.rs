//! What to work on: what was heard, what to do about it, and the command that sets it up.

use super::Checked;
use super::command::command;
use super::page::Page;
use crate::findings::Finding;

/// Nobody works on more than this at a time; the rest is told on request.
const TOLD: usize = 3;

/// The findings, those that hurt most first.
pub fn work_on(checked: &Checked, page: &mut Page) {
    let findings = &checked.findings;
    if findings.is_empty() {
        page.paragraph("", "", "Nothing stands out as a habit to work on.");
        return page.gap();
    }
    page.line("To work on");
    let told = if page.layout.detail.is_all() {
        findings.len()
    } else {
        TOLD
    };
    for (number, finding) in findings.iter().take(told).enumerate() {
        tell(checked, number + 1, finding, page);
    }
    if findings.len() > told {
        page.line(&format!("{} more: --all", findings.len() - told));
    }
    page.gap();
}

fn tell(checked: &Checked, number: usize, finding: &Finding, page: &mut Page) {
    let first = format!("{number}. ");
    let further = " ".repeat(first.len());
    page.paragraph(&first, &further, &finding.text);
    page.paragraph(&further, &further, finding.advice);
    if let Some(practice) = &finding.practice {
        // Whole, so that it can be copied, however wide it is.
        page.line(&format!(
            "{further}Next: {}",
            command(&checked.line, practice)
        ));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::click::Pattern;
    use crate::findings::practice::Practice;
    use crate::report::page::{Detail, Layout};
    use crate::report::sample::Sample;

    fn told(count: usize, detail: Detail) -> String {
        let sample = Sample::new("[[section]]\nname = \"A\"\nnotes = \"A1/1\"", "steady");
        let mut checked = sample.checked();
        let finding = |number: usize| {
            let mut finding = Finding::new("late-entries", vec![0], 1)
                .told(format!("Number {number}."), "Do this.");
            finding.practice = (number > 1).then_some(Practice {
                bars: [1, 1],
                speed: 80.0,
                click: Pattern::Bar,
            });
            finding
        };
        checked.findings = (1..=count).map(finding).collect();
        let mut page = Page::new(Layout { width: 80, detail });
        work_on(&checked, &mut page);
        page.into_text()
    }

    #[test]
    fn three_are_told_and_the_rest_on_request() {
        let brief = told(5, Detail::Brief);
        assert_eq!(brief.matches("Number").count(), 3, "{brief}");
        assert!(brief.ends_with("2 more: --all\n\n"), "{brief}");
        for all in [told(5, Detail::All), told(5, Detail::AllButBars)] {
            assert_eq!(all.matches("Number").count(), 5, "{all}");
            assert!(!all.contains("--all"));
        }
        assert!(!told(3, Detail::Brief).contains("more"));
    }

    #[test]
    fn what_can_be_set_up_is_and_the_rest_has_no_command() {
        let expected = "\
To work on
1. Number 1.
   Do this.
2. Number 2.
   Do this.
   Next: leadsman play line.toml --bars 1 --speed 80 --click bar

";
        assert_eq!(told(2, Detail::Brief), expected);
    }
}
