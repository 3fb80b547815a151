//! What is sent and answered about accounts.

use serde::{Deserialize, Serialize};
use ts_rs::TS;
use utoipa::ToSchema;

use super::permissions::Right;
use super::person::{Person, Role};

/// Code and password.
#[derive(Deserialize, TS, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SignInRequest {
    /// Code of the account.
    pub code: String,
    /// Its password.
    pub password: String,
}

/// Whether one has to sign in, who one is, and what one may do.
#[derive(Debug, Serialize, TS, ToSchema)]
pub struct SessionAnswer {
    /// Whether there are accounts: without them everybody at this machine may do everything.
    pub accounts: bool,
    /// Who is signed in.
    #[schema(required = true)]
    pub account: Option<SignedIn>,
    /// What the one who asks may do.
    pub may: May,
}

/// Who is signed in.
#[derive(Debug, Serialize, TS, ToSchema)]
pub struct SignedIn {
    /// Code of the account.
    pub code: String,
    /// What it is for.
    pub role: Role,
    /// Of a learner's account: the code under which its work lies.
    #[schema(required = true)]
    pub learner: Option<String>,
}

/// What may be done, as the table of permissions has it.
#[derive(Debug, Serialize, TS, ToSchema)]
pub struct May {
    /// Send scans and measure.
    pub work: bool,
    /// Use the watched folder and the demo, and see everybody's attempts.
    pub bench: bool,
    /// Remark on attempts.
    pub remark: bool,
    /// See the class.
    pub class: bool,
    /// Take a roster in.
    pub roster: bool,
    /// Decide otherwise than was computed.
    pub decide: bool,
    /// Grade blind.
    pub examine: bool,
    /// Set up blind gradings.
    pub gradings: bool,
    /// Delete learners and cohorts.
    pub retention: bool,
    /// Keep accounts.
    pub accounts: bool,
}

/// Another password for oneself.
#[derive(Deserialize, TS, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct OwnPasswordRequest {
    /// The password so far.
    pub old: String,
    /// The password from now on.
    pub new: String,
}

/// Another password for an account.
#[derive(Deserialize, TS, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PasswordRequest {
    /// The password from now on.
    pub password: String,
}

/// An account to be made.
#[derive(Deserialize, TS, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct AccountRequest {
    /// Its code, never a name.
    pub code: String,
    /// What it is for.
    pub role: Role,
    /// Of a learner's account: the code under which its work lies; its own code where nothing is said.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[ts(optional)]
    pub learner: Option<String>,
    /// Its password.
    pub password: String,
}

/// An account.
#[derive(Debug, Serialize, TS, ToSchema)]
pub struct AccountAnswer {
    /// Its code.
    pub code: String,
    /// What it is for.
    pub role: Role,
    /// Of a learner's account: the code under which its work lies.
    #[schema(required = true)]
    pub learner: Option<String>,
    /// When it was made, UTC.
    pub created: String,
}

/// Who did what when: ids alone.
#[derive(Debug, Serialize, TS, ToSchema)]
pub struct AuditAnswer {
    /// Later ones are higher.
    pub number: i64,
    /// When, UTC.
    pub at: String,
    /// Code of the account; `bench` for the program itself, `command line`, or `unknown`.
    pub who: String,
    /// What was done.
    pub what: String,
    /// Id of what it was done to.
    pub subject: String,
}

impl SessionAnswer {
    /// What a person is told about itself.
    pub fn of(person: &Person) -> Self {
        let account = match person {
            Person::Account { code, role, learner } => {
                Some(SignedIn { code: code.clone(), role: *role, learner: learner.clone() })
            }
            _ => None,
        };
        let may = May {
            work: person.may(Right::Work),
            bench: person.may(Right::Bench),
            remark: person.may(Right::Remark),
            class: person.may(Right::Class),
            roster: person.may(Right::Roster),
            decide: person.may(Right::Decide),
            examine: person.may(Right::Examine),
            gradings: person.may(Right::Gradings),
            retention: person.may(Right::Retention),
            accounts: person.may(Right::Accounts),
        };
        Self { accounts: *person != Person::Bench, account, may }
    }
}
