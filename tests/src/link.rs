//! A line to a database server that can be cut: as a whole, or at a certain message of the service.

#![expect(clippy::expect_used, reason = "a test without its line cannot go on")]

use std::{
    io::{self, Read as _, Write as _},
    net::{Shutdown, SocketAddr, TcpListener, TcpStream},
    sync::{Arc, Mutex, MutexGuard, PoisonError},
    thread,
};

/// What the first message of a session says where it asks for one and not for encryption: version 3.0 of the protocol
/// (PostgreSQL's documentation, "Message Formats", `StartupMessage`).
const STARTUP: [u8; 4] = [0, 3, 0, 0];

/// On which side of a message the line is cut.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// The server does not get it.
    Before,
    /// The server gets it, and what it answers does not arrive.
    After,
}

/// What passes between the ends, and whether anything does.
#[derive(Debug, Default)]
struct State {
    is_cut: bool,
    /// How many more messages pass before the one at which the line is cut, and on which side of it.
    armed: Option<(usize, Side)>,
    streams: Vec<TcpStream>,
}

/// A port of this machine that leads to a server for as long as the line is not cut.
#[derive(Debug, Clone)]
pub struct Link {
    address: SocketAddr,
    state: Arc<Mutex<State>>,
}

impl Link {
    /// A line to the server at `host:port`. It lasts as long as the process.
    ///
    /// # Panics
    /// If no port is free.
    #[must_use]
    pub fn to(server: &str) -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").expect("a port");
        let address = listener.local_addr().expect("an address");
        let state = Arc::new(Mutex::new(State::default()));
        let (server, shared) = (server.to_owned(), Arc::clone(&state));
        thread::spawn(move || {
            for caller in listener.incoming().flatten() {
                // Whoever calls while the line is cut is hung up on.
                let _failed = connect(&caller, &server, &shared);
            }
        });
        Self { address, state }
    }

    /// Where the line begins, as `host:port`.
    #[must_use]
    pub fn address(&self) -> String {
        self.address.to_string()
    }

    /// Cuts the line: what is on it is lost, and nobody gets through.
    pub fn cut(&self) {
        let mut state = lock(&self.state);
        state.is_cut = true;
        for stream in state.streams.drain(..) {
            // One that has ended already is as good as cut.
            let _ended = stream.shutdown(Shutdown::Both);
        }
    }

    /// Lets callers through again.
    pub fn mend(&self) {
        lock(&self.state).is_cut = false;
    }

    /// Cuts the connection that carries the message after `n` others of this service, once.
    pub fn cut_at(&self, n: usize, side: Side) {
        lock(&self.state).armed = Some((n, side));
    }

    /// Cuts at no message any more, and says how many more would have passed before the cut; none if it was made.
    #[must_use]
    pub fn disarm(&self) -> Option<usize> {
        lock(&self.state).armed.take().map(|(n, _)| n)
    }
}

fn lock(state: &Mutex<State>) -> MutexGuard<'_, State> {
    state.lock().unwrap_or_else(PoisonError::into_inner)
}

fn connect(caller: &TcpStream, server: &str, shared: &Arc<Mutex<State>>) -> io::Result<()> {
    let mut state = lock(shared);
    if state.is_cut {
        return Ok(());
    }
    let server = TcpStream::connect(server)?;
    // Messages are passed on one by one: none may wait for the next.
    server.set_nodelay(true)?;
    caller.set_nodelay(true)?;
    for stream in [caller, &server] {
        state.streams.push(stream.try_clone()?);
    }
    let (mut from, mut to) = (server.try_clone()?, caller.try_clone()?);
    thread::spawn(move || {
        let _ended = io::copy(&mut from, &mut to);
        let _ended = to.shutdown(Shutdown::Both);
    });
    let (from, to, shared) = (caller.try_clone()?, server, Arc::clone(shared));
    thread::spawn(move || {
        let _ended = ask(&from, &to, &shared);
        // The server works off what it has got.
        let _ended = to.shutdown(Shutdown::Write);
    });
    Ok(())
}

/// Passes on what the service says, message by message, until the line is cut.
fn ask(from: &TcpStream, mut to: &TcpStream, shared: &Mutex<State>) -> io::Result<()> {
    let mut has_begun = false;
    loop {
        let message = message(from, has_begun)?;
        has_begun |= message.get(4..8) == Some(&STARTUP);
        let cut = {
            let mut state = lock(shared);
            match state.armed {
                Some((0, side)) => state.armed.take().map(|_| side),
                Some((n, side)) => {
                    state.armed = Some((n.saturating_sub(1), side));
                    None
                }
                None => None,
            }
        };
        if cut != Some(Side::Before) {
            to.write_all(&message)?;
        }
        if cut.is_some() {
            return from.shutdown(Shutdown::Both);
        }
    }
}

/// The next message: a letter (none before the session has begun) and its length, which counts itself but not the letter.
fn message(mut from: &TcpStream, has_begun: bool) -> io::Result<Vec<u8>> {
    let n_letters = usize::from(has_begun);
    let mut message = vec![0; n_letters.saturating_add(4)];
    from.read_exact(&mut message)?;
    let length = message
        .get(n_letters..)
        .and_then(|four| four.try_into().ok());
    let length = usize::try_from(u32::from_be_bytes(length.unwrap_or_default()));
    let length = length.unwrap_or_default().saturating_add(n_letters);
    let start = message.len();
    message.resize(length.max(start), 0);
    from.read_exact(message.get_mut(start..).unwrap_or_default())?;
    Ok(message)
}
