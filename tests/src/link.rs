//! A line to a database server that can be cut.

#![expect(clippy::expect_used, reason = "a test without its line cannot go on")]

use std::{
    io,
    net::{Shutdown, SocketAddr, TcpListener, TcpStream},
    sync::{Arc, Mutex, PoisonError},
    thread,
};

/// What passes between the ends, and whether anything does.
#[derive(Debug, Default)]
struct State {
    is_cut: bool,
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
        let mut state = self.state.lock().unwrap_or_else(PoisonError::into_inner);
        state.is_cut = true;
        for stream in state.streams.drain(..) {
            // One that has ended already is as good as cut.
            let _ended = stream.shutdown(Shutdown::Both);
        }
    }

    /// Lets callers through again.
    pub fn mend(&self) {
        let mut state = self.state.lock().unwrap_or_else(PoisonError::into_inner);
        state.is_cut = false;
    }
}

fn connect(caller: &TcpStream, server: &str, state: &Mutex<State>) -> io::Result<()> {
    let mut state = state.lock().unwrap_or_else(PoisonError::into_inner);
    if state.is_cut {
        return Ok(());
    }
    let server = TcpStream::connect(server)?;
    for (from, to) in [(caller, &server), (&server, caller)] {
        state.streams.push(from.try_clone()?);
        let (mut from, mut to) = (from.try_clone()?, to.try_clone()?);
        thread::spawn(move || {
            let _ended = io::copy(&mut from, &mut to);
            let _ended = to.shutdown(Shutdown::Both);
        });
    }
    Ok(())
}
