//! A receiver of events: a small HTTP server on a port of its own that keeps what it was sent and answers what it was told
//! to. It shares no code with the service; signatures are looked at with the reference library.

#![expect(
    clippy::expect_used,
    reason = "a message that does not arrive, or is not what was awaited, ends the test"
)]

use std::{
    collections::{BTreeMap, VecDeque},
    io::{BufRead, BufReader, Read, Write},
    net::{TcpListener, TcpStream},
    sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError},
    thread,
    time::Duration,
};

use chrono::DateTime;
use serde_json::Value;

use crate::inbound::sign;

/// How often a test looks for what must come, half a minute in all.
const MAX_LOOKS: usize = 1_500;
/// How long it waits between two looks.
const LOOK: Duration = Duration::from_millis(20);

/// What a receiver does with a message.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Reply {
    /// Answers: status, lines of headers, body.
    Answer(u16, String, String),
    /// Closes the connection.
    Reset,
    /// Answers 200 once somebody calls [`Receiver::release`].
    Hang,
    /// Answers 200 and then sends a body that has no end.
    Endless,
}

impl Reply {
    /// An answer without headers and body.
    #[must_use]
    pub const fn status(status: u16) -> Self {
        Self::Answer(status, String::new(), String::new())
    }

    /// An answer with one header.
    #[must_use]
    pub fn with(status: u16, name: &str, value: &str) -> Self {
        Self::Answer(status, format!("{name}: {value}\r\n"), String::new())
    }
}

/// A message as it came.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Message {
    /// The headers, their names in lower case.
    pub headers: BTreeMap<String, String>,
    /// The body.
    pub body: Vec<u8>,
}

impl Message {
    /// A header.
    ///
    /// # Panics
    /// If it is not there.
    #[must_use]
    #[track_caller]
    pub fn header(&self, name: &str) -> &str {
        self.headers.get(name).expect("the header")
    }

    /// The event in the body.
    ///
    /// # Panics
    /// If it is none.
    #[must_use]
    #[track_caller]
    pub fn event(&self) -> Value {
        serde_json::from_slice(&self.body).expect("JSON")
    }

    /// Whether it carries the signature of a secret, made by the reference library, among those that it has.
    ///
    /// # Panics
    /// If its moment is none.
    #[must_use]
    #[track_caller]
    pub fn is_signed_with(&self, secret: &str) -> bool {
        let seconds = self.header("webhook-timestamp").parse().expect("seconds");
        let at = DateTime::from_timestamp(seconds, 0).expect("a moment");
        let expected = sign(secret, self.header("webhook-id"), at, &self.body);
        let mut signatures = self.header("webhook-signature").split(' ');
        signatures.any(|signature| signature == expected)
    }
}

#[derive(Debug, Default)]
struct State {
    messages: Vec<Message>,
    replies: VecDeque<Reply>,
    /// What is answered when nothing else was said.
    usual: Option<Reply>,
    is_released: bool,
    n_open: usize,
    most_open: usize,
}

#[derive(Debug, Default)]
struct Shared {
    state: Mutex<State>,
    changed: Condvar,
}

impl Shared {
    fn state(&self) -> MutexGuard<'_, State> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// A receiver that answers 200 until it is told otherwise.
#[derive(Debug)]
pub struct Receiver {
    /// Its address.
    pub url: String,
    shared: Arc<Shared>,
}

impl Receiver {
    /// Starts one on a free port; it ends with the process.
    ///
    /// # Panics
    /// If there is no port.
    #[must_use]
    pub fn start() -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").expect("a port");
        let url = format!("http://{}/hook", listener.local_addr().expect("an address"));
        let shared = Arc::new(Shared::default());
        let served = Arc::clone(&shared);
        thread::spawn(move || {
            for stream in listener.incoming().flatten() {
                let shared = Arc::clone(&served);
                thread::spawn(move || serve(stream, &shared));
            }
        });
        Self { url, shared }
    }

    /// Answers the next messages so, one after the other.
    pub fn next(&self, replies: impl IntoIterator<Item = Reply>) {
        self.shared.state().replies.extend(replies);
    }

    /// Answers so from now on when nothing else was said.
    pub fn always(&self, reply: Reply) {
        self.shared.state().usual = Some(reply);
    }

    /// Lets those go that hang.
    pub fn release(&self) {
        self.shared.state().is_released = true;
        self.shared.changed.notify_all();
    }

    /// All messages so far.
    #[must_use]
    pub fn messages(&self) -> Vec<Message> {
        self.shared.state().messages.clone()
    }

    /// The most messages that were worked on at a time.
    #[must_use]
    pub fn most_open(&self) -> usize {
        self.shared.state().most_open
    }

    /// All messages once there are `n` of them.
    ///
    /// # Panics
    /// If they do not come.
    pub async fn wait_for(&self, n: usize) -> Vec<Message> {
        let mut messages = self.messages();
        for _ in 0..MAX_LOOKS {
            if messages.len() >= n {
                return messages;
            }
            // The runtime of the test may be that of the service's connections: it must not stand still.
            let _pause = tokio::time::timeout(LOOK, std::future::pending::<()>()).await;
            messages = self.messages();
        }
        let n_there = messages.len();
        assert!(n_there >= n, "{n_there} messages and not {n}");
        messages
    }
}

fn serve(mut stream: TcpStream, shared: &Shared) {
    let Some(message) = read(&stream) else { return };
    let reply = {
        let mut state = shared.state();
        state.messages.push(message);
        state.n_open += 1;
        state.most_open = state.most_open.max(state.n_open);
        let usual = state.usual.clone().unwrap_or(Reply::status(200));
        state.replies.pop_front().unwrap_or(usual)
    };
    shared.changed.notify_all();
    match reply {
        Reply::Answer(status, headers, body) => answer(&mut stream, status, &headers, &body),
        Reply::Reset => {}
        Reply::Hang => {
            let waited = shared
                .changed
                .wait_while(shared.state(), |state| !state.is_released);
            drop(waited);
            answer(&mut stream, 200, "", "");
        }
        Reply::Endless => {
            let head = "HTTP/1.1 200 OK\r\nContent-Length: 10000000000\r\n\r\n";
            let part = vec![b'x'; 1_024];
            let mut sent = stream.write_all(head.as_bytes());
            while sent.is_ok() {
                sent = stream.write_all(&part);
            }
        }
    }
    shared.state().n_open -= 1;
}

fn answer(stream: &mut TcpStream, status: u16, headers: &str, body: &str) {
    let length = body.len();
    let text = format!(
        "HTTP/1.1 {status} X\r\nContent-Length: {length}\r\nConnection: close\r\n{headers}\r\n{body}"
    );
    // Whoever does not wait for it does not want it.
    let _ = stream.write_all(text.as_bytes());
}

fn read(stream: &TcpStream) -> Option<Message> {
    let mut reader = BufReader::new(stream);
    let mut line = String::new();
    reader.read_line(&mut line).ok()?;
    let mut headers = BTreeMap::new();
    loop {
        line.clear();
        reader.read_line(&mut line).ok()?;
        let Some((name, value)) = line.trim_end().split_once(':') else {
            break;
        };
        headers.insert(name.to_ascii_lowercase(), value.trim().to_owned());
    }
    let length = headers.get("content-length")?.parse().ok()?;
    let mut body = vec![0; length];
    reader.read_exact(&mut body).ok()?;
    Some(Message { headers, body })
}
