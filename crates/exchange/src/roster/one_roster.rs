//! The CSV files of the open standard OneRoster, versions 1.1 and 1.2.

use std::collections::{BTreeMap, BTreeSet};

use super::sheet::{Line, Sheet};
use super::{CODE_LENGTH, Places, Roster, RosterCohort, RosterFault, RosterLearner};

/// The files of a OneRoster set that are read; others are left alone. `roles.csv` is of version 1.2.
pub const FILES: [&str; 5] = ["users.csv", "classes.csv", "enrollments.csv", "manifest.csv", "roles.csv"];

/// Reads the files of a set, by their names. Students become learners, classes cohorts, enrolments members; teachers and all
/// others are left out. Lines with the status `tobedeleted` take out of a cohort; nobody is deleted by a roster.
///
/// Only ids and names are taken: no mail address, telephone number or password.
///
/// # Errors
/// Every fault by file and line; then nothing is given.
///
/// # Source
/// `docs/sources.md#oneroster`.
pub fn read_one_roster(files: &BTreeMap<String, Vec<u8>>) -> Result<Roster, Vec<RosterFault>> {
    let missing: Vec<RosterFault> = FILES[..3]
        .iter()
        .filter(|name| !files.contains_key(**name))
        .map(|name| RosterFault {
            file: (*name).into(),
            fault: "is missing; a OneRoster set has users.csv, classes.csv and enrollments.csv".into(),
        })
        .collect();
    if !missing.is_empty() {
        return Err(missing);
    }
    check_manifest(files)?;
    let mut reading = Reading::default();
    let taken = reading
        .users(&files[FILES[0]], files.get(FILES[4]).map(Vec::as_slice))
        .and_then(|()| reading.classes(&files[FILES[1]]))
        .and_then(|()| reading.enrollments(&files[FILES[2]]));
    taken.map(|()| reading.roster)
}

/// A manifest that names another version is refused: its columns may mean something else.
fn check_manifest(files: &BTreeMap<String, Vec<u8>>) -> Result<(), Vec<RosterFault>> {
    let Some(bytes) = files.get(FILES[3]) else { return Ok(()) };
    let sheet = Sheet::read(FILES[3], bytes, &["propertyName", "value"])?;
    let of_version = |line: &Line<'_>| line.cell("propertyName").eq_ignore_ascii_case("oneroster.version");
    let other = sheet.lines().find(|line| of_version(line) && !["1.1", "1.2"].contains(&line.cell("value")));
    other.map_or(Ok(()), |line| {
        let fault =
            format!("OneRoster version `{}` is not read; export version 1.1 or 1.2", line.cell("value"));
        Err(vec![line.fault(fault)])
    })
}

#[derive(Default)]
struct Reading {
    roster: Roster,
    learners: Places,
    cohorts: Places,
    /// Users that are no students, and lines to be deleted: known, but not taken.
    others: BTreeSet<String>,
}

impl Reading {
    fn users(&mut self, bytes: &[u8], roles: Option<&[u8]>) -> Result<(), Vec<RosterFault>> {
        let students = roles.map(students).transpose()?;
        let role = if students.is_some() { "givenName" } else { "role" };
        let sheet = Sheet::read(FILES[0], bytes, &["sourcedId", "givenName", "familyName", role])?;
        each(&sheet, |line| {
            let id = id(line, "sourcedId")?;
            if self.learners.contains_key(&id) || self.others.contains(&id) {
                return Err(line.fault(format!("sourcedId `{id}` stands twice; keep one line")));
            }
            let is_student = students.as_ref().map_or_else(
                || line.cell("role").eq_ignore_ascii_case("student"),
                |known| known.contains(&id),
            );
            if !is_student || to_be_deleted(line) {
                self.others.insert(id);
                return Ok(());
            }
            let name = [line.cell("givenName"), line.cell("familyName")].join(" ").trim().to_owned();
            self.learners.insert(id.clone(), self.roster.learners.len());
            self.roster.learners.push(RosterLearner {
                code: None,
                roster_id: Some(id),
                name: Some(name).filter(|name| !name.is_empty()),
            });
            Ok(())
        })
    }

    fn classes(&mut self, bytes: &[u8]) -> Result<(), Vec<RosterFault>> {
        let sheet = Sheet::read(FILES[1], bytes, &["sourcedId", "title"])?;
        let mut codes = BTreeSet::new();
        each(&sheet, |line| {
            let id = id(line, "sourcedId")?;
            if self.cohorts.contains_key(&id) {
                return Err(line.fault(format!("sourcedId `{id}` stands twice; keep one line")));
            }
            let title = line.cell("title");
            if title.is_empty() {
                return Err(line.fault("title is empty; give the class a title"));
            }
            let given = Some(line.cell("classCode")).filter(|code| !code.is_empty()).unwrap_or(title);
            let code: String = given.chars().take(CODE_LENGTH).collect();
            if !codes.insert(code.clone()) {
                return Err(
                    line.fault(format!("two classes would be called `{code}`; give each its own classCode"))
                );
            }
            self.cohorts.insert(id.clone(), self.roster.cohorts.len());
            self.roster.cohorts.push(RosterCohort { code, title: title.into(), roster_id: Some(id) });
            Ok(())
        })
    }

    fn enrollments(&mut self, bytes: &[u8]) -> Result<(), Vec<RosterFault>> {
        let sheet = Sheet::read(FILES[2], bytes, &["classSourcedId", "userSourcedId", "role"])?;
        each(&sheet, |line| {
            let (class, user) = (id(line, "classSourcedId")?, id(line, "userSourcedId")?);
            let Some(&cohort) = self.cohorts.get(&class) else {
                return Err(line.fault(format!("classSourcedId `{class}` is not in classes.csv")));
            };
            let learner = self.learners.get(&user).copied();
            if learner.is_none() && !self.others.contains(&user) {
                return Err(line.fault(format!("userSourcedId `{user}` is not in users.csv")));
            }
            let Some(learner) = learner.filter(|_| line.cell("role").eq_ignore_ascii_case("student")) else {
                return Ok(());
            };
            let pairs = if to_be_deleted(line) { &mut self.roster.leaving } else { &mut self.roster.members };
            if !pairs.contains(&(cohort, learner)) {
                pairs.push((cohort, learner));
            }
            Ok(())
        })
    }
}

/// Users with the role of a student somewhere, as version 1.2 says it.
fn students(bytes: &[u8]) -> Result<BTreeSet<String>, Vec<RosterFault>> {
    let sheet = Sheet::read(FILES[4], bytes, &["userSourcedId", "role"])?;
    let of_students = sheet.lines().filter(|line| line.cell("role").eq_ignore_ascii_case("student"));
    Ok(of_students
        .filter(|line| !to_be_deleted(line))
        .map(|line| line.cell("userSourcedId").to_owned())
        .collect())
}

/// Takes every line; every fault found.
fn each(
    sheet: &Sheet<'_>,
    mut take: impl FnMut(&Line<'_>) -> Result<(), RosterFault>,
) -> Result<(), Vec<RosterFault>> {
    let faults: Vec<RosterFault> = sheet.lines().filter_map(|line| take(&line).err()).collect();
    if faults.is_empty() { Ok(()) } else { Err(faults) }
}

fn id(line: &Line<'_>, column: &str) -> Result<String, RosterFault> {
    match line.cell(column) {
        "" => Err(line.fault(format!("{column} is empty"))),
        id => Ok(id.to_owned()),
    }
}

fn to_be_deleted(line: &Line<'_>) -> bool {
    line.cell("status").eq_ignore_ascii_case("tobedeleted")
}
