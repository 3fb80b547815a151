//! A folder into which a scanner's program writes: new scans come by themselves.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::PoisonError;
use std::time::{Duration, SystemTime};

use crate::app::App;
use crate::handlers::scans::take_in;
use crate::wire::{ErrorBody, WatchedAnswer};

/// How often the folder is looked at. A file that is the same in two looks is taken for whole.
const EVERY: Duration = Duration::from_millis(700);
/// What may be a scan.
const ENDINGS: [&str; 4] = ["stl", "ply", "obj", "gz"];

/// Length and time of the last change.
type Look = (u64, Option<SystemTime>);

/// Takes in what is written into the folder from now on; what lies there already is left alone.
pub async fn watch(app: App, folder: PathBuf) {
    let mut taken = looks(&folder).await;
    let mut last = taken.clone();
    loop {
        tokio::time::sleep(EVERY).await;
        let now = looks(&folder).await;
        for (path, look) in &now {
            let is_whole = last.get(path) == Some(look);
            if is_whole && taken.get(path) != Some(look) {
                taken.insert(path.clone(), *look);
                take(&app, path).await;
            }
        }
        last = now;
    }
}

async fn take(app: &App, path: &Path) {
    let name = path.file_name().map_or_else(String::new, |name| name.to_string_lossy().into_owned());
    let most = app.0.config.upload_bytes as u64;
    let is_small = tokio::fs::metadata(path).await.is_ok_and(|found| found.len() <= most);
    let taken = match tokio::fs::read(path).await {
        Ok(bytes) if is_small => take_in(app, name.clone(), bytes.into(), None).await,
        Ok(_) => Err(crate::error::ApiError::wrong(
            "too_large",
            format!("{name}: is larger than {} MB", most >> 20),
        )),
        // Gone again, or not to be read yet: it comes again when it changes.
        Err(_) => return,
    };
    let (scan, error) = match taken {
        Ok(scan) => (Some(scan), None),
        Err(error) => (None, Some(ErrorBody { code: error.code.into(), message: error.message })),
    };
    let mut watched = app.0.watched.lock().unwrap_or_else(PoisonError::into_inner);
    let number = watched.len() + 1;
    watched.push(WatchedAnswer { number, name, scan, error });
}

/// The files of the folder that may be scans.
async fn looks(folder: &Path) -> BTreeMap<PathBuf, Look> {
    let mut found = BTreeMap::new();
    let Ok(mut entries) = tokio::fs::read_dir(folder).await else { return found };
    while let Ok(Some(entry)) = entries.next_entry().await {
        let path = entry.path();
        let ending = path.extension().map(|ending| ending.to_string_lossy().to_lowercase());
        let Ok(about) = entry.metadata().await else { continue };
        if about.is_file() && ending.is_some_and(|ending| ENDINGS.contains(&ending.as_str())) {
            found.insert(path, (about.len(), about.modified().ok()));
        }
    }
    found
}
