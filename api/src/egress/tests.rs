//! Names that lead where they should not, and a listener that must hear of nobody.

use std::{
    collections::VecDeque,
    io,
    net::{IpAddr, SocketAddr},
    sync::{Arc, Mutex},
};

use reqwest::header::HeaderMap;
use tokio::net::TcpListener;

use super::{
    Allowed, Egress, Unanswered, cleaned,
    lookup::{Guarded, Lookup},
};

/// Names that stand for one list of addresses after the other; counts how often somebody asked.
#[derive(Debug, Clone, Default)]
struct Names(Arc<Mutex<(VecDeque<Vec<IpAddr>>, usize)>>);

impl Names {
    fn new(answers: &[&[&str]]) -> Self {
        let answers = answers
            .iter()
            .map(|list| list.iter().map(|text| text.parse().unwrap()).collect());
        Self(Arc::new(Mutex::new((answers.collect(), 0))))
    }

    fn n_asked(&self) -> usize {
        self.0.lock().unwrap().1
    }
}

impl Lookup for Names {
    async fn lookup(&self, _name: String) -> io::Result<Vec<SocketAddr>> {
        let mut names = self.0.lock().unwrap();
        names.1 += 1;
        let found = names.0.pop_front().unwrap_or_default();
        Ok(found.into_iter().map(|ip| SocketAddr::new(ip, 0)).collect())
    }
}

/// A way out on which everything is strict but the ports, and a listener on this machine.
async fn canary(names: &Names) -> (Egress, TcpListener, String) {
    let canary = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let port = canary.local_addr().unwrap().port();
    let allowed = Allowed {
        ports: vec![port],
        is_insecure: false,
        own_host: None,
    };
    let resolver = Guarded::new(names.clone(), false);
    let egress = Egress::with_resolver(allowed, resolver).unwrap();
    (egress, canary, format!("https://hooks.fm.example:{port}/"))
}

async fn n_connections(canary: &TcpListener) -> usize {
    let mut n = 0;
    // Whoever connected stands in the queue by now.
    while let Ok(Ok(_)) =
        tokio::time::timeout(std::time::Duration::from_millis(50), canary.accept()).await
    {
        n += 1;
    }
    n
}

#[tokio::test]
async fn s_067_a_name_with_one_private_address_is_refused_whole() {
    for answer in [
        &["127.0.0.1"][..],
        &["::ffff:127.0.0.1"],
        &["1.1.1.1", "127.0.0.1"],
        &["127.0.0.1", "1.1.1.1"],
        &["2606:4700::1111", "::1"],
        &[],
    ] {
        let names = Names::new(&[answer]);
        let (egress, canary, url) = canary(&names).await;
        let done = egress.post(&url, HeaderMap::new(), String::new()).await;
        assert_eq!(done.unwrap_err(), Unanswered::NotReached, "{answer:?}");
        assert_eq!(
            (n_connections(&canary).await, names.n_asked()),
            (0, 1),
            "{answer:?}"
        );
    }
}

#[tokio::test]
async fn s_068_a_name_is_looked_up_once_and_what_was_looked_at_is_called() {
    // Public to whoever looks first, private from the second look on: there must be no second look.
    let names = Names::new(&[&["192.0.1.1"], &["127.0.0.1"], &["127.0.0.1"]]);
    let guarded = Guarded::new(names.clone(), false);
    let found = reqwest::dns::Resolve::resolve(&guarded, "hooks.fm.example".parse().unwrap()).await;
    let found: Vec<SocketAddr> = found.unwrap().collect();
    assert_eq!(found, ["192.0.1.1:0".parse().unwrap()]);
    assert_eq!(names.n_asked(), 1);
    // Private at the attempt, whatever it was at registration: not called.
    let (egress, canary, url) = canary(&names).await;
    let done = egress.post(&url, HeaderMap::new(), String::new()).await;
    assert_eq!(done.unwrap_err(), Unanswered::NotReached);
    assert_eq!((n_connections(&canary).await, names.n_asked()), (0, 2));
}

#[tokio::test]
async fn s_060_an_address_is_refused_at_the_attempt_too() {
    let names = Names::default();
    let (egress, canary, _) = canary(&names).await;
    let port = canary.local_addr().unwrap().port();
    for host in ["127.0.0.1", "[::ffff:127.0.0.1]", "2130706433", "localhost"] {
        let url = format!("https://{host}:{port}/");
        let done = egress.post(&url, HeaderMap::new(), String::new()).await;
        assert_eq!(done.unwrap_err(), Unanswered::NotReached, "{host}");
    }
    assert_eq!((n_connections(&canary).await, names.n_asked()), (0, 0));
}

#[test]
fn s_123_what_is_kept_of_an_answer_holds_no_control_characters() {
    assert_eq!(cleaned(b"a\r\n\x1b[31mb\0\xffc"), "a[31mb\u{fffd}c");
    assert_eq!(cleaned(&[b'x'; 5_000]).len(), 1_000);
}
