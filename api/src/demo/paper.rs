//! Plain text for people: wrapped lines, labelled lines and tables, 100 columns wide and without colours.

mod table;

pub(super) use table::{Column, Table};

use std::io::{self, Write};

/// The width of the paper in characters.
const WIDTH: usize = 100;
/// How far what belongs to a heading stands in.
const MARGIN: usize = 2;

/// What the demonstration writes on.
pub(super) struct Paper<W> {
    out: W,
}

impl<W: Write> Paper<W> {
    pub(super) const fn new(out: W) -> Self {
        Self { out }
    }

    /// An empty line.
    pub(super) fn gap(&mut self) -> io::Result<()> {
        writeln!(self.out)
    }

    /// A line as it is, however long: what somebody may want to copy.
    pub(super) fn verbatim(&mut self, line: &str) -> io::Result<()> {
        writeln!(self.out, "{line}")
    }

    /// A heading that begins a part.
    pub(super) fn part(&mut self, title: &str) -> io::Result<()> {
        writeln!(self.out, "\n{title}\n{}", "=".repeat(title.chars().count()))
    }

    /// A heading within a part.
    pub(super) fn head(&mut self, title: &str) -> io::Result<()> {
        writeln!(self.out, "\n  {title}")
    }

    /// A paragraph.
    pub(super) fn text(&mut self, text: &str) -> io::Result<()> {
        self.hang(MARGIN, "", text)
    }

    /// A text behind a label; further lines stand below its beginning.
    pub(super) fn item(&mut self, label: &str, text: &str) -> io::Result<()> {
        self.hang(MARGIN.saturating_mul(2), &format!("{label:<10} "), text)
    }

    /// A text behind a mark, such as a number; further lines stand below its beginning.
    pub(super) fn point(&mut self, mark: &str, text: &str) -> io::Result<()> {
        self.hang(MARGIN.saturating_mul(2), &format!("{mark} "), text)
    }

    /// A text of a point: one label further in than the point's own text.
    pub(super) fn detail(&mut self, label: &str, text: &str) -> io::Result<()> {
        self.hang(MARGIN.saturating_mul(4), &format!("{label:<8} "), text)
    }

    /// A request: its first line, then its body.
    pub(super) fn request(&mut self, line: &str, body: &str) -> io::Result<()> {
        self.hang(MARGIN, "> ", line)?;
        if body.is_empty() {
            return Ok(());
        }
        self.hang(MARGIN, "> ", body)
    }

    /// The first line of an answer.
    pub(super) fn answer(&mut self, line: &str) -> io::Result<()> {
        self.hang(MARGIN, "< ", line)
    }

    /// A table.
    pub(super) fn table(&mut self, table: &Table) -> io::Result<()> {
        let indent = MARGIN.saturating_mul(2);
        for line in table.lines(WIDTH.saturating_sub(indent)) {
            writeln!(self.out, "{}{line}", " ".repeat(indent))?;
        }
        Ok(())
    }

    fn hang(&mut self, indent: usize, label: &str, text: &str) -> io::Result<()> {
        let hanging = indent.saturating_add(label.chars().count());
        let mut before = format!("{}{label}", " ".repeat(indent));
        for line in wrap(text, WIDTH.saturating_sub(hanging)) {
            writeln!(self.out, "{}", format!("{before}{line}").trim_end())?;
            before = " ".repeat(hanging);
        }
        Ok(())
    }
}

/// Breaks a text at blanks into lines of at most `width` characters; a longer word has a line of its own. There is
/// always a line, if only an empty one.
fn wrap(text: &str, width: usize) -> Vec<String> {
    let mut lines = Vec::new();
    let mut line = String::new();
    let mut length: usize = 0;
    for word in text.split_whitespace() {
        let word_length = word.chars().count();
        if length > 0 && length.saturating_add(1).saturating_add(word_length) > width {
            lines.push(std::mem::take(&mut line));
            length = 0;
        }
        if length > 0 {
            line.push(' ');
            length = length.saturating_add(1);
        }
        line.push_str(word);
        length = length.saturating_add(word_length);
    }
    lines.push(line);
    lines
}

#[cfg(test)]
mod tests {
    use super::{Paper, wrap};

    fn written(write: impl FnOnce(&mut Paper<&mut Vec<u8>>) -> std::io::Result<()>) -> String {
        let mut out = Vec::new();
        write(&mut Paper::new(&mut out)).expect("a vector takes everything");
        String::from_utf8(out).expect("text")
    }

    #[test]
    fn lines_break_at_blanks_and_count_characters() {
        assert_eq!(wrap("", 5), [""]);
        assert_eq!(wrap("one two  three", 7), ["one two", "three"]);
        assert_eq!(wrap("m² m² m²", 5), ["m² m²", "m²"]);
        assert_eq!(wrap("a extraordinary b", 5), ["a", "extraordinary", "b"]);
    }

    #[test]
    fn further_lines_stand_below_the_first_word() {
        let text = "word ".repeat(30);
        let written = written(|paper| paper.item("reason", &text));
        let lines: Vec<_> = written.lines().collect();
        assert_eq!(lines.len(), 2);
        assert!(lines[0].starts_with("    reason     word "));
        assert!(lines[1].starts_with(&format!("{}word", " ".repeat(15))));
        assert!(lines.iter().all(|line| line.chars().count() <= 100));
    }

    #[test]
    fn a_request_shows_its_body_below_it() {
        let written = written(|paper| paper.request("POST /v1/plans", "{\"a\": 1}"));
        assert_eq!(written, "  > POST /v1/plans\n  > {\"a\": 1}\n");
    }

    #[test]
    fn headings_are_set_off() {
        let written = written(|paper| {
            paper.part("One")?;
            paper.head("Two")
        });
        assert_eq!(written, "\nOne\n===\n\n  Two\n");
    }
}
