//! Surroundings that would lead events elsewhere: proxies that the environment names, receivers who cannot prove who they are.

use std::{
    fs,
    io::{Read as _, Write as _},
    net::{TcpListener, TcpStream},
    sync::{
        Arc,
        atomic::{AtomicUsize, Ordering},
    },
    thread,
    time::Duration,
};

use rcgen::{BasicConstraints, CertificateParams, IsCa, Issuer, KeyPair, date_time_ymd};
use rustls::{
    ServerConfig, ServerConnection, StreamOwned,
    pki_types::{CertificateDer, PrivatePkcs8KeyDer},
};
use serde_json::{Value, json};
use tempfile::TempDir;
use tests::{
    app::NORTH,
    client::Caller,
    ground::Ground,
    read,
    receiver::{Receiver, Reply},
};

const PROGRAM: &str = env!("CARGO_BIN_EXE_service");
const SENDING: [(&str, &str); 2] = [
    ("WEARCOURSE_OUTBOUND", "on"),
    ("WEARCOURSE_OUTBOUND_INSECURE", "on"),
];

/// A listener that counts who comes and says nothing.
fn canary() -> (String, Arc<AtomicUsize>) {
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    let address = listener.local_addr().unwrap().to_string();
    let n = Arc::new(AtomicUsize::new(0));
    let counted = Arc::clone(&n);
    thread::spawn(move || {
        for _caller in listener.incoming() {
            counted.fetch_add(1, Ordering::SeqCst);
        }
    });
    (address, n)
}

/// Subscribes `url` and has it told something; gives the delivery once it was tried.
async fn tried(admin: &Caller, url: &str) -> Value {
    // It is told of nothing but the ping: what happens to others is not for it.
    let body = json!({
        "name": "Works orders", "url": url, "event_types": ["wearcourse.contractor.registered.v1"],
    });
    let subscription = admin.post("/v1/subscriptions", &body).await.must(201).id();
    let ping = format!("/v1/subscriptions/{subscription}/ping");
    let delivery = admin.record(&ping, &json!({})).await.must(200).id();
    for _ in 0..600 {
        let path = format!("/v1/deliveries/{delivery}");
        let told = admin.get(&path).await.must(200).json();
        if read::number(&told, "/n_attempts") > 0.0
            && told
                .get("attempts")
                .is_some_and(|all| all.as_array().is_some_and(|all| !all.is_empty()))
        {
            return told;
        }
        let pause = std::future::pending::<()>();
        let _pause = tokio::time::timeout(Duration::from_millis(50), pause).await;
    }
    panic!("nobody tried {url}");
}

#[tokio::test]
async fn s_070_proxies_that_the_environment_names_are_passed_over() {
    let ground = Ground::new(PROGRAM).await;
    let (address, n) = canary();
    let proxy = format!("http://{address}");
    let names = [
        "HTTP_PROXY",
        "HTTPS_PROXY",
        "ALL_PROXY",
        "http_proxy",
        "https_proxy",
        "all_proxy",
    ];
    let proxies = names.map(|name| (name, proxy.as_str()));
    let process = ground.start(&[&SENDING[..], &proxies].concat()).await;
    let admin = ground.caller(&process.url, NORTH);
    let receiver = Receiver::start();
    // Another way that an answer names is not taken either.
    let other = format!("http/1.1=\"{address}\"; ma=3600");
    receiver.always(Reply::with(200, "Alt-Svc", &other));
    for _ in 0..2 {
        assert_eq!(tried(&admin, &receiver.url).await["status"], "delivered");
    }
    assert_eq!(
        (receiver.messages().len(), n.load(Ordering::SeqCst)),
        (2, 0)
    );
    // The control: a client that obeys them comes to the listener, which hears of it.
    let obedient = reqwest::Client::builder()
        .tls_certs_only([])
        .proxy(reqwest::Proxy::all(&proxy).unwrap())
        .timeout(Duration::from_secs(1))
        .build()
        .unwrap();
    let _unanswered = obedient.get(&receiver.url).send().await;
    assert_eq!(n.load(Ordering::SeqCst), 1);
}

/// A receiver behind TLS that counts the requests that were sent to it.
fn receiver(chain: Vec<CertificateDer<'static>>, key: &KeyPair) -> (String, Arc<AtomicUsize>) {
    let provider = Arc::new(rustls::crypto::aws_lc_rs::default_provider());
    let config = ServerConfig::builder_with_provider(provider)
        .with_safe_default_protocol_versions()
        .unwrap()
        .with_no_client_auth()
        .with_single_cert(chain, PrivatePkcs8KeyDer::from(key.serialize_der()).into());
    let config = Arc::new(config.unwrap());
    listen(move |caller, n| {
        let tls = ServerConnection::new(Arc::clone(&config)).unwrap();
        let mut stream = StreamOwned::new(tls, caller);
        let mut request = [0; 16 * 1024];
        // Who does not believe the certificate sends no request.
        if stream.read(&mut request).is_ok_and(|length| length > 0) {
            n.fetch_add(1, Ordering::SeqCst);
            let _sent = stream
                .write_all(b"HTTP/1.1 200 OK\r\nContent-Length: 0\r\nConnection: close\r\n\r\n");
            stream.conn.send_close_notify();
            let _sent = stream.flush();
        }
    })
}

/// A receiver that speaks TLS 1.1, whatever is offered (RFC 5246, section 7.4.1.3, for the form of its greeting).
fn old_receiver() -> (String, Arc<AtomicUsize>) {
    listen(|mut caller, n| {
        let mut hello = [0; 4_096];
        let _hello = caller.read(&mut hello);
        let mut greeting = vec![0x16, 3, 2, 0, 42, 2, 0, 0, 38, 3, 2];
        greeting.extend([7; 32]);
        greeting.extend([0, 0xc0, 0x13, 0]);
        let _sent = caller.write_all(&greeting);
        let mut answer = [0; 1];
        let _length = caller.read(&mut answer);
        // Anything but an alert (21), or hanging up, would go on with it.
        if ![0x15, 0].contains(&answer[0]) {
            n.fetch_add(1, Ordering::SeqCst);
        }
    })
}

fn listen(serve: impl Fn(TcpStream, &AtomicUsize) + Send + 'static) -> (String, Arc<AtomicUsize>) {
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    let url = format!(
        "https://localhost:{}/hook",
        listener.local_addr().unwrap().port()
    );
    let n = Arc::new(AtomicUsize::new(0));
    let counted = Arc::clone(&n);
    thread::spawn(move || {
        listener
            .incoming()
            .flatten()
            .for_each(|caller| serve(caller, &counted));
    });
    (url, n)
}

#[tokio::test]
async fn s_071_a_receiver_who_cannot_prove_who_it_is_is_told_nothing() {
    let directory = TempDir::new().unwrap();
    let root_key = KeyPair::generate().unwrap();
    let mut root = CertificateParams::new(Vec::new()).unwrap();
    root.is_ca = IsCa::Ca(BasicConstraints::Unconstrained);
    let trusted = directory.path().join("trusted.pem");
    fs::write(&trusted, root.self_signed(&root_key).unwrap().pem()).unwrap();
    let issuer = Issuer::new(root, root_key);
    let key = KeyPair::generate().unwrap();
    let leaf = |name: &str, until: i32| {
        let mut leaf = CertificateParams::new(vec![name.to_owned()]).unwrap();
        leaf.not_before = date_time_ymd(2001, 1, 1);
        leaf.not_after = date_time_ymd(until, 1, 1);
        leaf
    };
    let signed =
        |leaf: CertificateParams| vec![leaf.signed_by(&key, &issuer).unwrap().der().clone()];
    let alone = vec![
        leaf("localhost", 2099)
            .self_signed(&key)
            .unwrap()
            .der()
            .clone(),
    ];

    let ground = Ground::new(PROGRAM).await;
    let roots = [("SSL_CERT_FILE", trusted.to_str().unwrap())];
    let process = ground.start(&[&SENDING[..], &roots].concat()).await;
    let admin = ground.caller(&process.url, NORTH);
    for (who, (url, n)) in [
        ("self-signed", receiver(alone, &key)),
        ("expired", receiver(signed(leaf("localhost", 2002)), &key)),
        (
            "of another name",
            receiver(signed(leaf("hooks.fm.example", 2099)), &key),
        ),
        ("of an old version", old_receiver()),
    ] {
        let told = tried(&admin, &url).await;
        assert_eq!(
            (&told["status"], n.load(Ordering::SeqCst)),
            (&json!("pending"), 0),
            "{who}: {told}"
        );
        let attempt = told["attempts"][0].to_string().to_lowercase();
        assert!(
            !attempt.contains("certificate") && !attempt.contains("tls"),
            "{who}: {attempt}"
        );
    }
    // The control: one who proves it is told.
    let (url, n) = receiver(signed(leaf("localhost", 2099)), &key);
    let told = tried(&admin, &url).await;
    assert_eq!(
        (&told["status"], n.load(Ordering::SeqCst)),
        (&json!("delivered"), 1),
        "{told}"
    );
}
