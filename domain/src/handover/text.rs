//! Text as building files hold it: blanks, placeholders, and characters that nobody wants in a name.

use std::borrow::Cow;

use super::MAX_NAME;

/// What people write where they have nothing to say.
const NOTHING: [&str; 16] = [
    "n/a",
    "na",
    "n.a.",
    "none",
    "nil",
    "null",
    "-",
    "--",
    "?",
    "tbd",
    "tbc",
    "unknown",
    "not applicable",
    "not defined",
    "notdefined",
    "undefined",
];

/// Trimmed, with every run of blanks folded into one; cut one character behind the longest name, so that a text too long
/// is still seen to be one and holds no memory.
pub fn clean(text: &str) -> String {
    let mut out = String::with_capacity(text.len().min(MAX_NAME));
    let mut room = MAX_NAME + 1;
    for word in text.split_whitespace() {
        if !out.is_empty() && room > 0 {
            out.push(' ');
            room -= 1;
        }
        for c in word.chars().take(room) {
            out.push(c);
            room -= 1;
        }
        if room == 0 {
            break;
        }
    }
    out
}

/// The text with its blanks folded, or `None` where nothing is told: nothing at all, a placeholder, or `label` itself,
/// the name of the column or property that it stands in.
pub fn told(text: &str, label: &str) -> Option<String> {
    let text = clean(text);
    (!text.is_empty() && !is_placeholder(&text, label)).then_some(text)
}

/// Whether a text says that nobody filled it in.
pub(super) fn is_placeholder(text: &str, label: &str) -> bool {
    let lower = text.trim().to_lowercase();
    NOTHING.contains(&lower.as_str()) || (!label.is_empty() && letters(text) == letters(label))
}

/// The letters and digits of a name in small letters, so that `Floor Covering` and `FloorCovering` are one.
pub(super) fn letters(text: &str) -> String {
    text.chars()
        .filter(|c| c.is_alphanumeric())
        .flat_map(char::to_lowercase)
        .collect()
}

/// Whether a text may stand as a name: short enough, without control characters and marks that hide or turn text.
pub fn is_fit(text: &str) -> bool {
    let hidden = |c: char| {
        c.is_control()
            || matches!(c, '\u{061C}' | '\u{200B}' | '\u{200E}' | '\u{200F}' | '\u{202A}'..='\u{202E}'
                | '\u{2028}' | '\u{2029}' | '\u{2060}' | '\u{2066}'..='\u{2069}' | '\u{FEFF}')
    };
    text.chars().take(MAX_NAME + 1).count() <= MAX_NAME && !text.chars().any(hidden)
}

/// Whether a spreadsheet may take the text for a formula, or for the end of a cell and the start of one.
pub fn is_formula(text: &str) -> bool {
    let is_sign = |c: char| {
        matches!(
            c,
            '=' | '+' | '-' | '@' | '＝' | '＋' | '－' | '＠' | '\u{2212}'
        )
    };
    let is_break = |c: char| matches!(c, '\t' | '\r' | '\n' | '\0');
    // Programs skip the blanks before a formula.
    text.starts_with(is_break) || text.trim_start().starts_with(is_sign)
}

/// The text for the cell of a table: one that begins like a formula is led by an apostrophe, and so is one that is led by
/// one already, so that [`unshielded`] gives every text back.
pub fn shielded(text: &str) -> Cow<'_, str> {
    if is_formula(text.trim_start_matches('\'')) {
        Cow::Owned(format!("'{text}"))
    } else {
        Cow::Borrowed(text)
    }
}

/// The text of a cell that was [`shielded`].
pub fn unshielded(cell: &str) -> &str {
    match cell.strip_prefix('\'') {
        Some(text) if is_formula(text.trim_start_matches('\'')) => text,
        _ => cell,
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::{clean, is_fit, is_formula, shielded, told, unshielded};

    proptest! {
        #[test]
        fn what_is_shielded_is_no_formula_and_comes_back_as_it_was(text in "['=+@\\-a \\t]{0,6}|\\PC{0,12}") {
            let cell = shielded(&text);
            prop_assert!(!is_formula(&cell), "{cell:?}");
            prop_assert_eq!(unshielded(&cell), text.as_str());
        }
    }

    #[test]
    fn placeholders_and_labels_tell_nothing() {
        assert_eq!(clean("  CERAMIC   TILE \t"), "CERAMIC TILE");
        assert_eq!(
            told(" CARPET  ", "FloorMaterial").as_deref(),
            Some("CARPET")
        );
        for text in [
            "",
            "  ",
            "n/a",
            "N/A",
            "FloorCovering",
            "Floor Covering",
            "TBD",
        ] {
            assert_eq!(told(text, "FloorCovering"), None, "{text}");
        }
        assert!(is_fit("Büro 1.01"));
        assert!(!is_fit("a\u{202E}b") && !is_fit("a\0") && !is_fit(&"x".repeat(201)));
    }
}
