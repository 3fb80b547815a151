//! The one table of permissions: which right each route asks for, and who holds it. A route that is not here is refused.

use axum::http::Method;

use super::person::{Person, Role};

/// What a route lets one do.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Right {
    /// See what is no secret: the program, its limits, whether one is signed in; sign in and out.
    Enter,
    /// Read teeth and exercises, which are the same for everybody.
    Library,
    /// Send scans, measure and see attempts: own ones, or the class's.
    Work,
    /// Take what belongs to no learner: the watched folder, the demo; put exercises beside the shipped ones.
    Bench,
    /// Remark on attempts.
    Remark,
    /// Change the own password.
    OwnPassword,
    /// See the class: roster, attempts of everybody, reports, agreement of examiners.
    Class,
    /// Take a roster in.
    Roster,
    /// Decide otherwise than was computed.
    Decide,
    /// Grade blind, on a sheet of one's own.
    Examine,
    /// Set up blind gradings.
    Gradings,
    /// Delete learners and cohorts.
    Retention,
    /// Keep accounts and read the audit trail.
    Accounts,
}

/// What a route is about, beside the right: a learner must own it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Subject {
    /// Nothing that belongs to anybody.
    Nothing,
    /// The attempt `{id}`.
    Attempt,
    /// The scan `{id}`.
    Scan,
    /// The learner `{id}`.
    Learner,
}

/// One line of the table.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Rule {
    /// Method.
    pub method: &'static str,
    /// Address as the router has it, after [`PREFIX`].
    pub path: &'static str,
    /// The right it asks for.
    pub right: Right,
    /// What it is about.
    pub subject: Subject,
}

/// Where the interface lies.
pub const PREFIX: &str = "/api/v1";

/// The table.
pub const RULES: &[Rule] = &[
    rule("GET", "/about", Right::Enter, Subject::Nothing),
    rule("GET", "/openapi.json", Right::Enter, Subject::Nothing),
    rule("GET", "/session", Right::Enter, Subject::Nothing),
    rule("POST", "/session", Right::Enter, Subject::Nothing),
    rule("DELETE", "/session", Right::Enter, Subject::Nothing),
    rule("POST", "/session/password", Right::OwnPassword, Subject::Nothing),
    rule("GET", "/accounts", Right::Accounts, Subject::Nothing),
    rule("POST", "/accounts", Right::Accounts, Subject::Nothing),
    rule("DELETE", "/accounts/{code}", Right::Accounts, Subject::Nothing),
    rule("POST", "/accounts/{code}/password", Right::Accounts, Subject::Nothing),
    rule("GET", "/audit", Right::Accounts, Subject::Nothing),
    rule("GET", "/teeth", Right::Library, Subject::Nothing),
    rule("GET", "/exercises", Right::Library, Subject::Nothing),
    rule("GET", "/exercises/{name}", Right::Library, Subject::Nothing),
    rule("POST", "/exercises", Right::Bench, Subject::Nothing),
    rule("POST", "/demo", Right::Bench, Subject::Nothing),
    rule("GET", "/watched", Right::Bench, Subject::Nothing),
    rule("POST", "/scans", Right::Work, Subject::Nothing),
    // The scans are named in the body: the handler asks `Person::own_scan` for each.
    rule("POST", "/scans/roles", Right::Work, Subject::Nothing),
    rule("GET", "/scans/{id}", Right::Work, Subject::Scan),
    rule("GET", "/scans/{id}/mesh.glb", Right::Work, Subject::Scan),
    // The list holds what `Person::only_of` lets see.
    rule("GET", "/attempts", Right::Work, Subject::Nothing),
    // As for roles.
    rule("POST", "/attempts", Right::Work, Subject::Nothing),
    rule("GET", "/attempts/{id}", Right::Work, Subject::Attempt),
    rule("GET", "/attempts/{id}/events", Right::Work, Subject::Attempt),
    rule("POST", "/attempts/{id}/cancel", Right::Work, Subject::Attempt),
    rule("GET", "/attempts/{id}/document", Right::Work, Subject::Attempt),
    rule("GET", "/attempts/{id}/titles", Right::Work, Subject::Attempt),
    rule("GET", "/attempts/{id}/joint", Right::Work, Subject::Attempt),
    rule("GET", "/attempts/{id}/grade", Right::Work, Subject::Attempt),
    rule("GET", "/attempts/{id}/scene", Right::Work, Subject::Attempt),
    rule("GET", "/attempts/{id}/value", Right::Work, Subject::Attempt),
    rule("POST", "/attempts/{id}/section", Right::Work, Subject::Attempt),
    rule("POST", "/attempts/{id}/gauge", Right::Work, Subject::Attempt),
    rule("GET", "/attempts/{id}/ring", Right::Work, Subject::Attempt),
    rule("GET", "/attempts/{id}/movements", Right::Work, Subject::Attempt),
    rule("GET", "/attempts/{id}/remarks", Right::Work, Subject::Attempt),
    rule("POST", "/attempts/{id}/remarks", Right::Remark, Subject::Attempt),
    rule("PATCH", "/attempts/{id}/remarks/{remark}", Right::Remark, Subject::Attempt),
    rule("DELETE", "/attempts/{id}/remarks/{remark}", Right::Remark, Subject::Attempt),
    rule("GET", "/attempts/{id}/{body}", Right::Work, Subject::Attempt),
    rule("POST", "/attempts/{id}/decisions", Right::Decide, Subject::Attempt),
    rule("GET", "/class", Right::Class, Subject::Nothing),
    rule("POST", "/class/roster", Right::Roster, Subject::Nothing),
    // The list holds what `Person::only_of` lets see.
    rule("GET", "/class/attempts", Right::Work, Subject::Nothing),
    rule("GET", "/class/tables/{table}", Right::Class, Subject::Nothing),
    rule("GET", "/class/report", Right::Class, Subject::Nothing),
    rule("GET", "/class/report/{file}", Right::Class, Subject::Nothing),
    rule("GET", "/class/learners/{id}", Right::Work, Subject::Learner),
    rule("GET", "/class/learners/{id}/{file}", Right::Work, Subject::Learner),
    rule("DELETE", "/class/learners/{id}", Right::Retention, Subject::Learner),
    rule("DELETE", "/class/cohorts/{code}", Right::Retention, Subject::Nothing),
    rule("GET", "/class/agreement", Right::Class, Subject::Nothing),
    rule("GET", "/class/agreement/{file}", Right::Class, Subject::Nothing),
    rule("GET", "/gradings", Right::Examine, Subject::Nothing),
    rule("POST", "/gradings", Right::Gradings, Subject::Nothing),
    rule("POST", "/gradings/proposal", Right::Gradings, Subject::Nothing),
    rule("DELETE", "/gradings/{id}", Right::Gradings, Subject::Nothing),
    // The handler lets nobody but the examiner see a sheet, and nobody else but who sets gradings up what came of it.
    rule("GET", "/gradings/{id}/sheets/{examiner}", Right::Examine, Subject::Nothing),
    rule("GET", "/gradings/{id}/sheets/{examiner}/calibration", Right::Examine, Subject::Nothing),
    rule("GET", "/gradings/{id}/sheets/{examiner}/calibration.csv", Right::Examine, Subject::Nothing),
    rule("POST", "/gradings/{id}/sheets/{examiner}/{code}", Right::Examine, Subject::Nothing),
    rule("GET", "/gradings/{id}/sheets/{examiner}/{code}/mesh.glb", Right::Examine, Subject::Nothing),
];

/// Who holds a right.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Holders {
    bench: bool,
    stranger: bool,
    roles: &'static [Role],
}

impl Right {
    /// Who holds it.
    pub fn holders(self) -> Holders {
        const STAFF: &[Role] = &[Role::Instructor, Role::Director];
        let (bench, stranger, roles) = match self {
            Self::Enter => (true, true, Role::ALL.as_slice()),
            Self::Library | Self::Work => (true, false, Role::ALL.as_slice()),
            Self::Bench | Self::Remark | Self::Class | Self::Roster | Self::Decide | Self::Examine => {
                (true, false, STAFF)
            }
            Self::Gradings | Self::Retention => (true, false, &[Role::Director][..]),
            Self::OwnPassword => (false, false, Role::ALL.as_slice()),
            // The first account is made on the command line, by whoever owns the data folder.
            Self::Accounts => (false, false, &[Role::Director][..]),
        };
        Holders { bench, stranger, roles }
    }
}

impl Holders {
    /// Whether a person is among them.
    pub fn includes(&self, person: &Person) -> bool {
        match person {
            Person::Bench => self.bench,
            Person::Stranger => self.stranger,
            Person::Account { role, .. } => self.roles.contains(role),
        }
    }
}

/// The line for a route as the router matched it; `None` where the table has none.
pub fn rule_for(method: &Method, matched: &str) -> Option<&'static Rule> {
    let path = matched.strip_prefix(PREFIX)?;
    let method = if method == Method::HEAD { "GET" } else { method.as_str() };
    RULES.iter().find(|rule| rule.method == method && rule.path == path)
}

/// The methods that the table has for a route, as the header `Allow` lists them; empty where it has none.
pub fn methods_of(matched: &str) -> String {
    let path = matched.strip_prefix(PREFIX).unwrap_or(matched);
    let rules = RULES.iter().filter(|rule| rule.path == path);
    let methods =
        rules.flat_map(|rule| if rule.method == "GET" { vec!["GET", "HEAD"] } else { vec![rule.method] });
    methods.collect::<Vec<_>>().join(",")
}

const fn rule(method: &'static str, path: &'static str, right: Right, subject: Subject) -> Rule {
    Rule { method, path, right, subject }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_route_has_one_line() {
        for (k, rule) in RULES.iter().enumerate() {
            let same = |other: &&Rule| (other.method, other.path) == (rule.method, rule.path);
            assert_eq!(RULES.iter().position(|other| same(&other)), Some(k), "{rule:?} twice");
            assert_eq!(
                rule_for(&rule.method.parse().unwrap(), &format!("{PREFIX}{}", rule.path)),
                Some(rule)
            );
        }
        assert_eq!(rule_for(&Method::HEAD, "/api/v1/attempts"), rule_for(&Method::GET, "/api/v1/attempts"));
        assert_eq!(rule_for(&Method::PUT, "/api/v1/attempts"), None);
        assert_eq!(rule_for(&Method::GET, "/api/v1/nothing"), None);
    }

    #[test]
    fn a_route_about_somebody_s_work_names_its_subject() {
        for rule in RULES {
            let wanted = match rule.path {
                path if path.starts_with("/attempts/{id}") => Subject::Attempt,
                path if path.starts_with("/scans/{id}") => Subject::Scan,
                path if path.starts_with("/class/learners/{id}") => Subject::Learner,
                _ => Subject::Nothing,
            };
            assert_eq!(rule.subject, wanted, "{rule:?}");
        }
    }

    #[test]
    fn each_role_may_what_the_one_below_may_and_more() {
        let person = |role| Person::Account { code: "QS".into(), role, learner: None };
        let n_rights = |person: &Person| RULES.iter().filter(|rule| person.may(rule.right)).count();
        let counts =
            [Person::Stranger, person(Role::Learner), person(Role::Instructor), person(Role::Director)]
                .map(|person| n_rights(&person));
        assert!(counts.is_sorted_by(|a, b| a < b), "{counts:?}");
        assert!(!Person::Stranger.may(Right::Work) && !Person::Bench.may(Right::Accounts));
    }
}
