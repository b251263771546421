//! Sends the same few thousand requests over and over, on connections that stay open, and tells how many were
//! answered and how fast. Does nothing else, so that the processor time beside the server's is small and the same for
//! every server.
//!
//! `drive ADDRESS CONNECTIONS SECONDS FILE FIRST [RATE]`: `FILE` holds whole HTTP/1.1 requests, each preceded by a line with its
//! length in bytes. With `RATE`, so many requests are due each second whether or not earlier ones were answered, and the
//! time of each counts from when it was due: who is late is late for all who wait behind him. Sixteen `#` in a request become a number that no other request has, from `FIRST` on.

use std::{
    error::Error,
    fs,
    io::{self, BufRead, BufReader, Read, Write},
    net::TcpStream,
    sync::{
        Arc, Barrier,
        atomic::{AtomicU64, AtomicUsize, Ordering},
    },
    thread,
    time::{Duration, Instant},
};

type Outcome<T> = Result<T, Box<dyn Error + Send + Sync>>;

const USAGE: &str = "usage: drive ADDRESS CONNECTIONS SECONDS FILE FIRST [RATE]";
const PLACE: [u8; 16] = [b'#'; 16];

/// A request and where in it a number goes.
struct Request {
    bytes: Vec<u8>,
    place: Option<usize>,
}

/// What one connection saw.
#[derive(Default)]
struct Seen {
    micros: Vec<u64>,
    n_refused: u64,
    first_refusal: Option<String>,
}

/// What all connections share.
struct Shared {
    requests: Vec<Request>,
    turn: AtomicUsize,
    number: AtomicU64,
    start: Barrier,
    span: Duration,
    /// How many requests are due each second; none: each connection asks again when it has its answer.
    rate: Option<f64>,
    /// How many of them were taken up.
    due: AtomicU64,
}

fn main() -> Outcome<()> {
    let given: Vec<String> = std::env::args().skip(1).collect();
    let [address, connections, seconds, file, first, rate @ ..] = given.as_slice() else {
        return Err(USAGE.into());
    };
    let rate = match rate {
        [] => None,
        [rate] => Some(rate.parse()?),
        [_, ..] => return Err(USAGE.into()),
    };
    let connections: usize = connections.parse()?;
    let shared = Arc::new(Shared {
        requests: read_requests(file)?,
        turn: AtomicUsize::new(0),
        number: AtomicU64::new(first.parse()?),
        start: Barrier::new(connections),
        span: Duration::from_secs_f64(seconds.parse()?),
        rate,
        due: AtomicU64::new(0),
    });
    let began = Instant::now();
    let mut threads = Vec::new();
    for _ in 0..connections {
        let stream = TcpStream::connect(address)?;
        stream.set_nodelay(true)?;
        stream.set_read_timeout(Some(Duration::from_secs(30)))?;
        let shared = Arc::clone(&shared);
        threads.push(thread::spawn(move || converse(&stream, &shared)));
    }
    let mut all = Seen::default();
    for thread in threads {
        let seen = thread.join().map_err(|_panic| "a connection failed")??;
        all.micros.extend(seen.micros);
        all.n_refused += seen.n_refused;
        all.first_refusal = all.first_refusal.or(seen.first_refusal);
    }
    all.micros.sort_unstable();
    tell(&all, began.elapsed())
}

/// Prints one line of JSON.
fn tell(all: &Seen, took: Duration) -> Outcome<()> {
    let at = |share: usize| {
        let index = all.micros.len().saturating_mul(share) / 1000;
        all.micros
            .get(index.min(all.micros.len().saturating_sub(1)))
    };
    let told = serde_json::json!({
        "answered": all.micros.len(),
        "refused": all.n_refused,
        "first_refusal": all.first_refusal,
        "seconds": took.as_secs_f64(),
        "p50_us": at(500),
        "p95_us": at(950),
        "p99_us": at(990),
    });
    writeln!(io::stdout(), "{told}")?;
    Ok(())
}

fn read_requests(file: &str) -> Outcome<Vec<Request>> {
    let mut file = BufReader::new(fs::File::open(file)?);
    let mut requests = Vec::new();
    let mut line = String::new();
    while file.read_line(&mut line)? > 0 {
        let mut bytes = vec![0; line.trim().parse()?];
        file.read_exact(&mut bytes)?;
        let place = bytes.windows(PLACE.len()).position(|part| part == PLACE);
        requests.push(Request { bytes, place });
        line.clear();
    }
    if requests.is_empty() {
        return Err("the file holds no request".into());
    }
    Ok(requests)
}

/// Asks and waits for the answer until the time is up.
fn converse(mut stream: &TcpStream, shared: &Shared) -> Outcome<Seen> {
    let mut seen = Seen::default();
    let mut answer = Vec::new();
    let mut request = Vec::new();
    shared.start.wait();
    let began = Instant::now();
    loop {
        let due = match shared.rate {
            Some(rate) => Duration::from_secs_f64(
                f64::from(u32::try_from(shared.due.fetch_add(1, Ordering::Relaxed))?) / rate,
            ),
            None => began.elapsed(),
        };
        if due >= shared.span {
            return Ok(seen);
        }
        thread::sleep(due.saturating_sub(began.elapsed()));
        let turn = shared.turn.fetch_add(1, Ordering::Relaxed) % shared.requests.len();
        let Some(next) = shared.requests.get(turn) else {
            continue;
        };
        request.clone_from(&next.bytes);
        if let Some(place) = next.place {
            let number = shared.number.fetch_add(1, Ordering::Relaxed);
            let text = format!("{number:016}");
            let end = place.saturating_add(PLACE.len());
            if let Some(part) = request.get_mut(place..end) {
                part.copy_from_slice(text.as_bytes());
            }
        }
        stream.write_all(&request)?;
        let body = receive(stream, &mut answer)?;
        let micros = u64::try_from(began.elapsed().saturating_sub(due).as_micros())?;
        if answer.starts_with(b"HTTP/1.1 2") {
            seen.micros.push(micros);
        } else {
            seen.n_refused += 1;
            let text = || {
                String::from_utf8_lossy(answer.get(..body + 300).unwrap_or(&answer)).into_owned()
            };
            seen.first_refusal.get_or_insert_with(text);
        }
    }
}

/// Reads one answer, which must say its length, and answers where its body begins.
fn receive(mut stream: &TcpStream, answer: &mut Vec<u8>) -> Outcome<usize> {
    answer.clear();
    let mut part = [0; 16 * 1024];
    loop {
        let n_read = stream.read(&mut part)?;
        if n_read == 0 {
            return Err("the server hung up".into());
        }
        answer.extend_from_slice(part.get(..n_read).unwrap_or_default());
        let Some(end) = answer.windows(4).position(|four| four == b"\r\n\r\n") else {
            continue;
        };
        let body = end.saturating_add(4);
        let whole = body.saturating_add(length(answer.get(..end).unwrap_or_default())?);
        while answer.len() < whole {
            let n_read = stream.read(&mut part)?;
            if n_read == 0 {
                return Err("the server hung up in an answer".into());
            }
            answer.extend_from_slice(part.get(..n_read).unwrap_or_default());
        }
        return Ok(body);
    }
}

fn length(head: &[u8]) -> Outcome<usize> {
    let head = std::str::from_utf8(head)?;
    let mut lines = head.split("\r\n");
    let value = lines.find_map(|line| {
        let (name, value) = line.split_once(':')?;
        name.eq_ignore_ascii_case("content-length").then_some(value)
    });
    Ok(value
        .ok_or("an answer without Content-Length")?
        .trim()
        .parse()?)
}
