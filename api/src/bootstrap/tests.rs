//! How a service stops.

use std::{path::PathBuf, time::Duration};

use reqwest::StatusCode;
use tokio::sync::oneshot;

use super::Application;
use crate::{config::Config, context::Parts};

/// A database's file, which is gone with the test.
struct File(PathBuf);

impl Drop for File {
    fn drop(&mut self) {
        for end in ["", "-wal", "-shm"] {
            let _ = std::fs::remove_file(format!("{}{end}", self.0.display()));
        }
    }
}

/// A service on a file of its own that goes on taking requests for as long as the test may last.
async fn service(name: &str) -> (Application, File) {
    let file = std::env::temp_dir().join(format!("wearcourse-{name}-{}", std::process::id()));
    let variables = [
        ("WEARCOURSE_BIND", "127.0.0.1:0".to_owned()),
        ("WEARCOURSE_METRICS_BIND", "off".to_owned()),
        ("WEARCOURSE_WORKERS", "1".to_owned()),
        ("WEARCOURSE_DRAIN_S", "300".to_owned()),
        ("WEARCOURSE_OUTBOUND", "off".to_owned()),
        (
            "WEARCOURSE_AUTH_SECRET",
            "correct horse battery staple, 32 bytes".to_owned(),
        ),
        (
            "WEARCOURSE_DATABASE_URL",
            format!("sqlite://{}", file.display()),
        ),
    ];
    let config = Config::from_vars(variables).unwrap();
    let parts = Parts::open(&config).await.unwrap();
    (Application::build(&config, parts).unwrap(), File(file))
}

async fn status(url: &str) -> StatusCode {
    // A client of its own: every question is asked on a new connection.
    let http = reqwest::Client::builder().no_proxy().build().unwrap();
    http.get(url).send().await.unwrap().status()
}

#[actix_web::test]
async fn f_53_who_is_to_stop_says_so_before_the_listener_closes_and_hurries_if_told_again() {
    let (service, _file) = service("drain").await;
    let (ready, live) = ["/readyz", "/livez"]
        .map(|path| format!("http://{}{path}", service.addr()))
        .into();
    let (stop, stopped) = oneshot::channel::<()>();
    let (hurry, hurried) = oneshot::channel::<()>();
    let wait = |signal: oneshot::Receiver<()>| async {
        let _told = signal.await;
    };
    let served = service.run_until(wait(stopped), wait(hurried));
    let watched = async {
        assert_eq!(status(&ready).await, StatusCode::OK);
        drop(stop);
        while status(&ready).await == StatusCode::OK {}
        assert_eq!(status(&ready).await, StatusCode::SERVICE_UNAVAILABLE);
        assert_eq!(
            status(&live).await,
            StatusCode::OK,
            "new connections are served"
        );
        drop(hurry);
    };
    let both = async { tokio::join!(served, watched).0 };
    let in_time = Box::pin(tokio::time::timeout(Duration::from_mins(1), both)).await;
    in_time.expect("the second signal ends the drain").unwrap();
}
