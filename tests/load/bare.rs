//! The smallest servers that answer what the service answers, to be measured beside it: one that sends a file, one that
//! sends the same statements to the same tables through the driver alone. No token, no log, no validation, no planning.
//!
//! `bare ADDRESS static FILE` answers every request with the file. `bare ADDRESS URL SAMPLE` serves a database; `SAMPLE` is
//! a JSON file with the rows that a plan and a completion are made of, see `run.py`.

#[path = "bare/statements.rs"]
mod statements;

use std::{error::Error, fs, time::Duration};

use actix_web::{App, HttpResponse, HttpServer, web};
use serde_json::Value;
use sqlx::{
    postgres::PgPoolOptions,
    sqlite::{SqliteConnectOptions, SqliteJournalMode, SqlitePoolOptions, SqliteSynchronous},
};

type Outcome<T> = Result<T, Box<dyn Error>>;

const USAGE: &str = "usage: bare ADDRESS static FILE | bare ADDRESS URL SAMPLE";
/// As many connections as the service has by default.
const POSTGRES: u32 = 8;
const SQLITE_READERS: u32 = 4;
/// How long a connection may wait for its first or its next request: in an open run at a low rate longer than the five seconds that
/// are usual.
const IDLE: Duration = Duration::from_mins(1);

/// The allocator of the service.
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

#[actix_web::main]
async fn main() -> Outcome<()> {
    let given: Vec<String> = std::env::args().skip(1).collect();
    let [address, what, file] = given.as_slice() else {
        return Err(USAGE.into());
    };
    let file = fs::read_to_string(file)?;
    if what == "static" {
        return send(address, file).await;
    }
    let sample: Value = serde_json::from_str(&file)?;
    if what.starts_with("postgres://") {
        let pool = PgPoolOptions::new().max_connections(POSTGRES);
        let pool = pool.connect(what).await?;
        statements::postgres::serve(address, (pool.clone(), pool), sample).await
    } else {
        let options = what
            .parse::<SqliteConnectOptions>()?
            .journal_mode(SqliteJournalMode::Wal)
            .synchronous(SqliteSynchronous::Full)
            .foreign_keys(true)
            .busy_timeout(Duration::from_secs(5));
        let pool = |n| {
            SqlitePoolOptions::new()
                .max_connections(n)
                .test_before_acquire(false)
        };
        let writer = pool(1).connect_with(options.clone()).await?;
        let reader = pool(SQLITE_READERS).connect_with(options).await?;
        statements::sqlite::serve(address, (reader, writer), sample).await
    }
}

async fn send(address: &str, file: String) -> Outcome<()> {
    let file = web::Data::new(web::Bytes::from(file));
    let app = move || {
        let file = file.clone();
        App::new()
            .app_data(file)
            // Bodies are read: the framework hangs up on who sent one that nobody took.
            .default_service(web::to(
                async |_body: web::Bytes, file: web::Data<web::Bytes>| {
                    HttpResponse::Ok()
                        .content_type("application/json")
                        .body(file.get_ref().clone())
                },
            ))
    };
    let server = HttpServer::new(app)
        .keep_alive(IDLE)
        .client_request_timeout(IDLE);
    Ok(server.workers(1).bind(address)?.run().await?)
}
