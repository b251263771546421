//! Where in a JSON document something stands.

use std::fmt::Write as _;

/// One step into a JSON document.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Step {
    /// Into the member of an object.
    Member(String),
    /// Into the element of an array.
    Element(usize),
}

/// Writes steps as a JSON Pointer in a URI fragment: `#/film/coats`.
pub(crate) fn pointer(steps: &[Step]) -> String {
    let mut text = "#".to_owned();
    for step in steps {
        match step {
            Step::Member(name) => push_member(&mut text, name),
            Step::Element(index) => {
                // Writing to a string does not fail.
                let _ = write!(text, "/{index}");
            }
        }
    }
    text
}

/// Adds one member to a pointer, escaped for the pointer (RFC 6901, section 3) and for the fragment.
pub(crate) fn push_member(pointer: &mut String, name: &str) {
    pointer.push('/');
    let cut: String = name.chars().take(200).collect();
    for byte in cut.bytes() {
        match byte {
            b'~' => pointer.push_str("~0"),
            b'/' => pointer.push_str("~1"),
            b'A'..=b'Z' | b'a'..=b'z' | b'0'..=b'9' | b'-' | b'.' | b'_' => {
                pointer.push(char::from(byte));
            }
            _ => {
                let _ = write!(pointer, "%{byte:02X}");
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::{Step, pointer};

    #[test]
    fn a_pointer_is_escaped_twice() {
        let member = |name: &str| Step::Member(name.to_owned());
        assert_eq!(pointer(&[]), "#");
        assert_eq!(
            pointer(&[member("items"), Step::Element(3), member("a/b~c d")]),
            "#/items/3/a~1b~0c%20d"
        );
    }
}
