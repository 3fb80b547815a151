//! Blind gradings: sheets of codes, and what was given for them.

use sqlx::FromRow;

use crate::sql::sql;
use crate::store::audit;
use crate::{Store, StoreError};

/// A grading to be kept.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NewGrading {
    /// What people call it.
    pub title: String,
    /// Name of the exercise.
    pub exercise: String,
    /// The stage.
    pub stage: String,
    /// What is graded, as JSON.
    pub criteria: String,
    /// Whether each examiner is shown, having graded all, where he differed from what was measured.
    pub is_calibration: bool,
    /// Each examiner's code, with the codes to grade in order and the attempts behind them.
    pub sheets: Vec<(String, Vec<(String, String)>)>,
}

/// A kept grading.
#[derive(Debug, Clone, PartialEq, Eq, FromRow)]
pub struct GradingRow {
    /// Its id.
    pub id: String,
    /// What people call it.
    pub title: String,
    /// Name of the exercise.
    pub exercise: String,
    /// The stage.
    pub stage: String,
    /// What is graded, as JSON.
    pub criteria: String,
    /// Whether each examiner is shown, having graded all, where he differed from what was measured.
    pub is_calibration: bool,
    /// When it was set up.
    pub created: String,
}

/// How far an examiner has come.
#[derive(Debug, Clone, PartialEq, Eq, FromRow)]
pub struct SheetRow {
    /// Id of the grading.
    pub grading: String,
    /// Code of the examiner.
    pub examiner: String,
    /// Codes to grade.
    pub n: i64,
    /// Codes that are graded.
    pub n_given: i64,
}

/// One code of a sheet.
#[derive(Debug, Clone, PartialEq, Eq, FromRow)]
pub struct SheetPlace {
    /// The code.
    pub code: String,
    /// Id of the attempt behind it; not for examiners.
    pub attempt: String,
    /// Whether it is graded.
    pub is_given: bool,
}

/// What was given for one criterion of one code.
#[derive(Debug, Clone, PartialEq, FromRow)]
pub struct GivenMark {
    /// The code.
    pub code: String,
    /// Id of the attempt behind it.
    pub attempt: String,
    /// The criterion.
    pub criterion: String,
    /// The value.
    pub value: f64,
}

impl Store {
    /// Keeps a grading with all its sheets, and gives its id.
    ///
    /// # Errors
    /// The database fails, or an attempt is not kept.
    pub async fn add_grading(&self, new: &NewGrading) -> Result<String, StoreError> {
        let mut transaction = self.begin().await?;
        let insert = "INSERT INTO gradings (title, exercise, stage, criteria, calibrates) VALUES ($1, $2, $3, $4, $5) RETURNING id";
        let grading = sql(insert)
            .bind(&new.title)
            .bind(&new.exercise)
            .bind(&new.stage)
            .bind(&new.criteria)
            .bind(i64::from(new.is_calibration));
        let id: String = grading.value(&mut transaction).await?;
        let insert = "INSERT INTO grading_places (grading, examiner, place, code, attempt) VALUES ($1, $2, $3, $4, $5)";
        for (examiner, codes) in &new.sheets {
            for (place, (code, attempt)) in (1_i64..).zip(codes) {
                let query = sql(insert).bind(&id).bind(examiner).bind(place).bind(code).bind(attempt);
                query.run(&mut transaction).await?;
            }
        }
        audit(&mut transaction, self.who(), "grading set up", &id).await?;
        transaction.commit().await?;
        Ok(id)
    }

    /// All gradings, the latest first.
    ///
    /// # Errors
    /// The database fails.
    pub async fn gradings(&self) -> Result<Vec<GradingRow>, StoreError> {
        let select = "SELECT id, title, exercise, stage, criteria, calibrates = 1 AS is_calibration, created FROM gradings \
             ORDER BY created DESC, id";
        sql(select).rows(&self.pool).await
    }

    /// How far the examiners of all gradings have come, by their codes.
    ///
    /// # Errors
    /// The database fails.
    pub async fn sheets(&self) -> Result<Vec<SheetRow>, StoreError> {
        let select = "SELECT grading, examiner, count(*) AS n, count(given) AS n_given FROM grading_places \
                      GROUP BY grading, examiner ORDER BY grading, examiner";
        sql(select).rows(&self.pool).await
    }

    /// The codes of one examiner in the order in which they are to be graded; empty for somebody who has no sheet there.
    ///
    /// # Errors
    /// The database fails.
    pub async fn sheet(&self, grading: &str, examiner: &str) -> Result<Vec<SheetPlace>, StoreError> {
        let select = "SELECT code, attempt, given IS NOT NULL AS is_given FROM grading_places \
                      WHERE grading = $1 AND examiner = $2 ORDER BY place";
        sql(select).bind(grading).bind(examiner).rows(&self.pool).await
    }

    /// Whether an examiner still has something to grade in any grading.
    ///
    /// # Errors
    /// The database fails.
    pub async fn has_open_sheet(&self, examiner: &str) -> Result<bool, StoreError> {
        let select = "SELECT EXISTS (SELECT 1 FROM grading_places WHERE examiner = $1 AND given IS NULL)";
        sql(select).bind(examiner).value(&self.pool).await
    }

    /// Keeps what an examiner gives for a code: a value for each criterion, as the next occasion on which this examiner grades this
    /// attempt. `false` if there is no such code or it is graded already: what was given is not given again.
    ///
    /// # Errors
    /// The database fails.
    pub async fn give_marks(
        &self,
        grading: &str,
        examiner: &str,
        code: &str,
        marks: &[(String, f64)],
    ) -> Result<bool, StoreError> {
        let update = "UPDATE grading_places SET given = utc_now() \
                      WHERE grading = $1 AND examiner = $2 AND code = $3 AND given IS NULL RETURNING attempt, examiner";
        let mut transaction = self.begin().await?;
        let found = sql(update).bind(grading).bind(examiner).bind(code);
        let found: Option<(String, String)> = found.row_if_any(&mut transaction).await?;
        let Some((attempt, examiner)) = found else { return Ok(false) };
        let insert = "INSERT INTO ratings (examiner, attempt, criterion, occasion, value, grading, code) \
                      SELECT $1, $2, $3, coalesce(max(occasion), 0) + 1, $4, $5, $6 FROM ratings \
                      WHERE examiner = $1 AND attempt = $2 AND criterion = $3";
        for (criterion, value) in marks {
            let query = sql(insert).bind(&examiner).bind(&attempt).bind(criterion).bind(*value);
            let query = query.bind(grading).bind(code);
            query.run(&mut transaction).await?;
        }
        // Not the attempt: who reads the trail would learn what a code stands for.
        audit(&mut transaction, &examiner, "graded blind", grading).await?;
        transaction.commit().await?;
        Ok(true)
    }

    /// What an examiner gave in a grading, in the order of the sheet.
    ///
    /// # Errors
    /// The database fails.
    pub async fn marks(&self, grading: &str, examiner: &str) -> Result<Vec<GivenMark>, StoreError> {
        // Ratings have the code as the sheet has it, however it is written here.
        let own = "SELECT examiner FROM grading_places WHERE grading = $1 AND examiner = $2 LIMIT 1";
        let own: Option<String> = sql(own).bind(grading).bind(examiner).value_if_any(&self.pool).await?;
        let Some(own) = own else { return Ok(Vec::new()) };
        let select = "SELECT places.code, places.attempt, criterion, value FROM grading_places AS places \
                      JOIN ratings ON ratings.grading = places.grading AND ratings.code = places.code \
                      AND ratings.attempt = places.attempt AND ratings.examiner = $2 \
                      WHERE places.grading = $1 AND places.examiner = $2 ORDER BY place, criterion";
        sql(select).bind(grading).bind(&own).rows(&self.pool).await
    }

    /// Removes a grading with its sheets; what was given stays. `false` if there is no such grading.
    ///
    /// # Errors
    /// The database fails.
    pub async fn remove_grading(&self, id: &str) -> Result<bool, StoreError> {
        let mut transaction = self.begin().await?;
        let delete = sql("DELETE FROM gradings WHERE id = $1").bind(id);
        let was_there = delete.run(&mut transaction).await? > 0;
        if was_there {
            audit(&mut transaction, self.who(), "grading removed", id).await?;
        }
        transaction.commit().await?;
        Ok(was_there)
    }
}
