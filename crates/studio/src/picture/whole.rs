//! Whether a JPEG file is whole. Decoders fill what is missing with gray and say nothing, and a picture that was cut off
//! on its way would stand in the record as proof.

/// Whether the file has the end of its picture: ITU-T T.81 (1992), annex B, `EOI` after the last scan. What stands behind
/// the end, as some phones hang it on, is not looked at.
pub fn has_its_end(jpeg: &[u8]) -> bool {
    const SOI: u8 = 0xd8;
    const EOI: u8 = 0xd9;
    const SOS: u8 = 0xda;
    let mut rest = jpeg;
    loop {
        // fill bytes may stand before a marker (B.1.1.2)
        while let [0xff, 0xff, ..] = rest {
            rest = &rest[1..];
        }
        let [0xff, marker, after @ ..] = rest else { return false };
        match *marker {
            EOI => return true,
            // these stand alone: start, restart, TEM
            SOI | 0xd0..=0xd7 | 0x01 => rest = after,
            marker => {
                // the length counts itself (B.1.1.4)
                let [high, low, ..] = after else { return false };
                let length = usize::from(u16::from_be_bytes([*high, *low]));
                let Some(behind) = after.get(length.max(2)..) else { return false };
                rest = if marker == SOS { behind_scan(behind) } else { behind };
            }
        }
    }
}

/// What follows the coded data of a scan: in it 0xff is followed by 0 or is a restart (B.1.1.5).
fn behind_scan(coded: &[u8]) -> &[u8] {
    let ends = coded.windows(2).position(|w| w[0] == 0xff && !matches!(w[1], 0 | 0xd0..=0xd7));
    &coded[ends.unwrap_or(coded.len())..]
}

#[cfg(test)]
mod tests {
    use super::has_its_end;
    use image::codecs::jpeg::JpegEncoder;

    fn picture() -> Vec<u8> {
        let drawn = image::RgbImage::from_fn(97, 61, |x, y| image::Rgb([x as u8, y as u8, (x * y) as u8]));
        let mut out = Vec::new();
        JpegEncoder::new_with_quality(&mut out, 90).encode_image(&drawn).unwrap();
        out
    }

    #[test]
    fn a_whole_picture_has_its_end_and_no_part_of_it_has() {
        let whole = picture();
        assert!(has_its_end(&whole));
        for cut in 0..whole.len() {
            assert!(!has_its_end(&whole[..cut]), "cut after {cut} of {} bytes", whole.len());
        }
    }

    #[test]
    fn what_stands_behind_the_end_or_in_the_notes_is_no_end() {
        let whole = picture();
        let hung_on = [&whole[..], b"more of the camera"].concat();
        assert!(has_its_end(&hung_on));
        // a small picture within the notes, as cameras write it, has an end of its own
        let mut notes = vec![0xff, 0xd8, 0xff, 0xe1];
        notes.extend((whole.len() as u16 + 2).to_be_bytes());
        notes.extend(&whole);
        notes.extend(&whole[2..whole.len() - 40]);
        assert!(!has_its_end(&notes));
        notes.extend(&whole[whole.len() - 40..]);
        assert!(has_its_end(&notes));
    }
}
