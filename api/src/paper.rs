//! Pages as PDF: A4, with text that can be searched and read aloud. What is printed is the page that a browser shows, element by
//! element, so that the two cannot differ.

mod letters;
mod press;
mod tree;

use std::sync::Arc;

pub(crate) use press::Press;
use tokio::sync::Semaphore;

use crate::problem::{Code, Problem};

/// How many pages are printed at once in a process: each takes a thread, and memory.
static PRESSES: Semaphore = Semaphore::const_new(2);
/// How many are printed or wait for it: more are told to come back, so that nobody waits behind a crowd.
static PLACES: Semaphore = Semaphore::const_new(16);

/// A page that was printed.
#[derive(Debug)]
pub(crate) struct Printed {
    /// Its title.
    pub(crate) title: String,
    /// The PDF.
    pub(crate) content: Vec<u8>,
}

/// A page that cannot be printed: a fault of ours.
#[derive(Debug, thiserror::Error)]
enum Fault {
    /// It is not written as our pages are.
    #[error(transparent)]
    Page(#[from] tree::Unreadable),
    /// The press failed.
    #[error(transparent)]
    Press(#[from] press::Unprinted),
}

/// Prints a page of ours on a thread of its own; `address` is where it can be read in a browser.
///
/// # Errors
/// `unavailable` while many others are printed; `internal` for one that cannot be printed.
pub(crate) async fn print(
    press: &Arc<Press>,
    html: String,
    address: String,
) -> Result<Printed, Problem> {
    let place = PLACES.try_acquire();
    let _place = place.map_err(|_full| {
        Problem::new(
            Code::Unavailable,
            "Many pages are being printed: ask again, or for HTML.",
        )
    })?;
    let permit = PRESSES.acquire().await;
    let permit = permit.map_err(|closed| Problem::internal(&closed))?;
    let press = Arc::clone(press);
    let printed = tokio::task::spawn_blocking(move || {
        let printed = pressed(&press, &html, &address);
        drop(permit);
        printed
    });
    let printed = printed.await.map_err(|error| Problem::internal(&error))?;
    printed.map_err(|fault| Problem::internal(&fault))
}

fn pressed(press: &Press, html: &str, address: &str) -> Result<Printed, Fault> {
    let mut page = tree::tree(html)?;
    let content = press::print(press, &mut page, address)?;
    Ok(Printed {
        title: page.title,
        content,
    })
}
