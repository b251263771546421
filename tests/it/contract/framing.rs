//! Requests that two readers could take for different ones: each is refused, or says nothing by its form.

use tests::{app::TestApp, raw::speak};

#[tokio::test]
async fn s_100_a_request_of_two_meanings_is_refused_and_the_connection_closed() {
    let app = TestApp::start().await;
    let chunked = "0\r\n\r\n";
    for (head, body) in [
        (
            "Host: a\r\nContent-Length: 5\r\nTransfer-Encoding: chunked\r\n",
            chunked,
        ),
        (
            "Host: a\r\nContent-Length: 2\r\nContent-Length: 2\r\n",
            "{}",
        ),
        (
            "Host: a\r\nContent-Length: 2\r\nContent-Length: 3\r\n",
            "{}",
        ),
        ("Host: a\r\nContent-Length: +3\r\n", "{} "),
        ("Host: a\r\nTransfer-Encoding: gzip, chunked\r\n", chunked),
        (
            "Host: a\r\nTransfer-Encoding: chunked, identity\r\n",
            chunked,
        ),
        ("Host: a\r\nTransfer-Encoding: xchunked\r\n", chunked),
        ("Host: a\r\nContent-Length : 2\r\n", "{}"),
        ("Host: a\r\nX: 1\r\n folded\r\n", ""),
        ("", ""),
        ("Host: a\r\nHost: b\r\n", ""),
    ] {
        let request = format!(
            "POST /livez HTTP/1.1\r\n{head}\r\n{body}GET /livez HTTP/1.1\r\nHost: a\r\n\r\n"
        );
        let heard = speak(&app, &request, None).await;
        assert!(heard.starts_with("HTTP/1.1 400 "), "{head:?}: {heard}");
        assert_eq!(heard.matches("HTTP/1.1 ").count(), 1, "{head:?}: {heard}");
    }
    for line in ["GET /li\0vez HTTP/1.1", "POST /livez HTTP/1.0"] {
        let heard = speak(
            &app,
            &format!("{line}\r\nHost: a\r\nTransfer-Encoding: chunked\r\n\r\n{chunked}"),
            None,
        )
        .await;
        assert!(
            heard.starts_with("HTTP/1.1 400 ") || heard.starts_with("HTTP/1.0 400 "),
            "{line:?}: {heard}"
        );
    }
}

#[tokio::test]
async fn s_101_host_and_authority_decide_nothing() {
    let app = TestApp::start().await;
    for (line, host) in [
        ("GET /livez HTTP/1.1", "evil.test"),
        ("GET http://evil.test/livez HTTP/1.1", "a"),
    ] {
        let heard = speak(
            &app,
            &format!("{line}\r\nHost: {host}\r\nConnection: close\r\n\r\n"),
            None,
        )
        .await;
        assert!(heard.starts_with("HTTP/1.1 200 "), "{line}: {heard}");
        assert!(!heard.contains("evil"), "{line}: {heard}");
        let sites = line.replace("/livez", "/v1/sites");
        let heard = speak(
            &app,
            &format!("{sites}\r\nHost: {host}\r\nConnection: close\r\n\r\n"),
            None,
        )
        .await;
        assert!(
            heard.starts_with("HTTP/1.1 401 ") && !heard.contains("evil"),
            "{sites}: {heard}"
        );
    }
}
