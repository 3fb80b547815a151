//! The bytes of scans: in a folder or in a bucket, through one library.

use std::path::Path as FilePath;
use std::sync::Arc;
use std::time::Duration;

use object_store::aws::{AmazonS3Builder, AmazonS3ConfigKey};
use object_store::local::LocalFileSystem;
use object_store::path::Path;
use object_store::prefix::PrefixStore;
use object_store::{BackoffConfig, Error, ObjectStore, ObjectStoreExt, RetryConfig};

use crate::StoreError;
use crate::place::Scans;

/// The files of scans, each whole or not there. What was put has reached the disk, or the bucket's server has acknowledged it.
#[derive(Clone)]
pub(crate) struct ScanFiles {
    store: Arc<dyn ObjectStore>,
}

// Without what lies within: keys of a bucket are for nobody to read.
impl std::fmt::Debug for ScanFiles {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(out, "ScanFiles({})", self.store)
    }
}

/// How long a bucket is tried before its fault is told.
const PATIENCE: Duration = Duration::from_secs(30);

impl ScanFiles {
    /// Opens a folder, and makes it where there is none, or a bucket.
    pub async fn open(place: &Scans) -> Result<Self, StoreError> {
        let store: Arc<dyn ObjectStore> = match place {
            Scans::Folder(folder) => Arc::new(in_folder(folder).await?),
            Scans::Bucket { address, settings } => in_bucket(address, settings)?,
        };
        let files = Self { store };
        // A wrong key or name is told now, not after the first attempt.
        if let Scans::Bucket { address, .. } = place {
            files.length("none").await.map_err(|error| unreachable(address, &error))?;
        }
        Ok(files)
    }

    /// Puts a scan into its place, unless it is there.
    pub async fn put(&self, id: &str, bytes: &[u8]) -> Result<(), StoreError> {
        if self.length(id).await? != Some(bytes.len() as u64) {
            self.store.put(&path(id), bytes.to_vec().into()).await?;
        }
        Ok(())
    }

    /// The bytes of a scan.
    pub async fn read(&self, id: &str) -> Result<Vec<u8>, StoreError> {
        Ok(self.store.get(&path(id)).await?.bytes().await?.to_vec())
    }

    /// Removes a scan, if it is there.
    pub async fn remove(&self, id: &str) -> Result<(), StoreError> {
        match self.store.delete(&path(id)).await {
            Ok(()) | Err(Error::NotFound { .. }) => Ok(()),
            Err(error) => Err(error.into()),
        }
    }

    async fn length(&self, id: &str) -> Result<Option<u64>, Error> {
        match self.store.head(&path(id)).await {
            Ok(found) => Ok(Some(found.size)),
            Err(Error::NotFound { .. }) => Ok(None),
            Err(error) => Err(error),
        }
    }
}

/// The name of a scan's file.
pub(crate) fn name(id: &str) -> String {
    format!("{id}.scan")
}

fn path(id: &str) -> Path {
    Path::from(name(id))
}

async fn in_folder(folder: &FilePath) -> Result<LocalFileSystem, StoreError> {
    let told = |cause| StoreError::Folder { folder: folder.into(), cause };
    tokio::fs::create_dir_all(folder).await.map_err(told)?;
    // Written beside, brought onto the disk, then renamed.
    let store =
        LocalFileSystem::new_with_prefix(folder).map_err(|error| told(std::io::Error::other(error)))?;
    Ok(store.with_fsync(true))
}

fn in_bucket(address: &str, settings: &[(String, String)]) -> Result<Arc<dyn ObjectStore>, StoreError> {
    // The library leaves the choice to the program. Where one was made already it stays.
    let _ = rustls::crypto::ring::default_provider().install_default();
    let retry = RetryConfig { max_retries: 5, retry_timeout: PATIENCE, backoff: BackoffConfig::default() };
    let known = settings.iter().filter(|(name, _)| name.starts_with("AWS_")).filter_map(|(name, value)| {
        Some((name.to_ascii_lowercase().parse::<AmazonS3ConfigKey>().ok()?, value))
    });
    let builder = AmazonS3Builder::new().with_url(address).with_retry(retry);
    let builder = known.fold(builder, |builder, (key, value)| builder.with_config(key, value));
    let bucket = builder
        .build()
        .map_err(|error| StoreError::Address { shown: address.into(), why: one_line(&error) })?;
    let prefix = address.trim_start_matches("s3://").split_once('/').map_or("", |(_, prefix)| prefix);
    Ok(match prefix.trim_matches('/') {
        "" => Arc::new(bucket),
        prefix => Arc::new(PrefixStore::new(bucket, prefix)),
    })
}

fn unreachable(address: &str, error: &Error) -> StoreError {
    let why = format!(
        "cannot be reached ({}); check the address, and AWS_ENDPOINT, AWS_REGION and the keys in the environment",
        one_line(error)
    );
    StoreError::Address { shown: address.into(), why }
}

/// What a bucket says, which may be a page, as one line of moderate length.
pub(crate) fn one_line(error: &Error) -> String {
    let line = error.to_string().split_whitespace().collect::<Vec<_>>().join(" ");
    match line.char_indices().nth(300) {
        Some((end, _)) => format!("{} …", &line[..end]),
        None => line,
    }
}
