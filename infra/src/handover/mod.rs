//! Readers of the files that are handed over with a building.
//!
//! Each takes the bytes of a whole file and gives what the domain knows as a hand-over. They are made for files from anywhere: what
//! is unpacked, counted and held in memory has a limit each, and nothing outside the file is ever read.

mod archive;
mod cobie;
mod geojson;
mod sheet;
#[cfg(test)]
mod tests;
mod xml;

use domain::handover::{Format, Handover, Refusal, read_csv, read_ifc};

/// Reads a file. It takes up to a second and works without pause: call it where that holds nobody up.
///
/// # Errors
/// [`Refusal`]: what is wrong with the file as a whole, and where.
pub fn read(format: Format, bytes: &[u8]) -> Result<Handover, Refusal> {
    match format {
        Format::Cobie => cobie::read(bytes),
        Format::Ifc => read_ifc(bytes),
        Format::Csv => read_csv(bytes),
        Format::Geojson => geojson::read(bytes),
    }
}
