//! What a line's file says about itself at its head.

/// The comments before the first key, paragraph by paragraph: an empty line, or an empty comment, ends one.
pub fn head_comment(text: &str) -> Vec<String> {
    let head = text.lines().map(str::trim);
    let head = head.take_while(|line| line.is_empty() || line.starts_with('#'));
    let mut paragraphs: Vec<String> = Vec::new();
    let mut goes_on = false;
    for line in head {
        let words = line.trim_start_matches('#').trim();
        match paragraphs.last_mut().filter(|_| goes_on) {
            Some(last) if !words.is_empty() => *last = format!("{last} {words}"),
            _ if !words.is_empty() => paragraphs.push(words.to_string()),
            _ => {}
        }
        goes_on = !words.is_empty();
    }
    paragraphs
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_comments_at_the_head_are_read_paragraph_by_paragraph() {
        let text = "# Two\n# lines.\n#\n# A second.\n\n# A third.\ntitle = \"a\"\n# not this\n";
        assert_eq!(head_comment(text), ["Two lines.", "A second.", "A third."]);
        assert!(head_comment("title = \"a\" # no\n").is_empty());
    }
}
