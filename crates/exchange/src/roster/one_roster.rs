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

#[cfg(test)]
mod tests {
    use super::*;

    const USERS_1_1: &str = "sourcedId,status,dateLastModified,enabledUser,orgSourcedIds,role,username,userIds,givenName,\
                             familyName,middleName,identifier,email,sms,phone,agentSourcedIds,grades,password\n\
                             u1,,,true,o1,student,a,,Wilhelmina,Tide,,,w@example.org,,,,,secret\n\
                             u2,,,true,o1,student,b,,Barnaby,\"Shoal, jun.\",,,,,,,,\n\
                             t1,,,true,o1,teacher,c,,Ottoline,Reef,,,,,,,,\n";
    const CLASSES: &str = "sourcedId,status,dateLastModified,title,grades,courseSourcedId,classCode,classType,location,\
                           schoolSourcedId,termSourcedIds,subjects,subjectCodes,periods\n\
                           c1,,,Crowns in spring,,k1,QS-spring,scheduled,,o1,s1,,,\n";
    const ENROLLMENTS: &str = "sourcedId,status,dateLastModified,classSourcedId,schoolSourcedId,userSourcedId,role,primary,\
                               beginDate,endDate\n\
                               e1,,,c1,o1,u1,student,,,\ne2,,,c1,o1,u2,student,,,\ne3,,,c1,o1,t1,teacher,true,,\n";

    fn set(changes: &[(&str, &str)]) -> BTreeMap<String, Vec<u8>> {
        let base = [("users.csv", USERS_1_1), ("classes.csv", CLASSES), ("enrollments.csv", ENROLLMENTS)];
        base.iter()
            .chain(changes)
            .map(|(name, text)| ((*name).to_owned(), text.as_bytes().to_vec()))
            .collect()
    }

    fn faults(changes: &[(&str, &str)]) -> Vec<String> {
        read_one_roster(&set(changes)).unwrap_err().iter().map(ToString::to_string).collect()
    }

    #[test]
    fn a_set_of_version_1_1_is_read() {
        let manifest = "propertyName,value\nmanifest.version,1.0\noneroster.version,1.1\nfile.users,bulk\n";
        let roster = read_one_roster(&set(&[("manifest.csv", manifest)])).unwrap();
        let names: Vec<_> = roster.learners.iter().filter_map(|learner| learner.name.as_deref()).collect();
        assert_eq!(names, ["Wilhelmina Tide", "Barnaby Shoal, jun."]);
        assert_eq!(roster.cohorts[0].code, "QS-spring");
        assert_eq!(roster.members, [(0, 0), (0, 1)]);
        assert!(!format!("{roster:?}").contains("secret"), "passwords are not taken");
    }

    #[test]
    fn version_1_2_says_roles_in_a_file_of_its_own() {
        let users = "sourcedId,status,dateLastModified,enabledUser,username,userIds,givenName,familyName\n\
                     u1,,,true,a,,Wilhelmina,Tide\nu2,,,true,b,,Barnaby,Shoal\nt1,,,true,c,,Ottoline,Reef\n";
        let roles = "sourcedId,status,dateLastModified,userSourcedId,roleType,role,beginDate,endDate,orgSourcedId,\
                     userProfileSourcedId\n\
                     r1,,,u1,primary,student,,,o1,\nr2,,,u2,primary,student,,,o1,\nr3,,,t1,primary,teacher,,,o1,\n";
        let roster = read_one_roster(&set(&[("users.csv", users), ("roles.csv", roles)])).unwrap();
        assert_eq!((roster.learners.len(), roster.members.len()), (2, 2));
    }

    #[test]
    fn who_is_to_be_deleted_leaves_the_cohort() {
        let leaving = ENROLLMENTS.replace("e2,,", "e2,tobedeleted,2026-11-02");
        let roster = read_one_roster(&set(&[("enrollments.csv", &leaving)])).unwrap();
        assert_eq!((roster.members, roster.leaving), (vec![(0, 0)], vec![(0, 1)]));
    }

    #[test]
    fn faults_name_file_and_line_and_nothing_is_given() {
        let lost = ENROLLMENTS.replace("o1,u2", "o1,u9").replace("c1,o1,u1", "c7,o1,u1");
        assert_eq!(
            faults(&[("enrollments.csv", &lost)]),
            [
                "enrollments.csv: line 2: classSourcedId `c7` is not in classes.csv",
                "enrollments.csv: line 3: userSourcedId `u9` is not in users.csv"
            ]
        );
        let told = faults(&[("users.csv", &USERS_1_1.replace("u2,", "u1,"))]);
        assert_eq!(told, ["users.csv: line 3: sourcedId `u1` stands twice; keep one line"]);
        let told = faults(&[("classes.csv", "sourcedId,title\nc1,\n")]);
        assert!(told[0].starts_with("classes.csv: line 2: title is empty"), "{told:?}");
        let told = faults(&[("classes.csv", "sourcedId,name\nc1,x\n")]);
        assert_eq!(told, ["classes.csv: line 1: no column `title` in the heading"]);
        let told = faults(&[("manifest.csv", "propertyName,value\noneroster.version,2.0\n")]);
        assert!(told[0].starts_with("manifest.csv: line 2: OneRoster version `2.0`"), "{told:?}");
        let mut without = set(&[]);
        without.remove("users.csv");
        assert!(read_one_roster(&without).unwrap_err()[0].to_string().starts_with("users.csv: is missing"));
    }
}
