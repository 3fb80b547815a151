//! Who asks.

use std::convert::Infallible;

use axum::extract::FromRequestParts;
use axum::http::request::Parts;
use kerfwright_store::{AccountRow, Store};
use serde::{Deserialize, Serialize};

use super::permissions::Right;
use crate::app::App;
use crate::error::ApiError;

/// What an account is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ts_rs::TS, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
// Scans have roles too.
#[ts(rename = "AccountRole")]
#[schema(as = AccountRole)]
pub enum Role {
    /// Sees the whole class, and keeps accounts.
    Director,
    /// Sees the whole class and remarks on it.
    Instructor,
    /// Sees the work under the own code.
    Learner,
}

impl Role {
    /// Every role.
    pub const ALL: [Self; 3] = [Self::Director, Self::Instructor, Self::Learner];

    /// The name in the database, on the command line and in answers.
    pub fn id(self) -> &'static str {
        match self {
            Self::Director => "director",
            Self::Instructor => "instructor",
            Self::Learner => "learner",
        }
    }

    /// The role with a name.
    pub fn from_id(id: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|role| role.id() == id)
    }
}

/// Who asks.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Person {
    /// There are no accounts: whoever sits at this machine.
    Bench,
    /// There are accounts, and nobody is signed in.
    Stranger,
    /// Somebody who is signed in.
    Account {
        /// Code of the account.
        code: String,
        /// What it is for.
        role: Role,
        /// Of a learner's account: whose work it sees.
        learner: Option<String>,
    },
}

impl Person {
    /// The person of an account. A role that this version does not know may do nothing.
    pub fn of(row: AccountRow) -> Self {
        match Role::from_id(&row.role) {
            Some(role) => Self::Account { code: row.code, role, learner: row.learner },
            None => Self::Stranger,
        }
    }

    /// Code of the account, if there is one.
    pub fn code(&self) -> Option<&str> {
        match self {
            Self::Account { code, .. } => Some(code),
            _ => None,
        }
    }

    /// Whether the table lets this person do it.
    pub fn may(&self, right: Right) -> bool {
        right.holders().includes(self)
    }

    /// Whose work alone this person sees; `None` for everybody's.
    pub fn only_of(&self) -> Option<&str> {
        match self {
            Self::Account { role: Role::Learner, learner, .. } => {
                Some(learner.as_deref().unwrap_or_default())
            }
            Self::Stranger => Some(""),
            _ => None,
        }
    }

    /// The store, which notes this person in the audit trail.
    pub fn store(&self, app: &App) -> Store {
        match self.code() {
            Some(code) => app.store().acting_as(code),
            None => app.store().clone(),
        }
    }

    /// A scan that this person may use.
    ///
    /// # Errors
    /// It is not there for this person; it is not said whether it is there for others.
    pub async fn own_scan(&self, app: &App, id: &str) -> Result<(), ApiError> {
        match self.only_of() {
            Some(learner) if !app.store().is_own_scan(id, learner).await? => Err(ApiError::missing("scan")),
            _ => Ok(()),
        }
    }

    /// A learner whom this person may see.
    ///
    /// # Errors
    /// Whose work this person does not see is not there for this person.
    pub fn own_learner(&self, code: &str) -> Result<(), ApiError> {
        match self.only_of() {
            Some(own) if own != code => Err(ApiError::missing("learner")),
            _ => Ok(()),
        }
    }

    /// An attempt that this person may see.
    ///
    /// # Errors
    /// It is not there for this person; it is not said whether it is there for others.
    pub async fn own_attempt(&self, app: &App, id: &str) -> Result<(), ApiError> {
        match self.only_of() {
            Some(learner) if !app.store().is_own_attempt(id, learner).await? => {
                Err(ApiError::missing("attempt"))
            }
            _ => Ok(()),
        }
    }
}

/// The gate has put down who asks; where no gate was passed, nobody is known.
impl<S: Sync> FromRequestParts<S> for Person {
    type Rejection = Infallible;

    async fn from_request_parts(parts: &mut Parts, _: &S) -> Result<Self, Infallible> {
        Ok(parts.extensions.get().cloned().unwrap_or(Self::Stranger))
    }
}
