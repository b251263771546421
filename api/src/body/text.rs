//! What the strings and numbers of a body may hold, wherever they stand.
//!
//! Strings are brought to Unicode NFC, so that two names that look alike are alike, and may hold no control,
//! bidirectional or invisible characters: such a name shows as another name in a report. A `note` may have line
//! feeds and tabs. Calendars, `external.system` and `external.id` belong to another program and stay as they are, byte for
//! byte; only NUL, which PostgreSQL cannot store, is refused. Integers that a double cannot tell apart are refused.

use serde_json::{Number, Value};
use unicode_normalization::{UnicodeNormalization, is_nfc};

use super::fault::{Fault, MAX_FAULTS, Step, pointer};

/// The largest integer up to which every integer is a double (2^53 - 1).
const MAX_SAFE_INTEGER: u64 = 9_007_199_254_740_991;

/// Normalises every string in place, and tells every fault with its pointer, up to [`MAX_FAULTS`].
pub(super) fn normalise(value: &mut Value) -> Vec<Fault> {
    let mut walk = Walk {
        path: Vec::new(),
        faults: Vec::new(),
    };
    walk.value(value);
    walk.faults
}

/// Whether a character may not stand in text.
pub(crate) fn is_forbidden(c: char) -> bool {
    c.is_control()
        || matches!(
            c,
            // Marks that change the direction of what follows.
            '\u{061C}' | '\u{200E}' | '\u{200F}' | '\u{202A}'..='\u{202E}' | '\u{2066}'..='\u{2069}'
            // Characters that nobody sees, and separators that break lines where nobody expects it.
            | '\u{200B}' | '\u{2060}' | '\u{FEFF}' | '\u{2028}' | '\u{2029}'
        )
}

/// The integer that a number such as `4.0` is: JSON Schema counts it as one, so the reader does too.
fn whole(number: &Number) -> Option<i64> {
    let value = number.as_f64().filter(|_value| number.is_f64())?;
    domain::quantity::whole(value).filter(|whole| {
        let exact = value.fract() == 0.0 && !(value == 0.0 && value.is_sign_negative());
        exact && whole.unsigned_abs() <= MAX_SAFE_INTEGER
    })
}

struct Walk {
    path: Vec<Step>,
    faults: Vec<Fault>,
}

impl Walk {
    fn value(&mut self, value: &mut Value) {
        if self.faults.len() >= MAX_FAULTS {
            // The body is refused: what else is wrong with it is not worth the memory.
            return;
        }
        match value {
            Value::Null | Value::Bool(_) => {}
            Value::Number(number) => {
                let size = number
                    .as_u64()
                    .or_else(|| number.as_i64().map(i64::unsigned_abs));
                if size.is_some_and(|size| size > MAX_SAFE_INTEGER) {
                    self.fault("number_out_of_range", "Integers go up to 2^53 - 1 here.");
                } else if let Some(whole) = whole(number) {
                    *value = Value::Number(whole.into());
                }
            }
            Value::String(text) => self.text(text),
            Value::Array(elements) => {
                for (index, element) in elements.iter_mut().enumerate() {
                    self.path.push(Step::Element(index));
                    self.value(element);
                    self.path.pop();
                }
            }
            Value::Object(members) => {
                for (name, member) in members.iter_mut() {
                    self.path.push(Step::Member(name.clone()));
                    if name.chars().any(is_forbidden) {
                        self.fault(
                            "forbidden_character",
                            "The member's name holds a forbidden character.",
                        );
                    }
                    self.value(member);
                    self.path.pop();
                }
            }
        }
    }

    fn text(&mut self, text: &mut String) {
        if self.is_foreign() {
            if text.contains('\0') {
                self.fault("forbidden_character", "NUL cannot be stored.");
            }
            return;
        }
        let multi_line = self.last_member() == Some("note");
        let allowed = |c: char| !is_forbidden(c) || (multi_line && matches!(c, '\n' | '\t'));
        if let Some(c) = text.chars().find(|c| !allowed(*c)) {
            let detail = format!(
                "The text holds the forbidden character U+{:04X}.",
                u32::from(c)
            );
            self.faults.push(Fault::at(
                pointer(&self.path),
                "forbidden_character",
                detail,
            ));
        } else if !is_nfc(text) {
            *text = text.nfc().collect();
        }
    }

    /// Whether the value here is an identifier or a calendar of another program.
    fn is_foreign(&self) -> bool {
        if matches!(
            self.last_member(),
            Some("open_calendar" | "closed_calendar")
        ) {
            return true;
        }
        let member = |step: Option<&Step>, names: &[&str]| matches!(step, Some(Step::Member(name)) if names.contains(&name.as_str()));
        let mut from_here = self.path.iter().rev();
        member(from_here.next(), &["system", "id"]) && member(from_here.next(), &["external"])
    }

    fn last_member(&self) -> Option<&str> {
        match self.path.last() {
            Some(Step::Member(name)) => Some(name),
            Some(Step::Element(_)) | None => None,
        }
    }

    fn fault(&mut self, code: &'static str, detail: &'static str) {
        self.faults
            .push(Fault::at(pointer(&self.path), code, detail));
    }
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::{MAX_FAULTS, normalise};

    #[test]
    fn s_114_text_becomes_nfc_and_identifiers_of_others_stay() {
        let mut body =
            json!({"name": "e\u{301}", "external": {"system": "x", "id": "e\u{301}\u{202E}\n"}});
        assert_eq!(normalise(&mut body), []);
        assert_eq!(body["name"], "\u{e9}");
        assert_eq!(body["external"]["id"], "e\u{301}\u{202E}\n");
    }

    #[test]
    fn s_113_s_114_controls_and_bidi_marks_are_refused_where_they_stand() {
        for c in [
            '\0', '\u{7}', '\n', '\u{85}', '\u{202E}', '\u{2067}', '\u{200B}', '\u{FEFF}',
        ] {
            let mut body = json!({"items": [{"name": format!("a{c}b")}]});
            let faults = normalise(&mut body);
            assert_eq!(faults.len(), 1, "{c:?}");
            assert_eq!(faults[0].pointer.as_deref(), Some("#/items/0/name"));
        }
        assert_eq!(normalise(&mut json!({"external": {"id": "a\0"}})).len(), 1);
        assert_eq!(normalise(&mut json!({"note": "two\nlines"})), []);
        assert_eq!(normalise(&mut json!({"a\u{0}": 1})).len(), 1);
    }

    #[test]
    fn s_115_integers_that_a_double_cannot_tell_apart_are_refused() {
        assert_eq!(normalise(&mut json!(9_007_199_254_740_991_u64)), []);
        assert_eq!(normalise(&mut json!(9_007_199_254_740_992_u64)).len(), 1);
        assert_eq!(normalise(&mut json!(-9_007_199_254_740_992_i64)).len(), 1);
    }

    #[test]
    fn a_body_full_of_faults_is_not_multiplied() {
        // Six bytes an element, as sent: nine hundred thousand fit into a batch.
        let mut body = json!(vec!["\u{200B}"; 900_000]);
        assert_eq!(normalise(&mut body).len(), MAX_FAULTS);
    }
}
