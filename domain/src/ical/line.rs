//! Lines of a calendar: unfolded, with their names, parameters and values.

use super::{Fault, Wrong};

/// A line, as long as it is once it is unfolded.
#[derive(Debug)]
pub(super) struct Line<'t> {
    /// The number of its first part in the text, from 1.
    pub(super) number: usize,
    /// Its name, in capitals.
    pub(super) name: String,
    /// Its parameters: names in capitals, values without quotes.
    pub(super) parameters: Vec<(String, String)>,
    /// Its value.
    pub(super) value: &'t str,
}

impl Line<'_> {
    /// A parameter.
    pub(super) fn parameter(&self, name: &str) -> Option<&str> {
        let mut own = self.parameters.iter();
        own.find(|(own, _)| own == name)
            .map(|(_, value)| value.as_str())
    }
}

/// The lines of a text. Those that are folded are put together (3.1); lines that end without a carriage return are read as well.
pub(super) fn lines<'t>(text: &'t str, faults: &mut Vec<Fault>) -> Vec<Line<'t>> {
    let mut found = Vec::new();
    for (number, whole) in unfolded(text) {
        match line(number, whole) {
            Some(line) => found.push(line),
            None => faults.push(Fault {
                line: number,
                wrong: Wrong::Malformed,
            }),
        }
    }
    found
}

/// Lines with their numbers. A folded line is kept as it stands in the text: its value is read without the folds.
fn unfolded(text: &str) -> Vec<(usize, &str)> {
    let mut found: Vec<(usize, &str)> = Vec::new();
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let mut begins: Option<(usize, usize)> = None;
    let mut at = 0_usize;
    for (number, part) in (1_usize..).zip(text.split_inclusive('\n')) {
        let is_more = part.starts_with([' ', '\t']);
        if !is_more {
            if let Some((first, from)) = begins.take() {
                found.extend(text.get(from..at).map(|whole| (first, whole)));
            }
            begins = Some((number, at));
        }
        at = at.saturating_add(part.len());
    }
    if let Some((first, from)) = begins {
        found.extend(text.get(from..at).map(|whole| (first, whole)));
    }
    found.retain(|(_, whole)| !whole.trim().is_empty());
    found
}

/// A line with its parts; values in quotes may hold colons and semicolons (3.2).
fn line(number: usize, whole: &str) -> Option<Line<'_>> {
    let mut is_quoted = false;
    let colon = whole.char_indices().find_map(|(at, c)| {
        is_quoted ^= c == '"';
        (c == ':' && !is_quoted).then_some(at)
    })?;
    let (head, value) = (whole.get(..colon)?, whole.get(colon.checked_add(1)?..)?);
    let head = without_folds(head);
    let mut parts = Vec::new();
    let (mut part, mut is_quoted) = (String::new(), false);
    for c in head.chars() {
        is_quoted ^= c == '"';
        if c == ';' && !is_quoted {
            parts.push(std::mem::take(&mut part));
        } else if c != '"' {
            part.push(c);
        }
    }
    parts.push(part);
    let mut parts = parts.into_iter();
    let name = parts.next()?.trim().to_ascii_uppercase();
    if name.is_empty() || !name.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'-') {
        return None;
    }
    let parameters = parts.map(|part| {
        let (name, value) = part.split_once('=')?;
        Some((name.to_ascii_uppercase(), value.to_owned()))
    });
    Some(Line {
        number,
        name,
        parameters: parameters.collect::<Option<_>>()?,
        value: value.trim_end_matches(['\r', '\n']),
    })
}

/// A text without the breaks of folded lines.
pub(super) fn without_folds(text: &str) -> String {
    let mut whole = String::new();
    for (at, part) in text.split('\n').enumerate() {
        let part = part.strip_suffix('\r').unwrap_or(part);
        let part = if at == 0 {
            part
        } else {
            part.strip_prefix([' ', '\t']).unwrap_or(part)
        };
        whole.push_str(part);
    }
    whole
}
