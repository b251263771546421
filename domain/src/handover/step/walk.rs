//! From entity to entity, without reading what is in them.

use super::super::{Place, Refusal, RefusalKind};

/// The most bytes of one entity.
const MAX_ENTITY: usize = 16 * 1024 * 1024;

/// An entity that was come by.
pub(super) struct Passed<'f> {
    /// Its number.
    pub(super) id: u64,
    /// Its type, as written.
    pub(super) kind: &'f [u8],
    /// Where its type begins.
    pub(super) at: u32,
}

/// A walk through a file.
pub(super) struct Walk<'f> {
    bytes: &'f [u8],
    at: usize,
}

impl<'f> Walk<'f> {
    pub(super) const fn new(bytes: &'f [u8]) -> Self {
        Self { bytes, at: 0 }
    }

    /// Goes behind `DATA;` and tells the schema of the header.
    pub(super) fn header(&mut self) -> Result<String, Refusal> {
        let mut schema = String::new();
        self.blanks()?;
        if !self.rest().starts_with(b"ISO-10303-21;") {
            let detail = "The file does not begin with ISO-10303-21.";
            return Err(Refusal::new(
                RefusalKind::NotTheFormat,
                detail,
                Place::Line(1),
            ));
        }
        loop {
            self.blanks()?;
            let from = self.at;
            if self.at >= self.bytes.len() {
                return Err(self.cut());
            }
            self.statement()?;
            let said = self.bytes.get(from..self.at).unwrap_or_default();
            if said.starts_with(b"FILE_SCHEMA") {
                schema = quoted(said);
            }
            // Before the data there are a dozen statements at most; whatever goes on longer is something else.
            if said == b"DATA;" || said.starts_with(b"DATA(") {
                return Ok(schema);
            }
        }
    }

    /// The next entity; `None` at the end of the data.
    pub(super) fn entity(&mut self) -> Result<Option<Passed<'f>>, Refusal> {
        loop {
            self.blanks()?;
            match self.rest() {
                [] => return Err(self.cut()),
                [b'#', ..] => return self.passed().map(Some),
                rest if rest.starts_with(b"ENDSEC;") => {
                    self.at = self.at.saturating_add(7);
                    self.blanks()?;
                    let rest = self.rest();
                    if rest.starts_with(b"END-ISO-10303-21;") {
                        return Ok(None);
                    }
                    // A file may have several sections of data.
                    if !rest.starts_with(b"DATA") {
                        return Err(self.cut());
                    }
                    self.statement()?;
                }
                _ => return Err(self.broken("Here should be an entity.")),
            }
        }
    }

    fn passed(&mut self) -> Result<Passed<'f>, Refusal> {
        self.at = self.at.saturating_add(1);
        let id = self.digits()?;
        self.blanks()?;
        if self.rest().first() != Some(&b'=') {
            return Err(self.broken("Behind an entity's number should be `=`."));
        }
        self.at = self.at.saturating_add(1);
        self.blanks()?;
        let from = self.at;
        let at = u32::try_from(from).map_err(|_too_far| self.broken("The file is too large."))?;
        let is_name = |byte: &u8| byte.is_ascii_alphanumeric() || *byte == b'_' || *byte == b'-';
        let kind = self.rest();
        let n_kind = kind.iter().take_while(|byte| is_name(byte)).count();
        let kind = kind.get(..n_kind).unwrap_or_default();
        self.statement()?;
        Ok(Passed { id, kind, at })
    }

    fn digits(&mut self) -> Result<u64, Refusal> {
        let rest = self.rest();
        let n_digits = rest
            .iter()
            .take(19)
            .take_while(|byte| byte.is_ascii_digit())
            .count();
        let text = std::str::from_utf8(rest.get(..n_digits).unwrap_or_default()).unwrap_or("");
        let id = text
            .parse()
            .map_err(|_no_number| self.broken("An entity's number is not one."))?;
        self.at = self.at.saturating_add(n_digits);
        Ok(id)
    }

    /// Goes behind the next `;` that stands in no string and no comment.
    fn statement(&mut self) -> Result<(), Refusal> {
        let from = self.at;
        let limit = from.saturating_add(MAX_ENTITY);
        let mut at = from;
        loop {
            if at > limit {
                return Err(self.too_large());
            }
            match self.bytes.get(at) {
                None => return Err(self.cut()),
                Some(b';') => {
                    self.at = at.saturating_add(1);
                    return Ok(());
                }
                Some(b'\'') => at = self.behind(at.saturating_add(1), b"'")?,
                Some(b'"') => at = self.behind(at.saturating_add(1), b"\"")?,
                Some(b'/') if self.bytes.get(at.saturating_add(1)) == Some(&b'*') => {
                    at = self.behind(at.saturating_add(2), b"*/")?;
                }
                Some(_) => at = at.saturating_add(1),
            }
        }
    }

    /// Goes behind blanks and comments.
    fn blanks(&mut self) -> Result<(), Refusal> {
        loop {
            match self.rest() {
                [b' ' | b'\t' | b'\r' | b'\n', ..] => self.at = self.at.saturating_add(1),
                [b'/', b'*', ..] => self.at = self.behind(self.at.saturating_add(2), b"*/")?,
                _ => return Ok(()),
            }
        }
    }

    /// Where it goes on behind the next `end`. A doubled quote within a string begins the next string at once.
    fn behind(&self, from: usize, end: &[u8]) -> Result<usize, Refusal> {
        let tail = self.bytes.get(from..).unwrap_or_default();
        let found = match end {
            [one] => tail.iter().position(|byte| byte == one),
            _ => tail.windows(end.len()).position(|window| window == end),
        };
        match found {
            Some(found) => Ok(from.saturating_add(found).saturating_add(end.len())),
            None => Err(self.cut()),
        }
    }

    fn rest(&self) -> &'f [u8] {
        self.bytes.get(self.at..).unwrap_or_default()
    }

    fn line(&self) -> Place {
        let before = self.bytes.get(..self.at).unwrap_or_default();
        let lines = before.split(|byte| *byte == b'\n').count();
        Place::Line(u64::try_from(lines).unwrap_or(u64::MAX))
    }

    fn cut(&self) -> Refusal {
        Refusal::new(
            RefusalKind::Malformed,
            "The file ends within what begins here.",
            self.line(),
        )
    }

    fn broken(&self, detail: &str) -> Refusal {
        Refusal::new(RefusalKind::Malformed, detail, self.line())
    }

    fn too_large(&self) -> Refusal {
        Refusal::new(
            RefusalKind::TooLarge,
            "An entity is larger than 16 MiB.",
            self.line(),
        )
    }
}

/// What stands between the first quotes.
fn quoted(bytes: &[u8]) -> String {
    let mut parts = bytes.split(|byte| *byte == b'\'');
    let inner = parts.nth(1).unwrap_or_default();
    String::from_utf8_lossy(inner.get(..40).unwrap_or(inner)).to_uppercase()
}
