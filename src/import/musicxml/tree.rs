//! Small questions to the XML tree.

use roxmltree::Node;

/// The first child element of that name.
pub fn child<'a, 'i>(node: Node<'a, 'i>, name: &str) -> Option<Node<'a, 'i>> {
    children(node, name).next()
}

/// Every child element of that name.
pub fn children<'a, 'i>(node: Node<'a, 'i>, name: &str) -> impl Iterator<Item = Node<'a, 'i>> {
    node.children()
        .filter(move |child| child.has_tag_name(name))
}

/// Whether there is a child element of that name.
pub fn has(node: Node<'_, '_>, name: &str) -> bool {
    child(node, name).is_some()
}

/// The text of the first child element of that name, trimmed.
pub fn text<'a>(node: Node<'a, '_>, name: &str) -> Option<&'a str> {
    child(node, name)?.text().map(str::trim)
}

/// The number in the first child element of that name; nothing where it is none or beyond a million.
pub fn number(node: Node<'_, '_>, name: &str) -> Option<f64> {
    text(node, name).and_then(as_number)
}

/// A decimal number of a size that music needs.
pub fn as_number(text: &str) -> Option<f64> {
    let number: f64 = text.trim().parse().ok()?;
    (number.abs() <= 1e6).then_some(number)
}

/// The whole number in the first child element of that name.
pub fn whole(node: Node<'_, '_>, name: &str) -> Option<i32> {
    let number = number(node, name)?;
    (number.fract() == 0.0).then_some(number as i32)
}
