//! Strings of ISO 10303-21: `''` is a quote, `\X2\....\X0\` UTF-16, `\X4\........\X0\` UTF-32, `\X\..` one of ISO 8859-1,
//! `\S\.` the upper half of a page of ISO 8859, which `\P.\` names.
//!
//! Only the first page is read: a character of another one shows as U+FFFD.

use super::super::MAX_NAME;

/// The text that is written between quotes, up to a character more than a name may have.
pub(in super::super) fn decode(raw: &[u8]) -> String {
    let mut out = String::new();
    let mut rest = raw;
    let mut first_page = true;
    for _ in 0..=MAX_NAME {
        match rest {
            [] => break,
            [b'\'', b'\'', tail @ ..] => {
                out.push('\'');
                rest = tail;
            }
            [b'\\', b'\\', tail @ ..] => {
                out.push('\\');
                rest = tail;
            }
            [b'\\', b'S', b'\\', byte, tail @ ..] => {
                out.push(if first_page {
                    char::from(byte | 0x80)
                } else {
                    char::REPLACEMENT_CHARACTER
                });
                rest = tail;
            }
            [b'\\', b'P', page, b'\\', tail @ ..] => {
                first_page = *page == b'A';
                rest = tail;
            }
            [b'\\', b'X', b'\\', high, low, tail @ ..] => {
                let byte = hex(&[*high, *low]).and_then(|value| u8::try_from(value).ok());
                out.push(byte.map_or(char::REPLACEMENT_CHARACTER, char::from));
                rest = tail;
            }
            [b'\\', b'X', b'2', b'\\', tail @ ..] => rest = wide(tail, 4, &mut out),
            [b'\\', b'X', b'4', b'\\', tail @ ..] => rest = wide(tail, 8, &mut out),
            _ => rest = plain(rest, &mut out),
        }
    }
    out
}

/// One character that stands as itself: files are to be ASCII, many are UTF-8.
fn plain<'r>(rest: &'r [u8], out: &mut String) -> &'r [u8] {
    let head = rest.get(..4).unwrap_or(rest);
    let valid = match std::str::from_utf8(head) {
        Ok(text) => text,
        Err(error) => {
            std::str::from_utf8(head.get(..error.valid_up_to()).unwrap_or_default()).unwrap_or("")
        }
    };
    let c = valid.chars().next();
    out.push(c.unwrap_or(char::REPLACEMENT_CHARACTER));
    rest.get(c.map_or(1, char::len_utf8)..).unwrap_or_default()
}

/// A run of characters of `width` hexadecimal digits each, up to `\X0\`.
fn wide<'r>(rest: &'r [u8], width: usize, out: &mut String) -> &'r [u8] {
    let end = rest
        .iter()
        .position(|byte| *byte == b'\\')
        .unwrap_or(rest.len());
    let (digits, tail) = rest.split_at_checked(end).unwrap_or((rest, &[]));
    let units = digits.chunks(width).take(MAX_NAME + 1).map(hex);
    if width == 4 {
        let units = units.map(|unit| {
            unit.and_then(|unit| u16::try_from(unit).ok())
                .unwrap_or(0xFFFD)
        });
        out.extend(char::decode_utf16(units).map(|c| c.unwrap_or(char::REPLACEMENT_CHARACTER)));
    } else {
        out.extend(units.map(|unit| {
            unit.and_then(char::from_u32)
                .unwrap_or(char::REPLACEMENT_CHARACTER)
        }));
    }
    tail.strip_prefix(b"\\X0\\")
        .unwrap_or(tail.get(1..).unwrap_or_default())
}

fn hex(digits: &[u8]) -> Option<u32> {
    let text = std::str::from_utf8(digits).ok()?;
    let plain = text.bytes().all(|byte| byte.is_ascii_hexdigit());
    u32::from_str_radix(text, 16).ok().filter(|_| plain)
}

#[cfg(test)]
mod tests {
    use super::decode;

    #[test]
    fn strings_are_read_by_the_escapes_of_the_standard() {
        // Source: ISO 10303-21, encoding of strings; the values of ISO 8859-1 and Unicode.
        let cases: [(&str, &str); 8] = [
            ("Room", "Room"),
            ("O''Hara", "O'Hara"),
            (r"K\X2\00FC\X0\che", "Küche"),
            (r"K\S\|che", "Küche"),
            (r"K\X\FCche", "Küche"),
            (r"\X4\0001F9F9\X0\ a\\b", "\u{1F9F9} a\\b"),
            ("Küche", "Küche"),
            (r"\X2\D83E\X0\", "\u{FFFD}"),
        ];
        for (raw, text) in cases {
            assert_eq!(decode(raw.as_bytes()), text, "{raw}");
        }
        assert_eq!(decode(&[b'a', 0xFF, b'b']), "a\u{FFFD}b");
        assert_eq!(decode(&vec![b'x'; 1_000_000]).len(), 201);
    }
}
