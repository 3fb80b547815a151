//! Scans packed by gzip.

use std::io::Read;

use flate2::read::MultiGzDecoder;

use crate::ReadError;

/// The most a packed scan may unpack to; a text STL of two million triangles fits.
const MAX_BYTES: u64 = 512 << 20;

/// The most it may grow: text STL shrinks to about a tenth, even made-up flat ones rarely to a hundredth.
const MAX_RATIO: u64 = 200;

/// Whether the bytes begin as gzip does.
pub(crate) fn is_gzip(bytes: &[u8]) -> bool {
    bytes.starts_with(&[0x1F, 0x8B])
}

/// Unpacks gzip, no further than a scan can reach.
pub(crate) fn unpacked(bytes: &[u8]) -> Result<Vec<u8>, ReadError> {
    let limit = MAX_BYTES.min((1 << 20) + MAX_RATIO * bytes.len() as u64);
    let mut content = Vec::new();
    MultiGzDecoder::new(bytes)
        .take(limit + 1)
        .read_to_end(&mut content)
        .map_err(|_| ReadError::DamagedGzip)?;
    if content.len() as u64 > limit {
        return Err(ReadError::UnpacksTooLarge { limit_mib: limit >> 20 });
    }
    Ok(content)
}

#[cfg(test)]
mod tests {
    use super::*;
    use flate2::{Compression, write::GzEncoder};
    use std::io::Write;

    fn packed(content: &[u8]) -> Vec<u8> {
        let mut encoder = GzEncoder::new(Vec::new(), Compression::best());
        encoder.write_all(content).unwrap();
        encoder.finish().unwrap()
    }

    #[test]
    fn unpacks_what_was_packed() {
        let text: Vec<u8> = (0..100_000_u32).flat_map(u32::to_le_bytes).collect();
        assert_eq!(unpacked(&packed(&text)).as_ref(), Ok(&text));
    }

    #[test]
    fn stops_a_bomb_and_names_damage() {
        let bomb = packed(&vec![0; 64 << 20]);
        assert!(matches!(unpacked(&bomb), Err(ReadError::UnpacksTooLarge { .. })));
        let whole = packed(b"v 0 0 0");
        assert_eq!(unpacked(&whole[..whole.len() - 3]), Err(ReadError::DamagedGzip));
        assert_eq!(unpacked(&whole[..5]), Err(ReadError::DamagedGzip));
    }
}
