//! Where everything is kept, the same for the app and for `kerf class`.

use std::path::PathBuf;

use anyhow::{Context, anyhow, bail};
use clap::Args;
use kerfwright_store::{Place, Store, StoreError, has_password};
use tokio::runtime::Runtime;

/// Where everything is kept.
#[derive(Debug, Args)]
pub struct Data {
    /// Folder for scans, attempts, grades and rosters; without it one among the user's own data, which the app uses too.
    #[arg(id = "data", long, value_name = "FOLDER", global = true)]
    pub folder: Option<PathBuf>,
    /// Where rows are kept instead: a file of SQLite, or postgres://user@host/name. A password belongs into the environment
    /// (PGPASSWORD, or the whole address as KERF_STORE) or into .pgpass.
    #[arg(long, value_name = "FILE|ADDRESS", global = true)]
    pub store: Option<String>,
    /// Where scans are kept instead: a folder, or s3://bucket/prefix; also from KERF_SCANS. Keys, region and server of the bucket are taken
    /// from the environment: AWS_ACCESS_KEY_ID, AWS_SECRET_ACCESS_KEY, AWS_REGION, AWS_ENDPOINT.
    #[arg(long, value_name = "FOLDER|ADDRESS", global = true)]
    pub scans: Option<String>,
}

/// An open store, and what runs its calls.
pub struct Open {
    /// The store.
    pub store: Store,
    /// Runs its calls.
    pub runtime: Runtime,
}

impl Data {
    /// The folder.
    pub fn folder(&self) -> anyhow::Result<PathBuf> {
        let usual = || anyhow!("no folder for the user's data is known here; give one with --data FOLDER");
        self.folder.clone().or_else(user_data).ok_or_else(usual)
    }

    /// Where rows and scans are kept.
    pub fn place(&self) -> anyhow::Result<Place> {
        // Who names a folder means that folder, whatever the environment says.
        let from = |name: &str| match self.folder {
            Some(_) => None,
            None => std::env::var(name).ok().filter(|value| !value.is_empty()),
        };
        let store = self.store.clone().or_else(|| from("KERF_STORE"));
        let scans = self.scans.clone().or_else(|| from("KERF_SCANS"));
        // A machine that keeps nothing itself needs no folder.
        let folder = if store.is_some() && scans.is_some() { PathBuf::new() } else { self.folder()? };
        let option = self.store.is_some().then_some("--store");
        place_of(option, folder, store.as_deref(), scans.as_deref())
    }

    /// Opens the store.
    pub fn open(&self) -> anyhow::Result<Open> {
        let place = self.place()?;
        let runtime = runtime()?;
        let store = runtime.block_on(Store::open_at(&place))?;
        Ok(Open { store, runtime })
    }
}

impl Open {
    /// Waits for a call.
    pub fn wait<T>(&self, call: impl Future<Output = Result<T, StoreError>>) -> anyhow::Result<T> {
        Ok(self.runtime.block_on(call)?)
    }
}

/// A place by its addresses; `option` is where the database's came from, if it came from the command line.
pub fn place_of(
    option: Option<&str>,
    folder: PathBuf,
    store: Option<&str>,
    scans: Option<&str>,
) -> anyhow::Result<Place> {
    if let Some(option) = option
        && store.is_some_and(has_password)
    {
        bail!(
            "{option}: every program here can read a password on the command line; give it as PGPASSWORD, or the address as KERF_STORE"
        );
    }
    let environment = std::env::vars_os();
    let settings =
        environment.filter_map(|(name, value)| Some((name.into_string().ok()?, value.into_string().ok()?)));
    Ok(Place::read(&folder, store, scans, settings)?)
}

/// What runs the calls of a store.
pub fn runtime() -> anyhow::Result<Runtime> {
    Runtime::new().context("no threads to be had; close other programs")
}

/// Where programs keep what belongs to a user: as each system has it.
fn user_data() -> Option<PathBuf> {
    let folder = |name: &str| std::env::var_os(name).filter(|value| !value.is_empty()).map(PathBuf::from);
    let base = if cfg!(windows) {
        folder("LOCALAPPDATA")?
    } else if cfg!(target_os = "macos") {
        folder("HOME")?.join("Library/Application Support")
    } else {
        folder("XDG_DATA_HOME").or_else(|| Some(folder("HOME")?.join(".local/share")))?
    };
    Some(base.join("kerfwright"))
}
