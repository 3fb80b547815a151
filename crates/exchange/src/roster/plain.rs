//! A plain table of learners.

use super::sheet::Sheet;
use super::{Places, Roster, RosterCohort, RosterFault, RosterLearner, cohort_code};
use crate::person_code;

/// Reads a table with the column `learner` (a code) and, if wanted, `cohort` (a code), `title` (of the cohort) and `name` (of the
/// learner). A learner in several cohorts has a line for each.
///
/// # Errors
/// Every fault by file and line; then nothing is given.
pub fn read_plain(file: &str, bytes: &[u8]) -> Result<Roster, Vec<RosterFault>> {
    let sheet = Sheet::read(file, bytes, &["learner"])?;
    let mut roster = Roster::default();
    let (mut learners, mut cohorts) = (Places::new(), Places::new());
    let mut faults = Vec::new();
    for line in sheet.lines() {
        if line.cell("learner").is_empty() {
            faults.push(line.fault("learner `` is empty"));
            continue;
        }
        let learner = match person_code(line.cell("learner")) {
            Ok(code) => code.to_owned(),
            Err(why) => {
                faults.push(line.fault(format!("learner `{}`: {why}", line.cell("learner"))));
                continue;
            }
        };
        let name = Some(line.cell("name")).filter(|name| !name.is_empty()).map(str::to_owned);
        let place = *learners.entry(learner.clone()).or_insert_with(|| {
            roster.learners.push(RosterLearner { code: Some(learner.clone()), ..Default::default() });
            roster.learners.len() - 1
        });
        match (&roster.learners[place].name, &name) {
            (Some(known), Some(name)) if known != name => {
                faults.push(line.fault(format!("learner `{learner}` has another name than further up")));
            }
            _ => roster.learners[place].name = roster.learners[place].name.take().or(name),
        }
        if line.cell("cohort").is_empty() {
            continue;
        }
        let cohort = match cohort_code(line.cell("cohort")) {
            Ok(code) => code,
            Err(why) => {
                faults.push(line.fault(format!("cohort `{}` {why}", line.cell("cohort"))));
                continue;
            }
        };
        let title = Some(line.cell("title")).filter(|title| !title.is_empty()).unwrap_or(&cohort);
        let cohort_place = *cohorts.entry(cohort.clone()).or_insert_with(|| {
            roster.cohorts.push(RosterCohort { code: cohort.clone(), title: title.into(), roster_id: None });
            roster.cohorts.len() - 1
        });
        if roster.members.contains(&(cohort_place, place)) {
            faults.push(line.fault(format!("learner `{learner}` stands twice in cohort `{cohort}`")));
        } else {
            roster.members.push((cohort_place, place));
        }
    }
    if faults.is_empty() { Ok(roster) } else { Err(faults) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_plain_table_is_read() {
        let text = "learner;cohort;name\nQS-01;spring;Ada B.\nQS-02;spring;\nQS-01;autumn;Ada B.\n";
        let roster = read_plain("roster.csv", text.as_bytes()).unwrap();
        assert_eq!(roster.learners.len(), 2);
        assert_eq!(roster.learners[0].name.as_deref(), Some("Ada B."));
        assert_eq!(roster.members, [(0, 0), (0, 1), (1, 0)]);
    }

    #[test]
    fn every_fault_is_named_by_its_line() {
        let long = "x".repeat(41);
        let text = format!("learner,cohort\n,spring\n{long},spring\nQS-01,spring\nQS-01,spring\n");
        let faults = read_plain("roster.csv", text.as_bytes()).unwrap_err();
        let told: Vec<String> = faults.iter().map(ToString::to_string).collect();
        assert_eq!(told.len(), 3, "{told:?}");
        assert!(told[0].starts_with("roster.csv: line 2: learner `` is empty"), "{}", told[0]);
        assert!(told[1].starts_with("roster.csv: line 3: "), "{}", told[1]);
        assert!(told[2].starts_with("roster.csv: line 5: learner `QS-01` stands twice"), "{}", told[2]);
    }
}
