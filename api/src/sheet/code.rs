//! An address as a QR code (ISO/IEC 18004), to be read from paper by a phone.

use std::fmt::Write as _;

use maud::{Markup, html};
use qrcode::{Color, EcLevel, QrCode};

/// Modules of quiet zone around it, by the standard.
const QUIET: usize = 4;

/// The code of an address, with the address in words beside it; nothing for one that is too long for any code.
pub(super) fn code(address: &str, meaning: &str) -> Markup {
    // A quarter of it may be unreadable: sheets lie on wet floors.
    let Ok(code) = QrCode::with_error_correction_level(address, EcLevel::Q) else {
        return html! {};
    };
    let width = code.width();
    let side = width.saturating_add(QUIET.saturating_mul(2));
    html! {
        svg.code xmlns="http://www.w3.org/2000/svg" viewBox=(format!("0 0 {side} {side}")) width="220" height="220" role="img" aria-label=(meaning) shape-rendering="crispEdges" {
            rect width=(side) height=(side) fill="#fff" {}
            path d=(path(&code.to_colors(), width)) fill="#000" {}
        }
    }
}

/// The dark modules, row by row, neighbours as one.
fn path(modules: &[Color], width: usize) -> String {
    let mut path = String::new();
    for (y, row) in modules.chunks(width.max(1)).enumerate() {
        let mut x = 0;
        for run in row.chunk_by(|one, next| one == next) {
            if run.first() == Some(&Color::Dark) {
                let (left, top, n) = (x + QUIET, y + QUIET, run.len());
                // Writing to a string does not fail.
                let _ = write!(path, "M{left} {top}h{n}v1h-{n}z");
            }
            x += run.len();
        }
    }
    path
}

#[cfg(test)]
mod tests {
    use super::{Color, path};

    #[test]
    fn dark_neighbours_are_drawn_as_one() {
        let modules = [
            Color::Dark,
            Color::Dark,
            Color::Light,
            Color::Light,
            Color::Light,
            Color::Dark,
        ];
        assert_eq!(path(&modules, 3), "M4 4h2v1h-2zM6 5h1v1h-1z");
    }
}
