//! A line that is cut at every message: between the service and its database server, and between a caller and the service.
//! What was asked for is then wholly there or not at all, and asked again under its key it is there once.

use tests::{
    app::TestApp,
    client::{Answer, Caller},
    link::Side,
};
use tokio::{io::AsyncWriteExt as _, net::TcpStream};

use super::operation::{Estate, Operation, guarded};
use crate::fire::size;

/// Tables whose rows tell what a request has done. Left out are those of which a request may change a row that is there.
const TABLES: [&str; 17] = [
    "audit",
    "outbox",
    "idempotency_keys",
    "sites",
    "rate_cards",
    "surfaces",
    "surface_history",
    "contractors",
    "contractor_sources",
    "report_links",
    "completion_links",
    "plans",
    "estimates",
    "readings",
    "observations",
    "completions",
    "completion_lines",
];

/// More messages than any request takes.
const MANY: usize = 100_000;

/// Operations that may be done any number of times, a few statements each or many.
const OPERATIONS: [&str; 8] = [
    "registerContractor",
    "makeContractorSource",
    "registerSite",
    "changeSurface",
    "proposePlan",
    "recordReading",
    "recordCompletion",
    "rotateSourceSecret",
];

/// How many rows each table has, without the events that come of the calendar and not of a request.
async fn counts(app: &TestApp) -> Vec<i64> {
    let counts = TABLES.map(|table| {
        let asked = match table {
            "outbox" => " WHERE type <> 'wearcourse.surface.due.v1'",
            _ => "",
        };
        format!("(SELECT COUNT(*) FROM {table}{asked})")
    });
    let sql = format!("SELECT concat_ws(',', {})", counts.join(", "));
    let told = app.ask(&sql).await;
    told.split(',').map(|n| n.parse().unwrap()).collect()
}

fn difference(before: &[i64], after: &[i64]) -> Vec<i64> {
    after.iter().zip(before).map(|(a, b)| a - b).collect()
}

fn operations() -> Vec<Operation> {
    let all = guarded().into_iter();
    let chosen: Vec<_> = all.filter(|one| OPERATIONS.contains(&one.id)).collect();
    assert_eq!(chosen.len(), OPERATIONS.len());
    chosen
}

/// One operation of an estate, sent again and again under new keys.
struct Sent<'a> {
    app: &'a TestApp,
    admin: &'a Caller,
    estate: &'a Estate,
    operation: &'a Operation,
    usual: Vec<i64>,
}

impl<'a> Sent<'a> {
    /// Finds out what the operation does when nothing is in its way.
    async fn new(
        app: &'a TestApp,
        admin: &'a Caller,
        estate: &'a Estate,
        (operation, turn): (&'a Operation, &str),
    ) -> Self {
        let mut sent = Self {
            app,
            admin,
            estate,
            operation,
            usual: Vec::new(),
        };
        for n in 0..2 {
            let before = counts(app).await;
            let done = sent.send(&format!("{}-{turn}-{n}", operation.id)).await;
            assert!((200..300).contains(&done.status), "{}", done.text());
            // What is there already when it is done a second time is not made anew.
            sent.usual = difference(&before, &counts(app).await);
        }
        // One answer to a key, one row of the trail.
        assert_eq!((sent.usual[0], sent.usual[2]), (1, 1), "{}", operation.id);
        sent
    }

    async fn send(&self, key: &str) -> Answer {
        let call = self.estate.call(self.admin, self.operation);
        call.header("Idempotency-Key", key).answer().await
    }

    /// Sees that of a request whose line was cut all is there or nothing; 1 if all of it is and nobody was told.
    async fn is_whole_or_nothing(&self, first: &Answer, before: &[i64], key: &str) -> usize {
        let halfway = difference(before, &counts(self.app).await);
        if first.status == 503 {
            first.problem(503, "unavailable");
            assert_eq!(first.header("Retry-After"), Some("1"), "{key}");
            let is_nothing = halfway.iter().all(|n| *n == 0);
            assert!(is_nothing || halfway == self.usual, "{key}: {halfway:?}");
            return usize::from(!is_nothing);
        }
        assert!(
            (200..300).contains(&first.status),
            "{key}: {}",
            first.text()
        );
        assert_eq!(halfway, self.usual, "{key}: {TABLES:?}");
        0
    }

    /// Sends it until it is done, and sees that it was done once.
    async fn is_done_once(&self, key: &str, before: &[i64]) {
        loop {
            let again = self.send(key).await;
            if [409, 503].contains(&again.status) {
                continue;
            }
            assert!(
                (200..300).contains(&again.status),
                "{key}: {}",
                again.text()
            );
            break;
        }
        let done = difference(before, &counts(self.app).await);
        assert_eq!(done, self.usual, "{key}: {TABLES:?}");
    }
}

#[tokio::test]
async fn f_06_a_line_that_is_cut_at_any_message_leaves_all_or_nothing() {
    let Some((link, app)) = TestApp::start_on_a_line().await else {
        return;
    };
    let admin = app.admin();
    let estate = Estate::new(admin.clone()).await;
    let (mut n_cuts, mut n_done_unheard) = (0, 0);
    for (turn, operation) in operations().into_iter().enumerate() {
        let sent = Sent::new(&app, &admin, &estate, (&operation, "usual")).await;
        link.cut_at(MANY, Side::Before);
        let _done = sent.send(&format!("{}-counted", operation.id)).await;
        let n_messages = MANY - link.disarm().unwrap();
        // Every message in the long form; in the short one every sixth, and the last ones, among which is the commit.
        let step = size(6, 1);
        let is_chosen = |n: &usize| n % step == turn % step || n + 6 > n_messages;
        for side in [Side::Before, Side::After] {
            for n in (0..n_messages).filter(is_chosen) {
                let key = format!("{}-{side:?}-{n}", operation.id);
                let before = counts(&app).await;
                link.cut_at(n, side);
                let first = sent.send(&key).await;
                n_cuts += usize::from(link.disarm().is_none());
                n_done_unheard += sent.is_whole_or_nothing(&first, &before, &key).await;
                sent.is_done_once(&key, &before).await;
            }
        }
    }
    // The control: cuts met requests at every stage, also behind their commit.
    assert!(
        n_cuts > size(40, 300) && n_done_unheard > 0,
        "{n_cuts} {n_done_unheard}"
    );
    crate::fire::tell(
        "F-06",
        &[
            ("cuts", n_cuts),
            ("done-unheard", n_done_unheard),
            ("lost", 0),
            ("doubled", 0),
        ],
    );
}

/// The bytes of a request as a client sends them.
fn bytes(app: &TestApp, sent: &Sent<'_>, key: &str) -> Vec<u8> {
    let (operation, body) = (sent.operation, sent.estate.body(sent.operation).to_string());
    let kind = if operation.is_change() {
        "application/merge-patch+json\r\nIf-Match: *"
    } else {
        "application/json"
    };
    let head = format!(
        "{} {} HTTP/1.1\r\nHost: localhost\r\nAuthorization: Bearer {}\r\nIdempotency-Key: {key}\r\n\
         Content-Type: {kind}\r\nContent-Length: {}\r\n\r\n",
        operation.verb,
        sent.estate.path(operation),
        app.token(tests::app::NORTH),
        body.len()
    );
    [head.into_bytes(), body.into_bytes()].concat()
}

#[tokio::test]
async fn f_06_a_caller_who_hangs_up_at_any_byte_leaves_all_or_nothing() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let estate = Estate::new(admin.clone()).await;
    let address = app.url().trim_start_matches("http://");
    let mut n_hung_up = 0;
    for operation in operations() {
        let sent = Sent::new(&app, &admin, &estate, (&operation, "usual")).await;
        let whole = bytes(&app, &sent, "length").len() + operation.id.len();
        // Every so many bytes of it, and all of it, with nobody there to hear the answer.
        for (n, end) in (1..8)
            .map(|part| whole * part / 8)
            .chain([usize::MAX; 3])
            .enumerate()
        {
            let key = format!("{}-hung-up-{n}", operation.id);
            let request = bytes(&app, &sent, &key);
            let before = counts(&app).await;
            let mut stream = TcpStream::connect(address).await.unwrap();
            let part = request.get(..end).unwrap_or(&request);
            stream.write_all(part).await.unwrap();
            drop(stream);
            n_hung_up += 1;
            sent.is_done_once(&key, &before).await;
        }
    }
    crate::fire::tell(
        "F-06",
        &[("hung-up", n_hung_up), ("lost", 0), ("doubled", 0)],
    );
    // The control: what is asked for under two keys is there twice, and that is seen.
    let operation = operations().remove(0);
    let sent = Sent::new(&app, &admin, &estate, (&operation, "control")).await;
    let before = counts(&app).await;
    let _first = sent.send("control-1").await;
    let _second = sent.send("control-2").await;
    assert_ne!(difference(&before, &counts(&app).await), sent.usual);
}
