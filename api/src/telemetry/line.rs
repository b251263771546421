//! A line of the log: one JSON object.
//!
//! The library's own JSON keeps what a span says as text and reads it back, as JSON, for each field that is added and for
//! each line. Here the text of a span is added to and written as it stands.

use std::fmt::{self, Write as _};

use tracing::{
    Event, Subscriber,
    field::{Field, Visit},
    span::Record,
};
use tracing_subscriber::{
    field::RecordFields,
    fmt::{
        FmtContext, FormatEvent, FormatFields, FormattedFields,
        format::Writer,
        time::{FormatTime, SystemTime},
    },
    registry::LookupSpan,
};

/// The longest text of one member, in bytes: what callers send may be longer, and a log is read by programs too.
const MAX_TEXT: usize = 1_024;

/// Writes lines of JSON.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Line;

impl<S, N> FormatEvent<S, N> for Line
where
    S: Subscriber + for<'a> LookupSpan<'a>,
    N: for<'a> FormatFields<'a> + 'static,
{
    fn format_event(
        &self,
        ctx: &FmtContext<'_, S, N>,
        mut to: Writer<'_>,
        event: &Event<'_>,
    ) -> fmt::Result {
        to.write_str("{\"timestamp\":\"")?;
        SystemTime.format_time(&mut to)?;
        let about = event.metadata();
        write!(to, "\",\"level\":\"{}\",", about.level())?;
        Members.format_fields(to.by_ref(), event)?;
        to.write_str(",\"target\":")?;
        quoted(&mut to, about.target())?;
        let parent = event.parent().and_then(|id| ctx.span(id));
        if let Some(span) = parent.or_else(|| ctx.lookup_current()) {
            to.write_str(",\"span\":{\"name\":")?;
            quoted(&mut to, span.name())?;
            if let Some(told) = span.extensions().get::<FormattedFields<N>>()
                && !told.is_empty()
            {
                write!(to, ",{told}")?;
            }
            to.write_char('}')?;
        }
        to.write_str("}\n")
    }
}

/// Writes the fields of a span or of an event as members of a JSON object, without its braces.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Members;

impl<'a> FormatFields<'a> for Members {
    fn format_fields<R: RecordFields>(&self, to: Writer<'a>, fields: R) -> fmt::Result {
        let mut members = Writing {
            to,
            is_first: true,
            outcome: Ok(()),
        };
        fields.record(&mut members);
        members.outcome
    }

    fn add_fields(
        &self,
        current: &'a mut FormattedFields<Self>,
        fields: &Record<'_>,
    ) -> fmt::Result {
        let mut members = Writing {
            is_first: current.is_empty(),
            to: current.as_writer(),
            outcome: Ok(()),
        };
        fields.record(&mut members);
        members.outcome
    }
}

/// Members on their way to a text.
struct Writing<'a> {
    to: Writer<'a>,
    is_first: bool,
    outcome: fmt::Result,
}

impl Writing<'_> {
    fn member(&mut self, field: &Field, value: impl FnOnce(&mut Writer<'_>) -> fmt::Result) {
        let write = || {
            if !std::mem::take(&mut self.is_first) {
                self.to.write_char(',')?;
            }
            // A field that is named like a word of the language is told without its mark.
            let name = field.name();
            quoted(&mut self.to, name.strip_prefix("r#").unwrap_or(name))?;
            self.to.write_char(':')?;
            value(&mut self.to)
        };
        if self.outcome.is_ok() {
            self.outcome = write();
        }
    }
}

impl Visit for Writing<'_> {
    fn record_debug(&mut self, field: &Field, value: &dyn fmt::Debug) {
        self.member(field, |to| {
            to.write_char('"')?;
            write!(Escaping::new(to), "{value:?}")?;
            to.write_char('"')
        });
    }

    fn record_str(&mut self, field: &Field, value: &str) {
        self.member(field, |to| quoted(to, value));
    }

    fn record_bool(&mut self, field: &Field, value: bool) {
        self.member(field, |to| write!(to, "{value}"));
    }

    fn record_i64(&mut self, field: &Field, value: i64) {
        self.member(field, |to| write!(to, "{value}"));
    }

    fn record_u64(&mut self, field: &Field, value: u64) {
        self.member(field, |to| write!(to, "{value}"));
    }

    /// JSON knows no number that is none, and no infinite one.
    fn record_f64(&mut self, field: &Field, value: f64) {
        self.member(field, |to| {
            if value.is_finite() {
                write!(to, "{value}")
            } else {
                to.write_str("null")
            }
        });
    }
}

fn quoted(to: &mut Writer<'_>, text: &str) -> fmt::Result {
    to.write_char('"')?;
    Escaping::new(to).write_str(text)?;
    to.write_char('"')
}

/// Writes what stands inside the quotes of a JSON text (RFC 8259, section 7), up to [`MAX_TEXT`] bytes of it.
struct Escaping<'a, 'b> {
    to: &'a mut Writer<'b>,
    /// How many more bytes are told; none once the text was cut.
    left: Option<usize>,
}

impl<'a, 'b> Escaping<'a, 'b> {
    const fn new(to: &'a mut Writer<'b>) -> Self {
        Self {
            to,
            left: Some(MAX_TEXT),
        }
    }
}

impl fmt::Write for Escaping<'_, '_> {
    fn write_str(&mut self, text: &str) -> fmt::Result {
        let Some(left) = self.left else {
            return Ok(());
        };
        if text.len() <= left {
            self.left = Some(left.saturating_sub(text.len()));
            return self.escape(text);
        }
        self.left = None;
        let end = text.floor_char_boundary(left);
        self.escape(text.get(..end).unwrap_or_default())?;
        self.to.write_char('…')
    }
}

impl Escaping<'_, '_> {
    fn escape(&mut self, text: &str) -> fmt::Result {
        let is_plain = |c: char| c != '"' && c != '\\' && c >= ' ';
        let mut rest = text;
        while let Some((plain, special, behind)) = rest
            .find(|c| !is_plain(c))
            .and_then(|at| rest.split_at_checked(at))
            .and_then(|(plain, tail)| {
                let mut tail = tail.chars();
                tail.next().map(|special| (plain, special, tail.as_str()))
            })
        {
            self.to.write_str(plain)?;
            match special {
                '"' => self.to.write_str("\\\"")?,
                '\\' => self.to.write_str("\\\\")?,
                '\n' => self.to.write_str("\\n")?,
                control => write!(self.to, "\\u{:04x}", u32::from(control))?,
            }
            rest = behind;
        }
        self.to.write_str(rest)
    }
}

#[cfg(test)]
mod tests {
    use std::{
        io::{self, Write},
        sync::{Arc, Mutex},
    };

    use serde_json::{Value, json};
    use tracing::field;
    use tracing_subscriber::fmt::MakeWriter;

    use super::{Line, Members};

    #[derive(Clone, Default)]
    struct Kept(Arc<Mutex<Vec<u8>>>);

    impl Write for Kept {
        fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
            self.0.lock().unwrap().write(bytes)
        }

        fn flush(&mut self) -> io::Result<()> {
            Ok(())
        }
    }

    impl MakeWriter<'_> for Kept {
        type Writer = Self;

        fn make_writer(&self) -> Self {
            self.clone()
        }
    }

    /// The lines of what is done, read by a parser of JSON that is not ours.
    fn told(work: impl FnOnce()) -> Vec<Value> {
        let kept = Kept::default();
        let log = tracing_subscriber::fmt()
            .event_format(Line)
            .fmt_fields(Members)
            .with_writer(kept.clone())
            .finish();
        tracing::subscriber::with_default(log, work);
        let text = String::from_utf8(kept.0.lock().unwrap().clone()).unwrap();
        let read = |line| serde_json::from_str(line).unwrap();
        text.lines().map(read).collect()
    }

    #[test]
    fn a_line_is_one_object_and_says_what_its_span_learnt() {
        let lines = told(|| {
            let span = tracing::info_span!("call", id = %"a-1", tenant = field::Empty, client = field::Empty);
            span.record("tenant", "north");
            span.record("client", "desk");
            span.in_scope(|| {
                tracing::warn!(status = 503_u16, took_ms = 1.5, done = false, "failed");
            });
            tracing::info!("outside");
        });
        let [inside, outside] = lines.as_slice() else {
            panic!("two lines: {lines:?}");
        };
        assert_eq!(
            inside["span"],
            json!({"name": "call", "id": "a-1", "tenant": "north", "client": "desk"})
        );
        for (member, value) in [
            ("level", json!("WARN")),
            ("message", json!("failed")),
            ("status", json!(503)),
            ("took_ms", json!(1.5)),
            ("done", json!(false)),
            ("target", json!(module_path!())),
        ] {
            assert_eq!(inside[member], value, "{member}");
        }
        assert_eq!(outside.get("span"), None);
        let moment = outside["timestamp"].as_str().unwrap();
        assert!(moment.parse::<chrono::DateTime<chrono::Utc>>().is_ok());
    }

    #[test]
    fn s_123_a_text_is_cut_at_a_kilobyte_and_never_inside_a_character() {
        let long = "ä".repeat(50_000);
        let lines = told(|| tracing::info!(subject = long, reason = ?long, "{long}"));
        for member in ["subject", "reason", "message"] {
            let text = lines[0][member].as_str().unwrap();
            assert!(text.ends_with('…') && text.len() < 1_100, "{member}");
            assert!(text.starts_with(['ä', '"']));
        }
        let whole = "x".repeat(1_024);
        let lines = told(|| tracing::info!(subject = whole, "m"));
        assert_eq!(lines[0]["subject"], json!(whole));
    }

    #[test]
    fn no_text_ends_a_line_or_a_member() {
        let sent = "a\"b\\c\nd\re\u{1}\u{1b}[31m ä\u{2028}🧹\", \"level\":\"x";
        let lines =
            told(|| tracing::info!(subject = sent, reason = %sent, nothing = f64::NAN, "m"));
        assert_eq!(lines.len(), 1);
        assert_eq!(
            (&lines[0]["subject"], &lines[0]["reason"]),
            (&json!(sent), &json!(sent))
        );
        assert_eq!(
            (&lines[0]["level"], &lines[0]["nothing"]),
            (&json!("INFO"), &Value::Null)
        );
    }
}
