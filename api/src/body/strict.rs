//! Reads JSON as strictly as two readers must to agree on what they read.
//!
//! Refused here: a member named twice (readers differ on which counts), more than 32 levels, anything after the
//! value, names that mean something to the reader itself, and what RFC 8259 refuses. Two parties that disagree on the meaning of a body are an attack surface.

use std::{cell::RefCell, fmt};

use serde::de::{self, DeserializeSeed, MapAccess, SeqAccess, Visitor};
use serde_json::{Map, Number, Value};

use super::fault::{Step, pointer};

/// How deep objects and arrays may nest.
pub(crate) const MAX_DEPTH: usize = 32;

/// Names that `serde_json` keeps for itself begin like this: it would take the text of such a member for the value around it.
const RESERVED: &str = "$serde_json::private::";

/// Why a text is not JSON that we read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub(crate) enum JsonFault {
    /// An object names a member twice.
    #[error("the member at {pointer} is named twice")]
    Duplicate {
        /// Where it stands.
        pointer: String,
    },
    /// A member has a name that the reader takes for something else.
    #[error("the member at {pointer} has a name that is kept for the reader of JSON")]
    Reserved {
        /// Where it stands.
        pointer: String,
    },
    /// Nested deeper than [`MAX_DEPTH`].
    #[error("nested deeper than {MAX_DEPTH} levels")]
    TooDeep,
    /// A number that no 64-bit float holds.
    #[error("a number is too large")]
    NumberTooLarge,
    /// Not JSON.
    #[error("not JSON at line {line}, column {column}")]
    Syntax {
        /// The line, from 1.
        line: usize,
        /// The column, from 1.
        column: usize,
    },
}

/// Reads one JSON value and nothing after it.
///
/// # Errors
/// The first [`JsonFault`].
pub(crate) fn parse(bytes: &[u8]) -> Result<Value, JsonFault> {
    let state = State::default();
    let mut reader = serde_json::Deserializer::from_slice(bytes);
    let seed = Node {
        depth: 0,
        state: &state,
    };
    let read = seed
        .deserialize(&mut reader)
        .and_then(|value| reader.end().map(|()| value));
    read.map_err(|error| {
        let known = state.fault.borrow_mut().take();
        known.unwrap_or_else(|| {
            // The reader gives no other sign of an overflow than its text; a test below holds it to that.
            if error.to_string().starts_with("number out of range") {
                JsonFault::NumberTooLarge
            } else {
                JsonFault::Syntax {
                    line: error.line(),
                    column: error.column(),
                }
            }
        })
    })
}

/// What the visitors of one document share.
#[derive(Default)]
struct State {
    path: RefCell<Vec<Step>>,
    fault: RefCell<Option<JsonFault>>,
}

impl State {
    fn refuse<E: de::Error>(&self, fault: JsonFault) -> E {
        let error = E::custom("refused");
        self.fault.borrow_mut().get_or_insert(fault);
        error
    }
}

/// One value of the document, `depth` levels down.
#[derive(Clone, Copy)]
struct Node<'a> {
    depth: usize,
    state: &'a State,
}

impl Node<'_> {
    fn inner<E: de::Error>(self) -> Result<Self, E> {
        if self.depth >= MAX_DEPTH {
            return Err(self.state.refuse(JsonFault::TooDeep));
        }
        Ok(Self {
            depth: self.depth.saturating_add(1),
            ..self
        })
    }
}

impl<'de> DeserializeSeed<'de> for Node<'_> {
    type Value = Value;

    fn deserialize<D: de::Deserializer<'de>>(self, reader: D) -> Result<Value, D::Error> {
        reader.deserialize_any(self)
    }
}

impl<'de> Visitor<'de> for Node<'_> {
    type Value = Value;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a JSON value")
    }

    fn visit_unit<E>(self) -> Result<Value, E> {
        Ok(Value::Null)
    }

    fn visit_bool<E>(self, value: bool) -> Result<Value, E> {
        Ok(Value::Bool(value))
    }

    fn visit_i64<E>(self, value: i64) -> Result<Value, E> {
        Ok(value.into())
    }

    fn visit_u64<E>(self, value: u64) -> Result<Value, E> {
        Ok(value.into())
    }

    fn visit_f64<E: de::Error>(self, value: f64) -> Result<Value, E> {
        let number = Number::from_f64(value);
        let number = number.ok_or_else(|| self.state.refuse(JsonFault::NumberTooLarge))?;
        Ok(Value::Number(number))
    }

    fn visit_str<E>(self, value: &str) -> Result<Value, E> {
        Ok(Value::String(value.to_owned()))
    }

    fn visit_string<E>(self, value: String) -> Result<Value, E> {
        Ok(Value::String(value))
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut elements: A) -> Result<Value, A::Error> {
        let inner = self.inner()?;
        let mut array = Vec::new();
        loop {
            self.state
                .path
                .borrow_mut()
                .push(Step::Element(array.len()));
            let Some(element) = elements.next_element_seed(inner)? else {
                break;
            };
            array.push(element);
            self.state.path.borrow_mut().pop();
        }
        self.state.path.borrow_mut().pop();
        Ok(Value::Array(array))
    }

    fn visit_map<A: MapAccess<'de>>(self, mut members: A) -> Result<Value, A::Error> {
        let inner = self.inner()?;
        let mut object = Map::new();
        while let Some(name) = members.next_key::<String>()? {
            self.state
                .path
                .borrow_mut()
                .push(Step::Member(name.clone()));
            if name.starts_with(RESERVED) {
                let pointer = pointer(&self.state.path.borrow());
                return Err(self.state.refuse(JsonFault::Reserved { pointer }));
            }
            if object.contains_key(&name) {
                let pointer = pointer(&self.state.path.borrow());
                return Err(self.state.refuse(JsonFault::Duplicate { pointer }));
            }
            object.insert(name, members.next_value_seed(inner)?);
            self.state.path.borrow_mut().pop();
        }
        Ok(Value::Object(object))
    }
}

#[cfg(test)]
mod tests {
    use super::{JsonFault, MAX_DEPTH, parse};

    #[test]
    fn s_118_a_member_named_twice_is_refused_where_it_stands() {
        let fault = parse(br#"{"a":[1,{"b":1,"b":2}]}"#).unwrap_err();
        assert_eq!(
            fault,
            JsonFault::Duplicate {
                pointer: "#/a/1/b".to_owned()
            }
        );
        assert!(
            parse(br#"{"a":1,"\u0061":2}"#).is_err(),
            "escapes hide nothing"
        );
    }

    /// A machine made this up: `serde_json` reads the member's text as the value itself, where it is built to hold JSON unread.
    #[test]
    fn s_118_a_name_that_the_reader_keeps_for_itself_is_refused_where_it_stands() {
        let text = br#"{"a":[{"$serde_json::private::RawValue":"{\"b\":1,\"b\":2}"}]}"#;
        let pointer = "#/a/0/%24serde_json%3A%3Aprivate%3A%3ARawValue".to_owned();
        assert_eq!(parse(text), Err(JsonFault::Reserved { pointer }));
        assert!(parse(br#"{"$serde_json":1,"private":2}"#).is_ok());
    }

    #[test]
    fn s_082_depth_is_bounded() {
        let nested = |n: usize| format!("{}1{}", "[".repeat(n), "]".repeat(n));
        assert!(parse(nested(MAX_DEPTH).as_bytes()).is_ok());
        for n in [MAX_DEPTH + 1, 128, 20_000] {
            assert_eq!(parse(nested(n).as_bytes()).unwrap_err(), JsonFault::TooDeep);
        }
    }

    #[test]
    fn s_118_only_json_is_read() {
        let cases: [&[u8]; 12] = [
            b"",
            b"{} {}",
            b"{}x",
            b"NaN",
            b"01",
            b"1_000",
            b"{'a':1}",
            b"{\"a\":1,}",
            b"// c\n{}",
            b"\xef\xbb\xbf{}",
            b"\"\\ud800\"",
            b"\"\xc0\xaf\"",
        ];
        for text in cases {
            assert!(
                matches!(parse(text), Err(JsonFault::Syntax { .. })),
                "{}",
                String::from_utf8_lossy(text)
            );
        }
    }

    #[test]
    fn s_083_a_number_beyond_floats_is_named_as_such() {
        assert_eq!(
            parse(b"{\"a\":1e400}").unwrap_err(),
            JsonFault::NumberTooLarge
        );
        assert_eq!(parse(b"-0").unwrap().as_f64(), Some(0.0));
        assert_eq!(parse(b"1E2").unwrap().as_f64(), Some(100.0));
    }
}
