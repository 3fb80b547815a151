//! ZIP files as names and bytes.

use std::collections::BTreeMap;
use std::io::{Cursor, Read, Write};

use zip::result::ZipError;
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, DateTime, ZipArchive, ZipWriter};

/// Why a ZIP file is not taken.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ZipFault {
    /// No ZIP file, or a damaged one.
    #[error("is no sound ZIP file ({0}); export it again")]
    Unsound(String),
    /// More than fits, however small the file is.
    #[error("unpacks to more than {most_mb} MB; export less at a time")]
    TooLarge {
        /// Most that is unpacked.
        most_mb: u64,
    },
    /// Two files of one name.
    #[error("holds `{0}` twice; export it again")]
    Twice(String),
}

/// Packs files by their names. The same files give the same bytes: no times are kept.
pub fn pack(files: &BTreeMap<String, Vec<u8>>) -> Result<Vec<u8>, ZipFault> {
    let options = SimpleFileOptions::default()
        .compression_method(CompressionMethod::Deflated)
        .last_modified_time(DateTime::default());
    let mut writer = ZipWriter::new(Cursor::new(Vec::new()));
    let unsound = |error: ZipError| ZipFault::Unsound(error.to_string());
    for (name, bytes) in files {
        writer.start_file(name, options).map_err(unsound)?;
        writer.write_all(bytes).map_err(|error| ZipFault::Unsound(error.to_string()))?;
    }
    Ok(writer.finish().map_err(unsound)?.into_inner())
}

/// Unpacks the files of an archive, by the names behind their last `/`; folders are left out. Nothing is written anywhere, so
/// that a name that leads elsewhere leads nowhere.
///
/// # Errors
/// [`ZipFault`].
pub fn unzip(bytes: &[u8], most_mb: u64) -> Result<BTreeMap<String, Vec<u8>>, ZipFault> {
    let unsound = |error: ZipError| ZipFault::Unsound(error.to_string());
    let mut archive = ZipArchive::new(Cursor::new(bytes)).map_err(unsound)?;
    let mut left = most_mb << 20;
    let mut files = BTreeMap::new();
    for index in 0..archive.len() {
        let file = archive.by_index(index).map_err(unsound)?;
        if file.is_dir() {
            continue;
        }
        let name = file.name().rsplit(['/', '\\']).next().unwrap_or_default().to_owned();
        let mut content = Vec::new();
        // What the archive says of its sizes need not be so.
        let read = file.take(left + 1).read_to_end(&mut content);
        read.map_err(|error| ZipFault::Unsound(error.to_string()))?;
        left = left.checked_sub(content.len() as u64).ok_or(ZipFault::TooLarge { most_mb })?;
        if files.insert(name.clone(), content).is_some() {
            return Err(ZipFault::Twice(name));
        }
    }
    Ok(files)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn some() -> BTreeMap<String, Vec<u8>> {
        BTreeMap::from([("a".to_owned(), vec![7; 3 << 20]), ("b/c".to_owned(), b"x".to_vec())])
    }

    #[test]
    fn what_is_packed_is_unpacked_and_packs_the_same() {
        let packed = pack(&some()).unwrap();
        assert_eq!(packed, pack(&some()).unwrap());
        let files = unzip(&packed, 4).unwrap();
        assert_eq!(files["c"], b"x");
        assert_eq!(files["a"].len(), 3 << 20);
    }

    #[test]
    fn a_small_file_that_unpacks_to_much_is_refused() {
        let packed = pack(&some()).unwrap();
        assert!(packed.len() < 10_000);
        assert_eq!(unzip(&packed, 2), Err(ZipFault::TooLarge { most_mb: 2 }));
    }

    #[test]
    fn damage_is_told() {
        let mut packed = pack(&some()).unwrap();
        packed[100] ^= 0xff;
        assert!(matches!(unzip(&packed, 4), Err(ZipFault::Unsound(_))));
        assert!(matches!(unzip(b"PK nothing", 4), Err(ZipFault::Unsound(_))));
    }
}
