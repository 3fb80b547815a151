//! A folder into which a scanner's program writes: new scans come by themselves.

use std::path::{Path, PathBuf};
use std::sync::PoisonError;

use kerfwright_batch::Inbox;

use crate::app::App;
use crate::handlers::scans::take_in;
use crate::wire::{ErrorBody, WatchedAnswer};

/// Takes in what is written into the folder from now on; what lies there already is left alone.
pub async fn watch(app: App, folder: PathBuf) {
    let mut inbox = Inbox::from_now_on(&folder);
    loop {
        tokio::time::sleep(Inbox::EVERY).await;
        let looked = tokio::task::spawn_blocking(move || {
            let found = inbox.look();
            (inbox, found)
        });
        // A look that broke off ends the watch, not the app.
        let Ok((own, found)) = looked.await else { return };
        inbox = own;
        for path in found {
            take(&app, &path).await;
        }
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
