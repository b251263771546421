//! HTTP spoken by hand, for requests that no client library would send.

#![expect(clippy::expect_used, reason = "a test that cannot speak cannot go on")]

use tokio::{
    io::{AsyncReadExt as _, AsyncWriteExt as _},
    net::TcpStream,
};

use crate::app::TestApp;

/// Sends bytes and hears until `wanted` has come, or until the service closes the connection.
///
/// # Panics
/// If the service takes no connection.
pub async fn speak(app: &TestApp, sent: &str, wanted: Option<&str>) -> String {
    let address = app.url().trim_start_matches("http://");
    let mut stream = TcpStream::connect(address).await.expect("a connection");
    let written = stream.write_all(sent.as_bytes()).await;
    written.expect("a service that listens");
    let mut heard = Vec::new();
    loop {
        // Whoever is refused may be hung up on without more words.
        let n = stream.read_buf(&mut heard).await.unwrap_or(0);
        let text = String::from_utf8_lossy(&heard).into_owned();
        if n == 0 || wanted.is_some_and(|wanted| text.contains(wanted)) {
            return text;
        }
    }
}
