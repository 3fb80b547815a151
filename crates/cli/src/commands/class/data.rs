//! The folder in which everything is kept, the same for the app and for `kerf class`.

use std::path::PathBuf;

use anyhow::{Context, anyhow};
use clap::Args;
use kerfwright_store::{Store, StoreError};
use tokio::runtime::Runtime;

/// Where everything is kept.
#[derive(Debug, Args)]
pub struct Data {
    /// Folder for scans, attempts, grades and rosters; without it one among the user's own data, which the app uses too.
    #[arg(id = "data", long, value_name = "FOLDER", global = true)]
    pub folder: Option<PathBuf>,
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

    /// Opens the store.
    pub fn open(&self) -> anyhow::Result<Open> {
        let folder = self.folder()?;
        let runtime = runtime()?;
        let store = runtime.block_on(Store::open(&folder))?;
        Ok(Open { store, runtime })
    }
}

impl Open {
    /// Waits for a call.
    pub fn wait<T>(&self, call: impl Future<Output = Result<T, StoreError>>) -> anyhow::Result<T> {
        Ok(self.runtime.block_on(call)?)
    }
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
