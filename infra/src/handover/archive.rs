//! The archive around a workbook, and how much may come out of it.
//!
//! What an archive says of its sizes is looked at first and believed in nothing: what comes out is counted.

use std::io::{self, Cursor, Read};

use domain::handover::{Place, Refusal, RefusalKind};
use zip::ZipArchive;

/// The most bytes of an archive.
const MAX_BYTES: usize = 64 * 1024 * 1024;
/// The most entries.
const MAX_ENTRIES: usize = 1_000;
/// The most bytes that may come out of an archive, of all parts that are read.
const MAX_UNPACKED: u64 = 512 * 1024 * 1024;
/// How many bytes may come out of each byte of a part, and how many from any.
const MAX_RATIO: u64 = 100;
const ANY_RATIO: u64 = 1024 * 1024;
/// How every entry of the directory begins.
const DIRECTORY_ENTRY: &[u8] = b"PK\x01\x02";

/// An open archive.
pub(super) struct Archive<'f> {
    zip: ZipArchive<Cursor<&'f [u8]>>,
    /// How many bytes may still come out.
    left: u64,
}

impl<'f> Archive<'f> {
    /// Opens an archive and looks at its directory.
    pub(super) fn open(bytes: &'f [u8]) -> Result<Self, Refusal> {
        let refuse = |kind, detail: &str| Err(Refusal::new(kind, detail, Place::File));
        if bytes.len() > MAX_BYTES {
            return refuse(RefusalKind::TooLarge, "The file is larger than 64 MiB.");
        }
        if !bytes.starts_with(b"PK\x03\x04") {
            return refuse(
                RefusalKind::NotTheFormat,
                "The file is not a workbook (.xlsx).",
            );
        }
        // Counted before the directory is read: reading it takes memory for each entry.
        let marks = bytes.windows(4).filter(|window| *window == DIRECTORY_ENTRY);
        if marks.take(MAX_ENTRIES + 1).count() > MAX_ENTRIES {
            return refuse(
                RefusalKind::TooLarge,
                "The archive has more than 1,000 entries.",
            );
        }
        let Ok(zip) = ZipArchive::new(Cursor::new(bytes)) else {
            return refuse(RefusalKind::Malformed, "The archive is broken or cut off.");
        };
        let mut archive = Self {
            zip,
            left: MAX_UNPACKED,
        };
        archive.look()?;
        Ok(archive)
    }

    /// What the directory says: names that lead out of the archive, and sizes that no workbook has.
    fn look(&mut self) -> Result<(), Refusal> {
        let mut unpacked = 0_u64;
        for index in 0..self.zip.len() {
            let Ok(entry) = self.zip.by_index_raw(index) else {
                return Err(broken(Place::File));
            };
            let name = String::from_utf8_lossy(entry.name_raw()).into_owned();
            let place =
                || Place::Part(name.chars().take(80).flat_map(char::escape_debug).collect());
            let leads_out = name.starts_with(['/', '\\'])
                || name.contains(['\\', ':', '\0'])
                || name.split('/').any(|step| step == "..");
            if leads_out {
                let detail = "The entry's name leads out of the archive.";
                return Err(Refusal::new(RefusalKind::Hostile, detail, place()));
            }
            if entry.encrypted() {
                let detail = "The archive is encrypted.";
                return Err(Refusal::new(RefusalKind::Unsupported, detail, place()));
            }
            unpacked = unpacked.saturating_add(entry.size());
            if entry.size() > room(entry.compressed_size()) {
                return Err(bomb(place()));
            }
            if unpacked > MAX_UNPACKED {
                let detail = "The archive unpacks to more than 512 MiB.";
                return Err(Refusal::new(RefusalKind::TooLarge, detail, place()));
            }
        }
        Ok(())
    }

    /// A part by its name, unpacked as it is read; `None` where there is none.
    pub(super) fn part(&mut self, name: &str) -> Result<Option<Part<'_, impl Read>>, Refusal> {
        let Some(index) = self.zip.index_for_name(name) else {
            return Ok(None);
        };
        let Ok(entry) = self.zip.by_index(index) else {
            return Err(broken(Place::Part(name.to_owned())));
        };
        let left = room(entry.compressed_size());
        Ok(Some(Part {
            inner: entry,
            left,
            of_all: &mut self.left,
        }))
    }
}

/// How much may come out of a part of this size.
fn room(compressed: u64) -> u64 {
    compressed.saturating_mul(MAX_RATIO).max(ANY_RATIO)
}

fn broken(place: Place) -> Refusal {
    Refusal::new(
        RefusalKind::Malformed,
        "The entry cannot be unpacked.",
        place,
    )
}

fn bomb(place: Place) -> Refusal {
    let detail = "The entry unpacks to more than 100 times its size.";
    Refusal::new(RefusalKind::Hostile, detail, place)
}

/// A part that is read, and what may still come out of it.
pub(super) struct Part<'a, R> {
    inner: R,
    left: u64,
    of_all: &'a mut u64,
}

impl<R: Read> Read for Part<'_, R> {
    fn read(&mut self, buf: &mut [u8]) -> io::Result<usize> {
        let n_read = self.inner.read(buf)?;
        let size = u64::try_from(n_read).unwrap_or(u64::MAX);
        let (Some(left), Some(of_all)) =
            (self.left.checked_sub(size), self.of_all.checked_sub(size))
        else {
            return Err(io::Error::other(super::xml::TOO_MUCH));
        };
        self.left = left;
        *self.of_all = of_all;
        Ok(n_read)
    }
}
