//! XML text in memory.

use quick_xml::Writer;
use quick_xml::events::{BytesDecl, BytesEnd, BytesStart, BytesText, Event};
use std::fmt::Display;

/// A document in the making.
pub(super) struct Xml {
    out: Writer<Vec<u8>>,
}

/// Names and values.
pub(super) type Attributes<'a> = &'a [(&'a str, &'a str)];

impl Xml {
    /// With the declaration and a document type.
    pub(super) fn new(doctype: &str) -> Xml {
        let mut xml = Xml {
            out: Writer::new_with_indent(Vec::new(), b' ', 1),
        };
        xml.event(Event::Decl(BytesDecl::new("1.0", Some("UTF-8"), None)));
        xml.event(Event::DocType(BytesText::from_escaped(doctype)));
        xml
    }

    /// An element with what `inside` puts in it.
    pub(super) fn element(
        &mut self,
        name: &str,
        attributes: Attributes<'_>,
        inside: impl FnOnce(&mut Xml),
    ) {
        self.event(Event::Start(start(name, attributes)));
        inside(self);
        self.event(Event::End(BytesEnd::new(name)));
    }

    /// An element with a text.
    pub(super) fn text(&mut self, name: &str, text: impl Display) {
        self.text_with(name, &[], text);
    }

    /// The same with attributes.
    pub(super) fn text_with(&mut self, name: &str, attributes: Attributes<'_>, text: impl Display) {
        let text = held(&text.to_string());
        self.event(Event::Start(start(name, attributes)));
        self.event(Event::Text(BytesText::new(&text)));
        self.event(Event::End(BytesEnd::new(name)));
    }

    /// An element without content.
    pub(super) fn empty(&mut self, name: &str, attributes: Attributes<'_>) {
        self.event(Event::Empty(start(name, attributes)));
    }

    /// The bytes, in UTF-8.
    pub(super) fn finish(self) -> Vec<u8> {
        let mut bytes = self.out.into_inner();
        bytes.push(b'\n');
        bytes
    }

    fn event(&mut self, event: Event<'_>) {
        self.out
            .write_event(event)
            .expect("memory takes what is written to it");
    }
}

fn start<'a>(name: &'a str, attributes: Attributes<'a>) -> BytesStart<'a> {
    BytesStart::new(name).with_attributes(attributes.iter().copied())
}

/// The text as XML 1.0 can hold it (production `Char`): what it cannot, and line ends, which a reader may change, become
/// spaces.
pub(super) fn held(text: &str) -> String {
    let cannot = |c: char| c.is_control() || matches!(c, '\u{FFFE}' | '\u{FFFF}');
    let space = |c: char| if cannot(c) { ' ' } else { c };
    text.chars().map(space).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn markup_in_a_text_is_escaped_and_what_xml_cannot_hold_is_a_space() {
        let mut xml = Xml::new("a");
        xml.text_with("a", &[("b", "<\"&")], "x < y & \u{7}z\u{FFFF}\r\n");
        let text = String::from_utf8(xml.finish()).unwrap();
        let last = text.lines().last().unwrap();
        assert_eq!(last, "<a b=\"&lt;&quot;&amp;\">x &lt; y &amp;  z   </a>");
    }
}
