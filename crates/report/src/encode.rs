//! Images as text that a page can hold.

/// A picture with alpha as PNG, eight bits a channel, row by row.
pub fn png(width: usize, height: usize, rgba: &[u8]) -> Vec<u8> {
    let mut bytes = Vec::new();
    let mut encoder = png::Encoder::new(&mut bytes, width as u32, height as u32);
    encoder.set_color(png::ColorType::Rgba);
    encoder.set_depth(png::BitDepth::Eight);
    // An eighth of the time of the default for a third more bytes.
    encoder.set_compression(png::Compression::Fast);
    // Writing to memory fails only for sizes that do not match; then there is no picture rather than a panic.
    let written = encoder.write_header().and_then(|mut writer| writer.write_image_data(rgba));
    if written.is_err() {
        bytes.clear();
    }
    bytes
}

/// A `data:` address of a PNG.
pub fn data_uri(png: &[u8]) -> String {
    format!("data:image/png;base64,{}", base64(png))
}

/// Base 64 with padding.
///
/// # Source
/// RFC 4648, section 4.
fn base64(bytes: &[u8]) -> String {
    const DIGITS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let mut text = String::with_capacity(bytes.len().div_ceil(3) * 4);
    for three in bytes.chunks(3) {
        let padded = [three[0], *three.get(1).unwrap_or(&0), *three.get(2).unwrap_or(&0)];
        let bits = u32::from_be_bytes([0, padded[0], padded[1], padded[2]]);
        for k in 0..4 {
            let digit = DIGITS[(bits >> (18 - 6 * k)) as usize & 63];
            text.push(if k <= three.len() { digit as char } else { '=' });
        }
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn base64_matches_the_vectors_of_rfc_4648() {
        let vectors = [
            ("", ""),
            ("f", "Zg=="),
            ("fo", "Zm8="),
            ("foo", "Zm9v"),
            ("foob", "Zm9vYg=="),
            ("fooba", "Zm9vYmE="),
            ("foobar", "Zm9vYmFy"),
        ];
        for (plain, coded) in vectors {
            assert_eq!(base64(plain.as_bytes()), coded);
        }
    }

    #[test]
    fn a_png_reads_back_as_it_was_written() {
        let rgba: Vec<u8> = (0..6 * 4).map(|part| part * 9).collect();
        let bytes = png(3, 2, &rgba);
        let mut reader = png::Decoder::new(std::io::Cursor::new(&bytes)).read_info().unwrap();
        let mut back = vec![0; reader.output_buffer_size().unwrap()];
        reader.next_frame(&mut back).unwrap();
        assert_eq!(back, rgba);
        assert!(data_uri(&bytes).starts_with("data:image/png;base64,iVBORw0KGgo"));
    }

    #[test]
    fn a_picture_of_the_wrong_size_is_left_out() {
        assert!(png(3, 2, &[0; 5]).is_empty());
    }
}
