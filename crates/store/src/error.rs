//! Why something could not be kept or found.

use std::path::PathBuf;

use crate::scan_files::one_line;

/// One line each: the fault and the next step. A cause stands within its sentence, and is no source of its own: it would be told twice.
#[derive(Debug, thiserror::Error)]
pub enum StoreError {
    /// The folder cannot be used.
    #[error("{}: cannot be used as the data folder ({cause}); check the name, the rights and the free space", .folder.display())]
    Folder {
        /// The folder.
        folder: PathBuf,
        /// What the system says.
        cause: std::io::Error,
    },
    /// The database cannot be opened, or is of a later version.
    #[error("{}: cannot be opened ({cause}); it may be of a later version of kerf, or damaged: give another folder with --data", .file.display())]
    Open {
        /// The database.
        file: PathBuf,
        /// What the database says.
        cause: sqlx::Error,
    },
    /// The address of a database or a bucket leads nowhere.
    #[error("{shown}: {why}")]
    Address {
        /// The address, as far as it may be shown.
        shown: String,
        /// The fault and the next step.
        why: String,
    },
    /// PostgreSQL cannot be reached.
    #[error(
        "{shown}: cannot be reached ({why}); check the address, that the server runs, and user and password in the environment"
    )]
    Connect {
        /// Where, without a password.
        shown: String,
        /// What the database says.
        why: String,
    },
    /// A migration failed.
    #[error(
        "{shown}: cannot be brought up to date ({cause}); it may be of a later version of kerf: update, or give another folder with --data"
    )]
    Migrate {
        /// The database.
        shown: String,
        /// What failed.
        cause: sqlx::migrate::MigrateError,
    },
    /// A query failed.
    #[error("the database does not answer ({0}); check the free space of the data folder")]
    Query(sqlx::Error),
    /// A kept value cannot be read.
    #[error("a kept entry is damaged ({0}); measure the attempt again")]
    Damaged(serde_json::Error),
    /// A file cannot be read or written.
    #[error(
        "a file of the store or of its backup cannot be read or written ({0}); check the rights and the free space"
    )]
    File(std::io::Error),
    /// A scan cannot be read or written.
    #[error(
        "a scan cannot be read or written where scans are kept ({0}); check the rights and the free space, or the bucket's server"
    )]
    Scan(String),
    /// What is only done for a store in a folder.
    #[error(
        "PostgreSQL is backed up by its own tools, and the bucket by its server's (docs/scaling.md); kerf class copy brings all of it into a folder"
    )]
    NoFolder,
    /// What was named is not kept.
    #[error("no {what} `{code}` is kept; look at the list with kerf class list")]
    Unknown {
        /// What kind of thing.
        what: &'static str,
        /// As given.
        code: String,
    },
    /// Something kept, or a backup, is not what it was.
    #[error("{what}: {why}; restore it from another backup")]
    Unsound {
        /// What.
        what: String,
        /// The fault.
        why: String,
    },
    /// A folder that should be new is not.
    #[error("{}: is there already and not empty; name a new folder", .folder.display())]
    Taken {
        /// The folder.
        folder: PathBuf,
    },
    /// A place to copy into that is not empty.
    #[error("the place to copy into holds {what} already; name one with nothing in it")]
    Occupied {
        /// The table that has rows.
        what: &'static str,
    },
    /// Deleted, but another program still holds old pages of the database.
    #[error(
        "deleted, but another program has the database open and its log still holds old pages; close it and run the same command again"
    )]
    StillRead,
    /// An attempt whose scans were erased has nothing to pass on.
    #[error("the scans of this attempt were erased; only its readings can be exported")]
    Erased,
    /// A bundle without a document.
    #[error("this attempt was not measured where it comes from; measure its scans with kerf class run")]
    Unmeasured,
}

impl From<sqlx::Error> for StoreError {
    fn from(error: sqlx::Error) -> Self {
        Self::Query(error)
    }
}

impl From<serde_json::Error> for StoreError {
    fn from(error: serde_json::Error) -> Self {
        Self::Damaged(error)
    }
}

impl From<std::io::Error> for StoreError {
    fn from(error: std::io::Error) -> Self {
        Self::File(error)
    }
}

impl From<object_store::Error> for StoreError {
    fn from(error: object_store::Error) -> Self {
        Self::Scan(one_line(&error))
    }
}
