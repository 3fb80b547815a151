//! Learners, their names, cohorts and sessions.

use kerfwright_exchange::{Roster, RosterLearner};
use sqlx::FromRow;

use crate::sql::{Transaction, sql};
use crate::store::audit;
use crate::{Store, StoreError};

/// A learner. The name stands in a table of its own and may be missing.
#[derive(Debug, Clone, PartialEq, Eq, FromRow)]
pub struct LearnerRow {
    /// The code.
    pub code: String,
    /// The name, if it is kept.
    pub name: Option<String>,
    /// Id in the roster's system, if it is kept.
    pub roster_id: Option<String>,
    /// Attempts that are kept.
    pub n_attempts: i64,
}

/// A cohort.
#[derive(Debug, Clone, PartialEq, Eq, FromRow)]
pub struct CohortRow {
    /// The code.
    pub code: String,
    /// What people call it.
    pub title: String,
    /// Its learners.
    pub n_learners: i64,
}

/// One meeting of a cohort at the benches.
#[derive(Debug, Clone, PartialEq, Eq, FromRow)]
pub struct SessionRow {
    /// The code.
    pub code: String,
    /// What people call it.
    pub title: String,
    /// Code of the cohort.
    pub cohort: Option<String>,
    /// Code of the instructor, never a name.
    pub instructor: Option<String>,
    /// The day, ISO 8601.
    pub held: Option<String>,
}

/// What a roster brings.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct RosterCount {
    /// Learners that were not known.
    pub new_learners: u32,
    /// Learners that were known.
    pub known_learners: u32,
    /// Cohorts that were not known.
    pub new_cohorts: u32,
    /// Learners put into a cohort.
    pub joined: u32,
    /// Learners taken out of a cohort.
    pub left: u32,
    /// Codes of the learners that were not known.
    pub new_codes: Vec<String>,
    /// Who is taken out of which cohort: (cohort, learner).
    pub leaving: Vec<(String, String)>,
}

impl std::fmt::Display for RosterCount {
    fn fmt(&self, to: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let Self { new_learners, known_learners, new_cohorts, joined, left, .. } = self;
        write!(
            to,
            "{new_learners} learners new, {known_learners} known; {new_cohorts} cohorts new; {joined} joined a cohort, {left} left one."
        )
    }
}

/// How a roster is taken in.
#[derive(Debug, Clone, Copy)]
pub struct RosterOptions<'a> {
    /// Who takes it in, as a code.
    pub who: &'a str,
    /// What codes begin with that the roster does not give: `QS` makes QS-001, QS-002 …
    pub prefix: &'a str,
    /// Whether names are kept.
    pub with_names: bool,
}

impl Store {
    /// Takes a roster in, whole or not at all. Nobody is deleted; a learner is the same by the id of the roster's system, else by the
    /// code.
    ///
    /// # Errors
    /// The database fails.
    pub async fn take_roster(
        &self,
        roster: &Roster,
        options: &RosterOptions<'_>,
    ) -> Result<RosterCount, StoreError> {
        let mut transaction = self.begin().await?;
        let count = roster_into(&mut transaction, roster, options).await?;
        audit(&mut transaction, options.who, "roster taken in", "").await?;
        transaction.commit().await?;
        Ok(count)
    }

    /// What taking a roster in would bring. Nothing is kept.
    ///
    /// # Errors
    /// The database fails.
    pub async fn try_roster(
        &self,
        roster: &Roster,
        options: &RosterOptions<'_>,
    ) -> Result<RosterCount, StoreError> {
        let mut transaction = self.begin().await?;
        // Not committed, it did not happen.
        roster_into(&mut transaction, roster, options).await
    }

    /// All learners, by code.
    ///
    /// # Errors
    /// The database fails.
    pub async fn learners(&self) -> Result<Vec<LearnerRow>, StoreError> {
        let select = "SELECT learners.code, names.name, names.roster_id, \
                      (SELECT count(*) FROM attempts WHERE attempts.learner = learners.code) AS n_attempts \
                      FROM learners LEFT JOIN names ON names.learner = learners.code ORDER BY learners.code";
        sql(select).rows(&self.pool).await
    }

    /// All cohorts, by code.
    ///
    /// # Errors
    /// The database fails.
    pub async fn cohorts(&self) -> Result<Vec<CohortRow>, StoreError> {
        let select = "SELECT code, title, (SELECT count(*) FROM members WHERE cohort = code) AS n_learners \
                      FROM cohorts ORDER BY code";
        sql(select).rows(&self.pool).await
    }

    /// Codes of a cohort's learners.
    ///
    /// # Errors
    /// The database fails.
    pub async fn members(&self, cohort: &str) -> Result<Vec<String>, StoreError> {
        let select = "SELECT learner FROM members WHERE cohort = $1 ORDER BY learner";
        sql(select).bind(cohort).values(&self.pool).await
    }

    /// Keeps a session; what is given of a known one replaces what was known.
    ///
    /// # Errors
    /// The database fails, or the cohort is not known.
    pub async fn keep_session(&self, row: &SessionRow, who: &str) -> Result<(), StoreError> {
        let insert = "INSERT INTO lab_sessions (code, title, cohort, instructor, held) VALUES ($1, $2, $3, $4, $5) \
                      ON CONFLICT (code) DO UPDATE SET title = excluded.title, \
                      cohort = coalesce(excluded.cohort, lab_sessions.cohort), \
                      instructor = coalesce(excluded.instructor, lab_sessions.instructor), \
                      held = coalesce(excluded.held, lab_sessions.held)";
        let mut transaction = self.begin().await?;
        sql(insert)
            .bind(&row.code)
            .bind(&row.title)
            .bind(&row.cohort)
            .bind(&row.instructor)
            .bind(&row.held)
            .run(&mut transaction)
            .await?;
        audit(&mut transaction, who, "session kept", &row.code).await?;
        transaction.commit().await?;
        Ok(())
    }

    /// All sessions, by day and code.
    ///
    /// # Errors
    /// The database fails.
    pub async fn sessions(&self) -> Result<Vec<SessionRow>, StoreError> {
        let select =
            "SELECT code, title, cohort, instructor, held FROM lab_sessions ORDER BY held NULLS FIRST, code";
        sql(select).rows(&self.pool).await
    }
}

async fn roster_into(
    transaction: &mut Transaction,
    roster: &Roster,
    options: &RosterOptions<'_>,
) -> Result<RosterCount, StoreError> {
    let mut count = RosterCount::default();
    let mut learners = Vec::new();
    for learner in &roster.learners {
        learners.push(take_learner(&mut *transaction, learner, options, &mut count).await?);
    }
    let mut cohorts = Vec::new();
    for cohort in &roster.cohorts {
        let known = "SELECT code FROM cohorts WHERE roster_id = $1";
        let known: Option<String> =
            sql(known).bind(&cohort.roster_id).value_if_any(&mut *transaction).await?;
        let code = known.unwrap_or_else(|| cohort.code.clone());
        let insert =
            "INSERT INTO cohorts (code, title, roster_id) VALUES ($1, $2, $3) ON CONFLICT (code) DO NOTHING";
        let new = sql(insert).bind(&code).bind(&cohort.title).bind(&cohort.roster_id);
        count.new_cohorts += new.run(&mut *transaction).await? as u32;
        let update = "UPDATE cohorts SET title = $1, roster_id = coalesce($2, roster_id) WHERE code = $3";
        sql(update).bind(&cohort.title).bind(&cohort.roster_id).bind(&code).run(&mut *transaction).await?;
        cohorts.push(code);
    }
    let join = "INSERT INTO members (cohort, learner) VALUES ($1, $2) ON CONFLICT DO NOTHING";
    for &(cohort, learner) in &roster.members {
        let pair = sql(join).bind(&cohorts[cohort]).bind(&learners[learner]);
        count.joined += pair.run(&mut *transaction).await? as u32;
    }
    let leave = "DELETE FROM members WHERE cohort = $1 AND learner = $2";
    for &(cohort, learner) in &roster.leaving {
        let pair = sql(leave).bind(&cohorts[cohort]).bind(&learners[learner]);
        if pair.run(&mut *transaction).await? > 0 {
            count.left += 1;
            count.leaving.push((cohorts[cohort].clone(), learners[learner].clone()));
        }
    }
    Ok(count)
}

/// Takes one learner in and gives the code.
async fn take_learner(
    transaction: &mut Transaction,
    learner: &RosterLearner,
    options: &RosterOptions<'_>,
    count: &mut RosterCount,
) -> Result<String, StoreError> {
    let known: Option<String> = match (&learner.code, &learner.roster_id) {
        (Some(code), _) => {
            let select = "SELECT code FROM learners WHERE code = $1";
            sql(select).bind(code).value_if_any(&mut *transaction).await?
        }
        (None, id) => {
            let select = "SELECT learner FROM names WHERE roster_id = $1";
            sql(select).bind(id).value_if_any(&mut *transaction).await?
        }
    };
    let code = match known {
        Some(code) => {
            count.known_learners += 1;
            code
        }
        None => {
            let code = match &learner.code {
                Some(code) => code.clone(),
                None => free_code(transaction, options.prefix).await?,
            };
            sql("INSERT INTO learners (code) VALUES ($1)").bind(&code).run(&mut *transaction).await?;
            count.new_learners += 1;
            count.new_codes.push(code.clone());
            code
        }
    };
    let name = learner.name.as_ref().filter(|_| options.with_names);
    if name.is_some() || learner.roster_id.is_some() {
        let insert = "INSERT INTO names (learner, name, roster_id) VALUES ($1, $2, $3) ON CONFLICT (learner) DO UPDATE \
                      SET name = coalesce(excluded.name, names.name), \
                      roster_id = coalesce(excluded.roster_id, names.roster_id)";
        sql(insert).bind(&code).bind(name).bind(&learner.roster_id).run(&mut *transaction).await?;
    }
    Ok(code)
}

/// The first code of a prefix that nobody has.
async fn free_code(transaction: &mut Transaction, prefix: &str) -> Result<String, StoreError> {
    let mut number: i64 = sql("SELECT count(*) FROM learners").value(&mut *transaction).await?;
    loop {
        number += 1;
        let code = format!("{prefix}-{number:03}");
        let select = "SELECT count(*) FROM learners WHERE code = $1";
        let taken: i64 = sql(select).bind(&code).value(&mut *transaction).await?;
        if taken == 0 {
            return Ok(code);
        }
    }
}
