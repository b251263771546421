//! Bytes as lower-case hexadecimal digits.

use std::fmt::Write as _;

/// Two digits for each byte.
pub(crate) fn hex(bytes: &[u8]) -> String {
    bytes.iter().fold(String::new(), |mut text, byte| {
        // Writing to a string does not fail.
        let _ = write!(text, "{byte:02x}");
        text
    })
}

#[cfg(test)]
mod tests {
    use super::hex;

    #[test]
    fn each_byte_has_two_digits() {
        assert_eq!(hex(&[0, 10, 255]), "000aff");
    }
}
