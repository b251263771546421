//! What holds for every request, on a real service without a socket.

use actix_web::{
    App,
    body::MessageBody as _,
    dev::{Service as _, ServiceResponse},
    http::StatusCode,
    middleware,
    test::{TestRequest, init_service},
    web,
};
use serde_json::Value;

use crate::{bootstrap, config::Config, context::Parts};

/// Sends one request through the edge to a handler that panics, or to nothing.
async fn answer(name: &str, request: TestRequest) -> (StatusCode, Vec<String>, Value, String) {
    let file = std::env::temp_dir().join(format!("wearcourse-edge-{name}-{}", std::process::id()));
    let config = Config::from_vars([
        (
            "WEARCOURSE_AUTH_SECRET",
            "correct horse battery staple, 32 bytes".to_owned(),
        ),
        (
            "WEARCOURSE_DATABASE_URL",
            format!("sqlite://{}", file.display()),
        ),
        ("WEARCOURSE_PUBLIC_URL", "https://care.test".to_owned()),
    ])
    .unwrap();
    let parts = Parts::open(&config).await.unwrap();
    let ctx = web::Data::new(bootstrap::context(&config, parts).unwrap());
    let panics = web::to(|| async {
        assert!(std::hint::black_box(false), "secret of the handler");
        ""
    });
    let metrics = ctx.metrics.clone();
    let app = App::new()
        .app_data(ctx)
        .service(web::resource("/panic").route(panics))
        .wrap(middleware::from_fn(super::serve));
    let answer = init_service(app).await.call(request.to_request()).await;
    let answer = match answer {
        Ok(answer) => answer.map_into_boxed_body(),
        Err(error) => ServiceResponse::new(
            TestRequest::default().to_http_request(),
            error.error_response(),
        ),
    };
    for end in ["", "-wal", "-shm"] {
        let _ = std::fs::remove_file(format!("{}{end}", file.display()));
    }
    let names = answer.headers().keys().map(ToString::to_string).collect();
    let status = answer.status();
    let body = answer.into_body().try_into_bytes().unwrap();
    (
        status,
        names,
        serde_json::from_slice(&body).unwrap_or_default(),
        String::from_utf8(metrics.text()).unwrap(),
    )
}

#[actix_web::test]
async fn s_125_a_panic_is_a_500_like_any_other() {
    let request = TestRequest::get()
        .uri("/panic")
        .insert_header(("X-Request-Id", "job-7"));
    let (status, headers, problem, counted) = answer("panic", request).await;
    assert_eq!(status, StatusCode::INTERNAL_SERVER_ERROR);
    assert_eq!(problem["code"], "internal");
    let route = r#"http_response_status_code="500",http_route="/panic""#;
    assert!(counted.contains(route), "{counted}");
    assert_eq!(problem["request_id"], "job-7");
    assert_eq!(problem["type"], "https://care.test/problems/internal");
    assert!(!problem.to_string().contains("secret"));
    for name in [
        "x-request-id",
        "x-content-type-options",
        "cache-control",
        "content-security-policy",
    ] {
        assert!(headers.iter().any(|header| header == name), "{name}");
    }
}

#[actix_web::test]
async fn s_081_an_encoded_body_is_refused_unread() {
    for encoding in [
        "gzip",
        "br",
        "zstd",
        "deflate",
        "gzip, gzip",
        "identity, gzip",
    ] {
        let request = TestRequest::post()
            .uri("/panic")
            .insert_header(("Content-Encoding", encoding));
        let (status, headers, problem, _) = answer("encoding", request).await;
        assert_eq!(status, StatusCode::UNSUPPORTED_MEDIA_TYPE, "{encoding}");
        assert_eq!(problem["code"], "unsupported_media_type");
        assert!(headers.iter().any(|header| header == "accept-post"));
    }
}
