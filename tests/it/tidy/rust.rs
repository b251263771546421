//! Just enough of the Rust grammar to tell code from comments and strings, so that a rule about imports is not tripped by
//! a sentence about them.

/// A source file taken apart. Lines of `code` are the lines of the file.
pub(super) struct Taken {
    /// The file without comments, strings and character literals.
    pub(super) code: String,
    /// The contents of the string literals, as written.
    pub(super) strings: Vec<String>,
}

impl Taken {
    /// The names and key words of the code, with the number of their line.
    pub(super) fn words(&self) -> impl Iterator<Item = (usize, &str)> {
        self.code.lines().zip(1..).flat_map(|(line, number)| {
            line.split(|c: char| !c.is_alphanumeric() && c != '_')
                .filter(|word| !word.is_empty())
                .map(move |word| (number, word))
        })
    }
}

/// Takes a source file apart.
pub(super) fn take_apart(source: &str) -> Taken {
    let mut taken = Taken {
        code: String::with_capacity(source.len()),
        strings: Vec::new(),
    };
    let mut rest = source;
    while let Some(first) = rest.chars().next() {
        let after_word = taken
            .code
            .ends_with(|c: char| c.is_alphanumeric() || c == '_');
        let (length, literal) = if let Some(length) = comment(rest) {
            (length, None)
        } else if let Some((length, content)) = string(rest, after_word) {
            (length, Some(content))
        } else if let Some(length) = character(rest) {
            (length, None)
        } else {
            taken.code.push(first);
            rest = rest.get(first.len_utf8()..).unwrap_or_default();
            continue;
        };
        let (skipped, remaining) = rest.split_at_checked(length).unwrap_or((rest, ""));
        taken.code.push(' ');
        taken.code.extend(skipped.matches('\n'));
        taken.strings.extend(literal.map(str::to_owned));
        rest = remaining;
    }
    taken
}

/// Length of the comment that the text starts with.
fn comment(text: &str) -> Option<usize> {
    if text.starts_with("//") {
        return Some(text.find('\n').unwrap_or(text.len()));
    }
    let mut rest = text.strip_prefix("/*")?;
    let mut depth = 1_u32;
    while depth > 0 && !rest.is_empty() {
        if let Some(inner) = rest.strip_prefix("/*") {
            depth += 1;
            rest = inner;
        } else if let Some(outer) = rest.strip_prefix("*/") {
            depth -= 1;
            rest = outer;
        } else {
            let mut characters = rest.chars();
            characters.next();
            rest = characters.as_str();
        }
    }
    Some(text.len() - rest.len())
}

/// Length and content of the string literal that the text starts with.
fn string(text: &str, after_word: bool) -> Option<(usize, &str)> {
    // `r`, `b` and `c` open a literal only where they are not the end of a name.
    let marks = if after_word { "" } else { "rbc" };
    let bare = text.trim_start_matches(|c| marks.contains(c));
    let prefix = text.len() - bare.len();
    if prefix > 2 {
        return None;
    }
    let raw = text.get(..prefix).is_some_and(|marks| marks.contains('r'));
    let opened = bare.trim_start_matches(|c| raw && c == '#');
    let closing = format!("\"{}", "#".repeat(bare.len() - opened.len()));
    let body = opened.strip_prefix('"')?;
    let end = if raw {
        body.find(&closing)?
    } else {
        closing_quote(body)?
    };
    let length = text.len() - body.len() + end + closing.len();
    Some((length, body.get(..end)?))
}

fn closing_quote(body: &str) -> Option<usize> {
    let mut escaped = false;
    for (at, c) in body.char_indices() {
        match c {
            _ if escaped => escaped = false,
            '\\' => escaped = true,
            '"' => return Some(at),
            _ => {}
        }
    }
    None
}

/// Length of the character literal that the text starts with; a lifetime is none.
fn character(text: &str) -> Option<usize> {
    let body = text.strip_prefix('\'')?;
    let end = if let Some(escape) = body.strip_prefix('\\') {
        let mut characters = escape.chars();
        characters.next();
        2 + characters.as_str().find('\'')?
    } else {
        let first = body.chars().next()?.len_utf8();
        body.get(first..)?.starts_with('\'').then_some(first)?
    };
    Some(1 + end + 1)
}

#[test]
fn comments_strings_and_characters_are_not_code() {
    let source = r##"
//! actix_web here
use a::b; /* outer /* inner */ still */ let x = 'c';
fn f<'a>(s: &'a str) -> char { g("sea_orm \" //", b"bytes", r#"raw " \"#, '\'', '\u{41}') }
let r#type = brother("x");
"##;
    let taken = take_apart(source);
    assert_eq!(
        taken.strings,
        ["sea_orm \\\" //", "bytes", "raw \" \\", "x"]
    );
    let words: Vec<&str> = taken.words().map(|(_, word)| word).collect();
    assert_eq!(
        words.join(" "),
        "use a b let x fn f a s a str char g let r type brother"
    );
    let places: Vec<usize> = taken
        .words()
        .filter(|(_, word)| *word == "brother")
        .map(|(line, _)| line)
        .collect();
    assert_eq!(places, [5]);
}
