//! Walks through the clinic against a running service; see `tests/clinic/README.md`.

use std::{error::Error, fs, io, path::PathBuf};

use tests::{
    client::Caller,
    clinic::{Assumptions, read_rooms, walk},
};

const USAGE: &str =
    "usage: clinic --url http://127.0.0.1:8080 --token TOKEN [--assume FILE] [--rooms FILE]";

/// What the command line says.
struct Arguments {
    url: String,
    token: String,
    assume: Option<PathBuf>,
    rooms: PathBuf,
}

fn arguments() -> Option<Arguments> {
    let (mut url, mut token, mut assume) = (None, None, None);
    let mut rooms = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("clinic/rooms.csv");
    let mut given = std::env::args().skip(1);
    while let Some(name) = given.next() {
        let value = given.next()?;
        match name.as_str() {
            "--url" => url = Some(value.trim_end_matches('/').to_owned()),
            "--token" => token = Some(value),
            "--assume" => assume = Some(value.into()),
            "--rooms" => rooms = value.into(),
            _ => return None,
        }
    }
    Some(Arguments {
        url: url?,
        token: token?,
        assume,
        rooms,
    })
}

#[tokio::main(flavor = "current_thread")]
async fn main() -> Result<(), Box<dyn Error + Send + Sync>> {
    let Arguments {
        url,
        token,
        assume,
        rooms,
    } = arguments().ok_or(USAGE)?;
    let rooms = read_rooms(fs::File::open(rooms)?)?;
    let assumptions = match assume {
        Some(path) => Some(Assumptions::read(&fs::read_to_string(path)?)?),
        None => None,
    };
    let caller = Caller::new(Caller::http()?, url, Some(token));
    walk(
        &caller,
        &rooms,
        assumptions.as_ref(),
        &mut io::stdout().lock(),
    )
    .await?;
    Ok(())
}
