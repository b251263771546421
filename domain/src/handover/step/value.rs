//! The values of one entity.

use super::{
    super::{Place, Refusal, RefusalKind},
    decode,
};

/// How deep lists and typed values may lie in one another.
const MAX_DEPTH: usize = 16;
/// The most values of one entity.
const MAX_VALUES: usize = 200_000;

/// A value.
#[derive(Debug, Clone, PartialEq)]
pub(in super::super) enum Value<'f> {
    /// `$` or `*`: not given here.
    Absent,
    /// A number.
    Number(f64),
    /// A string, as written between its quotes.
    Text(&'f [u8]),
    /// A word between points.
    Word(&'f [u8]),
    /// Another entity, by its number.
    Ref(u64),
    /// A list.
    List(Vec<Value<'f>>),
    /// A value with the name of its type.
    Typed(&'f [u8], Box<Value<'f>>),
}

/// An entity.
#[derive(Debug, Clone, PartialEq)]
pub(in super::super) struct Entity<'f> {
    /// Its number.
    pub(in super::super) id: u64,
    /// Its type.
    pub(in super::super) kind: &'f [u8],
    /// Its values, in the order of the schema.
    pub(in super::super) values: Vec<Value<'f>>,
}

impl Value<'_> {
    /// The number, whether it stands by itself or with a type.
    pub(in super::super) fn number(&self) -> Option<f64> {
        match self {
            Self::Number(value) => Some(*value),
            Self::Typed(_, inner) => inner.number(),
            _ => None,
        }
    }

    /// The text, whether it stands by itself or with a type.
    pub(in super::super) fn text(&self) -> Option<String> {
        match self {
            Self::Text(raw) => Some(decode(raw)),
            Self::Typed(_, inner) => inner.text(),
            _ => None,
        }
    }
}

impl<'f> Entity<'f> {
    /// Whether it is of this type.
    pub(in super::super) fn is(&self, kind: &str) -> bool {
        self.kind.eq_ignore_ascii_case(kind.as_bytes())
    }

    /// A value by its index.
    pub(in super::super) fn value(&self, index: usize) -> &Value<'f> {
        self.values.get(index).unwrap_or(&Value::Absent)
    }

    /// A text by its index.
    pub(in super::super) fn text(&self, index: usize) -> Option<String> {
        self.value(index).text()
    }

    /// A number by its index.
    pub(in super::super) fn number(&self, index: usize) -> Option<f64> {
        self.value(index).number()
    }

    /// Another entity by its index.
    pub(in super::super) fn reference(&self, index: usize) -> Option<u64> {
        match self.value(index) {
            Value::Ref(id) => Some(*id),
            _ => None,
        }
    }

    /// Other entities: those of a list, or the one that stands in its place.
    pub(in super::super) fn references(&self, index: usize) -> Vec<u64> {
        let one = |value: &Value<'_>| match value {
            Value::Ref(id) => Some(*id),
            _ => None,
        };
        match self.value(index) {
            Value::List(values) => values.iter().filter_map(one).collect(),
            value => one(value).into_iter().collect(),
        }
    }

    /// A word by its index.
    pub(in super::super) fn word(&self, index: usize) -> &'f [u8] {
        match self.value(index) {
            Value::Word(word) => word,
            _ => b"",
        }
    }

    /// A list by its index.
    pub(in super::super) fn list(&self, index: usize) -> &[Value<'f>] {
        match self.value(index) {
            Value::List(values) => values,
            _ => &[],
        }
    }
}

/// Reads the entity whose type `bytes` begin with, and tells how many bytes it took.
pub(super) fn read(id: u64, bytes: &[u8]) -> Result<(Entity<'_>, usize), Refusal> {
    let mut reader = Reader {
        id,
        bytes,
        at: 0,
        n_values: 0,
    };
    let kind = reader.name();
    reader.blanks();
    let values = if reader.eat(b'(') {
        reader.list(0)?
    } else {
        Vec::new()
    };
    Ok((Entity { id, kind, values }, reader.at))
}

struct Reader<'f> {
    id: u64,
    bytes: &'f [u8],
    at: usize,
    n_values: usize,
}

impl<'f> Reader<'f> {
    /// The values up to the closing bracket, the opening one being taken.
    fn list(&mut self, depth: usize) -> Result<Vec<Value<'f>>, Refusal> {
        let mut values = Vec::new();
        loop {
            self.blanks();
            if self.eat(b')') {
                return Ok(values);
            }
            if self.eat(b',') {
                continue;
            }
            values.push(self.value(depth)?);
        }
    }

    fn value(&mut self, depth: usize) -> Result<Value<'f>, Refusal> {
        self.n_values = self.n_values.saturating_add(1);
        if depth > MAX_DEPTH || self.n_values > MAX_VALUES {
            return Err(self.refuse(
                RefusalKind::TooLarge,
                "The entity has too many values, or too deep ones.",
            ));
        }
        let deeper = depth.saturating_add(1);
        match self.peek() {
            Some(b'$' | b'*') => {
                self.skip(1);
                Ok(Value::Absent)
            }
            Some(b'(') => {
                self.skip(1);
                self.list(deeper).map(Value::List)
            }
            Some(b'\'') => self.string(),
            Some(b'"') => {
                self.skip(1);
                self.until(b'"')?;
                self.skip(1);
                Ok(Value::Absent)
            }
            Some(b'.') => {
                self.skip(1);
                let word = self.until(b'.')?;
                self.skip(1);
                Ok(Value::Word(word))
            }
            Some(b'#') => {
                self.skip(1);
                let text = self.run(|byte| byte.is_ascii_digit());
                self.parsed(text).map(Value::Ref)
            }
            Some(byte) if byte.is_ascii_digit() || matches!(byte, b'-' | b'+') => {
                let text = self.run(|byte| {
                    byte.is_ascii_digit() || matches!(byte, b'-' | b'+' | b'.' | b'e' | b'E')
                });
                let value: f64 = self.parsed(text)?;
                Ok(if value.is_finite() {
                    Value::Number(value)
                } else {
                    Value::Absent
                })
            }
            Some(byte) if byte.is_ascii_alphabetic() => {
                let name = self.name();
                self.blanks();
                if !self.eat(b'(') {
                    return Err(self.malformed());
                }
                let mut inner = self.list(deeper)?;
                let value = inner.pop().filter(|_| inner.is_empty());
                Ok(Value::Typed(name, Box::new(value.unwrap_or(Value::Absent))))
            }
            _ => Err(self.malformed()),
        }
    }

    fn string(&mut self) -> Result<Value<'f>, Refusal> {
        self.skip(1);
        let from = self.at;
        loop {
            self.until(b'\'')?;
            let end = self.at;
            self.skip(1);
            if self.peek() != Some(b'\'') {
                return Ok(Value::Text(self.bytes.get(from..end).unwrap_or_default()));
            }
            self.skip(1);
        }
    }

    /// What stands before the next `end`, which is not taken.
    fn until(&mut self, end: u8) -> Result<&'f [u8], Refusal> {
        let rest = self.bytes.get(self.at..).unwrap_or_default();
        let Some(found) = rest.iter().position(|byte| *byte == end) else {
            return Err(self.malformed());
        };
        self.skip(found);
        Ok(rest.get(..found).unwrap_or_default())
    }

    fn run(&mut self, is_in: impl Fn(u8) -> bool) -> &'f [u8] {
        let rest = self.bytes.get(self.at..).unwrap_or_default();
        let size = rest.iter().take_while(|byte| is_in(**byte)).count();
        self.skip(size);
        rest.get(..size).unwrap_or_default()
    }

    fn name(&mut self) -> &'f [u8] {
        self.run(|byte| byte.is_ascii_alphanumeric() || byte == b'_' || byte == b'-')
    }

    fn blanks(&mut self) {
        loop {
            self.run(|byte| byte.is_ascii_whitespace());
            let rest = self.bytes.get(self.at..).unwrap_or_default();
            if !rest.starts_with(b"/*") {
                return;
            }
            let end = rest.windows(2).position(|pair| pair == b"*/");
            self.skip(end.map_or(rest.len(), |end| end.saturating_add(2)));
        }
    }

    fn parsed<T: std::str::FromStr>(&self, text: &[u8]) -> Result<T, Refusal> {
        let text = std::str::from_utf8(text)
            .ok()
            .filter(|text| text.len() <= 40);
        text.and_then(|text| text.parse().ok())
            .ok_or_else(|| self.malformed())
    }

    fn peek(&self) -> Option<u8> {
        self.bytes.get(self.at).copied()
    }

    fn eat(&mut self, byte: u8) -> bool {
        let is = self.peek() == Some(byte);
        self.skip(usize::from(is));
        is
    }

    const fn skip(&mut self, size: usize) {
        self.at = self.at.saturating_add(size);
    }

    fn malformed(&self) -> Refusal {
        self.refuse(
            RefusalKind::Malformed,
            "The entity's values cannot be read.",
        )
    }

    fn refuse(&self, kind: RefusalKind, detail: &str) -> Refusal {
        Refusal::new(kind, detail, Place::Entity(self.id))
    }
}
