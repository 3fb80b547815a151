//! Scans that many attempts share: read, indexed and kept once.

use std::fs;
use std::path::Path;
use std::sync::{Arc, Mutex, OnceLock, PoisonError};

use kerfwright_measure::ScanFile;
use kerfwright_store::ScanRow;

/// A scan that was read, with its bytes.
#[derive(Debug)]
pub struct Baseline {
    /// Read and indexed.
    pub scan: ScanFile,
    /// As it came.
    pub bytes: Vec<u8>,
}

impl Baseline {
    fn read(file: &str, bytes: Vec<u8>) -> Result<Self, String> {
        let scan = ScanFile::read(file, &bytes).map_err(|error| error.to_string())?;
        Ok(Self { scan, bytes })
    }
}

/// The scan of a file.
///
/// # Errors
/// What is wrong with the file, in one line.
pub fn read_scan(path: &Path) -> Result<Baseline, String> {
    Baseline::read(&file_name(path), read_bytes(path)?)
}

/// One scan, read by whoever asks first.
type Slot = Arc<OnceLock<Result<Arc<Baseline>, String>>>;

/// The scans that were asked for last. Attempts of one exercise ask for the same two.
#[derive(Debug)]
pub struct Baselines {
    most: usize,
    slots: Mutex<Vec<(String, Slot)>>,
}

impl Baselines {
    /// Holds at most so many scans.
    pub fn new(most: usize) -> Self {
        Self { most: most.max(1), slots: Mutex::default() }
    }

    /// The scan of a file; read once, however many ask at the same time.
    ///
    /// # Errors
    /// What is wrong with the file, in one line.
    pub fn file(&self, path: &Path) -> Result<Arc<Baseline>, String> {
        self.scan(&path.to_string_lossy(), || Ok((file_name(path), read_bytes(path)?)))
    }

    /// The scan of a key, from what `bring` brings: its file's name and its bytes. Brought once, however many ask at the same time.
    ///
    /// # Errors
    /// What `bring` could not bring, or what is wrong with the bytes, in one line.
    pub fn scan(
        &self,
        key: &str,
        bring: impl FnOnce() -> Result<(String, Vec<u8>), String>,
    ) -> Result<Arc<Baseline>, String> {
        let read = || {
            let (file, bytes) = bring()?;
            Baseline::read(&file, bytes).map(Arc::new)
        };
        let slot = self.slot(key);
        let read = slot.get_or_init(read).clone();
        // What failed may be there the next time.
        if read.is_err() {
            self.slots
                .lock()
                .unwrap_or_else(PoisonError::into_inner)
                .retain(|(_, own)| !Arc::ptr_eq(own, &slot));
        }
        read
    }

    fn slot(&self, key: &str) -> Slot {
        let mut slots = self.slots.lock().unwrap_or_else(PoisonError::into_inner);
        let known = slots.iter().position(|(known, _)| known == key);
        let found =
            known.map(|place| slots.remove(place)).unwrap_or_else(|| (key.to_owned(), Slot::default()));
        // The latest last; what nobody asked for the longest goes.
        slots.push(found.clone());
        if slots.len() > self.most {
            slots.remove(0);
        }
        found.1
    }
}

/// The bytes of a file.
pub fn read_bytes(path: &Path) -> Result<Vec<u8>, String> {
    fs::read(path).map_err(|error| {
        format!("{}: cannot be read ({error}); check the name and the rights", path.display())
    })
}

/// A path's last part.
pub fn file_name(path: &Path) -> String {
    path.file_name().map_or_else(|| path.display().to_string(), |name| name.to_string_lossy().into())
}

/// What is to be kept of a scan.
pub fn scan_row(scan: &ScanFile, n_bytes: usize) -> ScanRow {
    let size = scan.surface.mesh.bounds().map_or([0.0; 3], |(low, high)| (high - low).into());
    ScanRow {
        id: scan.sha256.clone(),
        file: scan.file.clone(),
        n_bytes: n_bytes as i64,
        format: scan.format.clone(),
        n_triangles: scan.surface.mesh.triangles.len() as i64,
        size_mm: size.map(|mm: f64| (mm * 1e3).round() / 1e3).into(),
        findings: scan.findings.clone().into(),
        created: String::new(),
        erased: None,
    }
}
