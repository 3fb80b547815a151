//! One attempt out of one store and into another.

use std::collections::BTreeMap;

use kerfwright_exchange::bundle::{
    Bundle, BundleAttempt, BundleDocument, BundleExercise, BundleGrade, BundleRemark, BundleScan, SCHEMA,
};

use crate::class::insert_measured;
use crate::grades::{insert_grade, insert_override};
use crate::hash::sha256;
use crate::remarks::insert_remark;
use crate::sql::{Transaction, sql};
use crate::store::audit;
use crate::{Measured, NewGrade, NewMeasured, NewRemark, ScanRow, Store, StoreError};

/// What a bundle takes from an attempt.
#[derive(sqlx::FromRow)]
struct Row {
    identity: Option<String>,
    after: String,
    before: Option<String>,
    opposing: Option<String>,
    request: String,
    fdi: i64,
    learner: Option<String>,
    stage: Option<String>,
    taken: Option<String>,
    exercise_version: Option<String>,
}

impl Store {
    /// An attempt with all that hangs on it, and its files by their names in the archive.
    ///
    /// # Errors
    /// [`StoreError::Unknown`]; [`StoreError::Erased`] where its scans were erased; the database or the disk fails.
    pub async fn bundle(&self, id: &str) -> Result<(Bundle, BTreeMap<String, Vec<u8>>), StoreError> {
        let select = "SELECT identity, after, before, opposing, request, fdi, learner, stage, taken, exercise_version \
                      FROM attempts WHERE id = $1";
        let row: Option<Row> = sql(select).bind(id).row_if_any(&self.pool).await?;
        let row = row.ok_or_else(|| StoreError::Unknown { what: "attempt", code: id.into() })?;
        let mut files = BTreeMap::new();
        let mut scans = BTreeMap::new();
        for (role, scan) in [
            ("after", Some(&row.after)),
            ("before", row.before.as_ref()),
            ("opposing", row.opposing.as_ref()),
        ] {
            let Some(scan) = scan else { continue };
            let (kept, bytes) = (self.scan(scan).await?, self.scan_bytes(scan).await?);
            let (Some(kept), Some(bytes)) = (kept, bytes) else { return Err(StoreError::Erased) };
            let name = format!("{role}.scan");
            scans.insert(role.to_owned(), to_bundle(&kept, &name));
            files.insert(name, bytes);
        }
        let select =
            "SELECT version, layout, document FROM documents WHERE attempt = $1 ORDER BY created, version";
        let kept: Vec<(String, String, String)> = sql(select).bind(id).rows(&self.pool).await?;
        let mut documents = Vec::new();
        for (version, layout, document) in kept {
            let name = format!("document-{}.json", documents.len() + 1);
            files.insert(name.clone(), document.into_bytes());
            documents.push(BundleDocument { name, version, layout });
        }
        let exercise = match &row.exercise_version {
            Some(version) => self.exercise(version).await?,
            None => None,
        };
        let mut grades = Vec::new();
        for grade in self
            .grades(id)
            .await?
            .into_iter()
            .filter(|grade| Some(&grade.exercise_version) == row.exercise_version.as_ref())
        {
            let overrides = self.overrides(&grade.id).await?;
            let overrides = overrides.into_iter().map(|row| [row.by, row.reason, row.change]).collect();
            grades.push(BundleGrade {
                stage: grade.stage,
                version: grade.version,
                grade: grade.grade,
                overrides,
            });
        }
        let remarks = self.remarks(id).await?.into_iter().map(|remark| BundleRemark {
            at_mm: [remark.x_mm, remark.y_mm, remark.z_mm],
            text: remark.text,
            author: remark.author,
        });
        let bundle = Bundle {
            schema: SCHEMA.into(),
            files: BTreeMap::new(),
            attempt: BundleAttempt {
                identity: row.identity.unwrap_or_else(|| sha256(row.request.as_bytes())),
                request: row.request,
                fdi: u8::try_from(row.fdi).unwrap_or(0),
                learner: row.learner,
                stage: row.stage,
                taken: row.taken,
            },
            scans,
            documents,
            exercise: exercise.map(|row| BundleExercise { name: row.name, title: row.title, toml: row.toml }),
            grades,
            remarks: remarks.collect(),
        };
        Ok((bundle, files))
    }

    /// Keeps an attempt that another copy wrote, and gives its id. The same attempt again is the same attempt.
    ///
    /// # Errors
    /// The database or the disk fails.
    pub async fn take_bundle(
        &self,
        bundle: &Bundle,
        files: &BTreeMap<String, Vec<u8>>,
        who: &str,
    ) -> Result<String, StoreError> {
        let mut ids = BTreeMap::new();
        for (role, scan) in &bundle.scans {
            let bytes = files.get(&scan.name).map_or(&[][..], Vec::as_slice);
            ids.insert(role.as_str(), self.keep_scan(&from_bundle(scan, bytes.len()), bytes).await?.id);
        }
        let exercise_version = match &bundle.exercise {
            Some(exercise) => {
                Some(self.keep_exercise(&exercise.name, &exercise.title, &exercise.toml).await?)
            }
            None => None,
        };
        let mut transaction = self.begin().await?;
        let known: Option<String> = sql("SELECT id FROM attempts WHERE identity = $1")
            .bind(&bundle.attempt.identity)
            .value_if_any(&mut transaction)
            .await?;
        let mut id = known.clone();
        for document in &bundle.documents {
            let text = files.get(&document.name).map(|bytes| String::from_utf8_lossy(bytes).into_owned());
            let outcome = Measured::Done {
                layout: document.layout.clone(),
                document: text.unwrap_or_default(),
                grade: None,
            };
            let new = measured(bundle, &ids, exercise_version.clone(), document.version.clone(), outcome);
            id = Some(insert_measured(&mut transaction, &new).await?);
        }
        let id = id.ok_or(StoreError::Unmeasured)?;
        if known.is_none() {
            insert_judgements(&mut transaction, &id, bundle, exercise_version.as_deref()).await?;
        }
        audit(&mut transaction, who, "bundle opened", &id).await?;
        transaction.commit().await?;
        Ok(id)
    }
}

fn measured(
    bundle: &Bundle,
    ids: &BTreeMap<&str, String>,
    exercise_version: Option<String>,
    version: String,
    outcome: Measured,
) -> NewMeasured {
    let (attempt, id) = (bundle.attempt.clone(), |role: &str| ids.get(role).cloned());
    NewMeasured {
        identity: attempt.identity,
        scans: (id("after").unwrap_or_default(), id("before"), id("opposing")),
        request: attempt.request,
        fdi: attempt.fdi,
        learner: attempt.learner,
        session: None,
        exercise: bundle.exercise.as_ref().map(|exercise| exercise.name.clone()),
        exercise_version,
        stage: attempt.stage,
        taken: attempt.taken,
        version,
        outcome,
    }
}

/// Grades with the decisions on them, and remarks.
async fn insert_judgements(
    transaction: &mut Transaction,
    id: &str,
    bundle: &Bundle,
    exercise_version: Option<&str>,
) -> Result<(), StoreError> {
    for grade in &bundle.grades {
        let Some(version) = exercise_version else { continue };
        let new = NewGrade {
            exercise_version: version.into(),
            stage: grade.stage.clone(),
            version: grade.version.clone(),
            grade: grade.grade.clone(),
        };
        let kept = insert_grade(transaction, id, &new).await?;
        for [by, reason, change] in &grade.overrides {
            insert_override(transaction, &kept, by, reason, change).await?;
        }
    }
    for remark in &bundle.remarks {
        let new = NewRemark { at: remark.at_mm, text: remark.text.clone(), author: remark.author.clone() };
        insert_remark(transaction, id, &new).await?;
    }
    Ok(())
}

fn to_bundle(row: &ScanRow, name: &str) -> BundleScan {
    BundleScan {
        name: name.into(),
        file: row.file.clone(),
        sha256: row.id.clone(),
        format: row.format.clone(),
        n_triangles: row.n_triangles,
        size_mm: row.size_mm.0,
        findings: row.findings.0.clone(),
    }
}

fn from_bundle(scan: &BundleScan, n_bytes: usize) -> ScanRow {
    ScanRow {
        id: scan.sha256.clone(),
        file: scan.file.clone(),
        n_bytes: n_bytes as i64,
        format: scan.format.clone(),
        n_triangles: scan.n_triangles,
        size_mm: scan.size_mm.into(),
        findings: scan.findings.clone().into(),
        created: String::new(),
        erased: None,
    }
}
