//! Recordings as browsers and phones make them: told by their first bytes, never decoded here.

use crate::refusal::Refusal;

/// Largest recording taken: some three minutes even where a phone records generously.
pub const LARGEST_BYTES: usize = 8 << 20;

/// Media type of a recording; none when it is none that browsers play.
pub fn kind(bytes: &[u8]) -> Option<&'static str> {
    match bytes {
        [0x1a, 0x45, 0xdf, 0xa3, ..] => Some("audio/webm"),
        [b'O', b'g', b'g', b'S', ..] => Some("audio/ogg"),
        [b'R', b'I', b'F', b'F', _, _, _, _, b'W', b'A', b'V', b'E', ..] => Some("audio/wav"),
        // An MP4 container; HEIC and AVIF pictures have the same frame under other names.
        [_, _, _, _, b'f', b't', b'y', b'p', brand @ ..] => {
            let brand = brand.get(..4)?;
            let heard = [*b"M4A ", *b"M4B ", *b"isom", *b"iso2", *b"iso5", *b"iso6", *b"mp41", *b"mp42"];
            heard.iter().any(|b| b == brand).then_some("audio/mp4")
        }
        [b'I', b'D', b'3', ..] => Some("audio/mpeg"),
        [0xff, second, ..] if second & 0xe6 == 0xe2 => Some("audio/mpeg"),
        [0xff, second, ..] if second & 0xf6 == 0xf0 => Some("audio/aac"),
        _ => None,
    }
}

/// Looks at a recording that comes in.
///
/// # Errors
/// When it is empty, too large, or no recording.
pub fn check(name: &str, bytes: &[u8]) -> Result<(), Refusal> {
    if bytes.is_empty() {
        return Err(Refusal::invalid("The recording is empty", "Record it again.").at(name));
    }
    if bytes.len() > LARGEST_BYTES {
        return Err(Refusal::invalid(
            format!("The recording has {} MB", bytes.len() >> 20),
            format!("Send at most {} MB: speak shorter, or in two notes.", LARGEST_BYTES >> 20),
        )
        .at(name));
    }
    if kind(bytes).is_none() {
        return Err(Refusal::invalid(
            "This is not a recording that can be played",
            "Record it on this page, or send WebM, Ogg, MP4, MP3, AAC or WAV sound.",
        )
        .at(name));
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::kind;

    /// First bytes: RFC 8794 (EBML), RFC 3533 (Ogg), ISO/IEC 14496-12 (file type box), ISO/IEC 11172-3 and 13818-7
    /// (sync words); from memory.
    #[test]
    fn recordings_are_told_from_pictures() {
        assert_eq!(kind(b"\x1a\x45\xdf\xa3\x9f"), Some("audio/webm"));
        assert_eq!(kind(b"OggS\0"), Some("audio/ogg"));
        assert_eq!(kind(b"\0\0\0\x1cftypM4A \0"), Some("audio/mp4"));
        assert_eq!(kind(&[0xff, 0xfb, 0x90]), Some("audio/mpeg"));
        assert_eq!(kind(&[0xff, 0xf1, 0x50]), Some("audio/aac"));
        for no in [
            &b""[..],
            b"\xff\xd8\xff\xe0",
            b"\x89PNG\r\n",
            b"\0\0\0\x18ftypheic",
            b"%PDF-1.7",
            b"<html>",
            b"\0\0\0\x18ftyp",
        ] {
            assert_eq!(kind(no), None, "{no:?}");
        }
    }
}
