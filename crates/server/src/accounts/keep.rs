//! Making and removing accounts: the same rules on the command line and in the app.

use kerfwright_exchange::{NoCode, person_code};
use kerfwright_store::{Store, StoreError};

use super::password::hash;
use super::person::Role;

/// Why an account is not made or changed.
#[derive(Debug, thiserror::Error)]
pub enum AccountError {
    /// No code.
    #[error(transparent)]
    Code(#[from] NoCode),
    /// A weak password.
    #[error(
        "a password has {least} to {most} characters and is more than the code; several words make a good one"
    )]
    Password {
        /// Fewest characters.
        least: usize,
        /// Most characters.
        most: usize,
    },
    /// A learner's code where there is no learner, or none that is one.
    #[error(
        "only a learner's account sees the work of one learner; leave the learner's code out, or make it a learner's account"
    )]
    Learner,
    /// The code is in use.
    #[error(
        "{code}: there is an account with this code already; choose another, or give that one a new password"
    )]
    Taken {
        /// The code.
        code: String,
    },
    /// There is none.
    #[error("{code}: there is no such account; look at the list of accounts")]
    Missing {
        /// The code.
        code: String,
    },
    /// The system gives no random numbers.
    #[error("the system gives no random numbers; start it again, then try again")]
    Random,
    /// The store fails.
    #[error(transparent)]
    Store(#[from] StoreError),
}

/// Makes an account. A learner's account sees the work under `learner`, or under its own code.
///
/// # Errors
/// See [`AccountError`].
pub async fn add(
    store: &Store,
    code: &str,
    role: Role,
    learner: Option<&str>,
    password: &str,
) -> Result<(), AccountError> {
    let code = person_code(code)?;
    let learner = match (role, learner) {
        (Role::Learner, learner) => Some(learner.unwrap_or(code)),
        (_, None) => None,
        (_, Some(_)) => return Err(AccountError::Learner),
    };
    if learner.is_some_and(|learner| !(1..=40).contains(&learner.trim().chars().count())) {
        return Err(AccountError::Learner);
    }
    let hash = hashed(code, password).await?;
    let is_new = store.add_account(code, role.id(), learner, &hash).await?;
    if is_new { Ok(()) } else { Err(AccountError::Taken { code: code.into() }) }
}

/// Gives an account another password and signs it out everywhere.
///
/// # Errors
/// See [`AccountError`].
pub async fn set_password(store: &Store, code: &str, password: &str) -> Result<(), AccountError> {
    let hash = hashed(code, password).await?;
    if store.set_password(code, &hash).await? {
        Ok(())
    } else {
        Err(AccountError::Missing { code: code.into() })
    }
}

/// Removes an account and signs it out everywhere. What a learner has done stays.
///
/// # Errors
/// See [`AccountError`].
pub async fn remove(store: &Store, code: &str) -> Result<(), AccountError> {
    if store.remove_account(code).await? { Ok(()) } else { Err(AccountError::Missing { code: code.into() }) }
}

async fn hashed(code: &str, password: &str) -> Result<String, AccountError> {
    let (code, password) = (code.to_owned(), password.to_owned());
    let hashing = tokio::task::spawn_blocking(move || hash(&code, &password));
    hashing.await.map_err(|_| AccountError::Random)?
}
