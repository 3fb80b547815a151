//! Everything that is kept, copied to another place: from a folder to PostgreSQL and a bucket, or back.

use std::collections::BTreeSet;

use sha2::{Digest, Sha256};

use crate::backup::Checked;
use crate::hash::sha256;
use crate::sql::{Cells, Transaction, Value, sql};
use crate::store::audit;
use crate::{Store, StoreError};

/// The tables that are copied, each after those that it refers to, with what its rows are ordered by.
pub const COPIED: [(&str, &str); 20] = [
    ("learners", "code"),
    ("names", "learner"),
    ("cohorts", "code"),
    ("members", "cohort, learner"),
    ("lab_sessions", "code"),
    ("exercise_versions", "id"),
    ("own_exercises", "name"),
    ("scans", "id"),
    ("scan_senders", "scan, learner"),
    ("attempts", "id"),
    ("documents", "attempt, version"),
    ("remarks", "id"),
    ("grades", "id"),
    ("overrides", "number"),
    ("gradings", "id"),
    ("grading_places", "grading, examiner, place"),
    ("ratings", "examiner, attempt, criterion, occasion"),
    ("reserved_numbers", "identity"),
    ("accounts", "code"),
    ("audit", "number"),
];

/// The tables that are not: readings follow their documents by themselves, everybody signs in anew, and files that are to go stay behind.
pub const LEFT: [&str; 3] = ["readings", "sign_ins", "doomed_files"];

/// Rows that are read at once.
const PAGE: i64 = 200;

impl Store {
    /// Copies all rows and scans into `to`, which has to be empty, and checks the copy before it counts: every scan against its hash, every table
    /// row by row against this one. While rows are copied nobody writes on either side. What broke off left no row there, and is simply begun
    /// again. This store stays as it is.
    ///
    /// `told` hears how many scans of how many are there.
    ///
    /// # Errors
    /// [`StoreError::Occupied`] if `to` holds anything, [`StoreError::Unsound`] if something kept here is damaged or did not arrive as it was, or
    /// either place fails; then `to` holds no row.
    pub async fn copy_to(&self, to: &Self, told: impl Fn(usize, usize)) -> Result<Checked, StoreError> {
        let select = "SELECT id FROM scans WHERE erased IS NULL ORDER BY id";
        let scans: Vec<String> = sql(select).values(&self.pool).await?;
        let mut there = BTreeSet::new();
        is_empty(&mut to.begin().await?).await?;
        for (place, id) in scans.iter().enumerate() {
            self.bring(to, id).await?;
            there.insert(id.clone());
            told(place + 1, scans.len());
        }
        let (mut from, mut into) = (patient(self.begin().await?).await?, patient(to.begin().await?).await?);
        is_empty(&mut into).await?;
        // What came since.
        let scans: Vec<String> = sql(select).values(&mut from).await?;
        for id in scans.iter().filter(|id| !there.contains(*id)) {
            self.bring(to, id).await?;
        }
        for (table, order) in COPIED {
            let (here, there) =
                (copy(&mut from, &mut into, table, order).await?, digest(&mut into, table, order).await?);
            if here != there {
                return Err(unsound(format!("table {table}"), "did not arrive as it was"));
            }
        }
        if count(&mut from, "readings").await? != count(&mut into, "readings").await? {
            return Err(unsound("table readings".into(), "did not arrive as it was"));
        }
        count_on(&mut into).await?;
        audit(&mut into, self.who(), "copied here", "").await?;
        let attempts = count(&mut from, "attempts").await?;
        into.commit().await?;
        Ok(Checked { scans: scans.len() as u32, attempts: attempts as u32 })
    }

    /// Brings the bytes of a scan, and looks at them before and after.
    async fn bring(&self, to: &Self, id: &str) -> Result<(), StoreError> {
        let bytes = self.scans.read(id).await.ok().filter(|bytes| sha256(bytes) == *id);
        let bytes = bytes.ok_or_else(|| unsound(format!("scan {id}"), "is missing or changed here"))?;
        to.scans.put(id, &bytes).await?;
        if sha256(&to.scans.read(id).await?) == *id {
            Ok(())
        } else {
            Err(unsound(format!("scan {id}"), "did not arrive as it was"))
        }
    }
}

/// Refuses to copy over anything.
async fn is_empty(into: &mut Transaction) -> Result<(), StoreError> {
    for (table, _) in COPIED {
        if count(into, table).await? > 0 {
            return Err(StoreError::Occupied { what: table });
        }
    }
    Ok(())
}

/// One side waits for the other longer than for a program that was cut off.
async fn patient(mut transaction: Transaction) -> Result<Transaction, StoreError> {
    if matches!(transaction, Transaction::Postgres(_)) {
        sql("SET LOCAL idle_in_transaction_session_timeout = 0").run(&mut transaction).await?;
    }
    Ok(transaction)
}

/// Copies a table and gives its digest.
async fn copy(
    from: &mut Transaction,
    into: &mut Transaction,
    table: &str,
    order: &str,
) -> Result<Vec<u8>, StoreError> {
    let mut rows = Digested::default();
    for page in 0.. {
        let cells = read(from, table, order, page).await?;
        for Cells(cells) in &cells {
            rows.add(cells);
            let names: Vec<&str> = cells.iter().map(|(name, _)| name.as_str()).collect();
            let places: Vec<String> = (1..=cells.len()).map(|place| format!("${place}")).collect();
            let insert = format!("INSERT INTO {table} ({}) VALUES ({})", names.join(", "), places.join(", "));
            let query = cells.iter().fold(sql(insert), |query, (_, value)| query.bind(value.clone()));
            query.run(&mut *into).await?;
        }
        if (cells.len() as i64) < PAGE {
            break;
        }
    }
    Ok(rows.end())
}

/// The digest of a table.
async fn digest(of: &mut Transaction, table: &str, order: &str) -> Result<Vec<u8>, StoreError> {
    let mut rows = Digested::default();
    for page in 0.. {
        let cells = read(of, table, order, page).await?;
        cells.iter().for_each(|Cells(cells)| rows.add(cells));
        if (cells.len() as i64) < PAGE {
            break;
        }
    }
    Ok(rows.end())
}

async fn read(of: &mut Transaction, table: &str, order: &str, page: i64) -> Result<Vec<Cells>, StoreError> {
    let select = format!("SELECT * FROM {table} ORDER BY {order} LIMIT {PAGE} OFFSET {}", page * PAGE);
    sql(select).rows(&mut *of).await
}

async fn count(of: &mut Transaction, table: &str) -> Result<i64, StoreError> {
    sql(format!("SELECT count(*) FROM {table}")).value(&mut *of).await
}

/// Lets PostgreSQL count on from the numbers that came; SQLite does so by itself.
async fn count_on(into: &mut Transaction) -> Result<(), StoreError> {
    if matches!(into, Transaction::Postgres(_)) {
        for table in ["overrides", "audit"] {
            let set = format!(
                "SELECT setval(pg_get_serial_sequence('{table}', 'number'), coalesce(max(number), 0) + 1, false) FROM {table}"
            );
            sql(set).value::<i64>(&mut *into).await?;
        }
    }
    Ok(())
}

fn unsound(what: String, why: &str) -> StoreError {
    StoreError::Unsound { what, why: why.into() }
}

/// Rows in whatever order a database gives them, as one hash.
#[derive(Default)]
struct Digested(Vec<[u8; 32]>);

impl Digested {
    fn add(&mut self, cells: &[(String, Value)]) {
        let mut sorted: Vec<&(String, Value)> = cells.iter().collect();
        sorted.sort_by_key(|(name, _)| name);
        let mut hash = Sha256::new();
        for (name, value) in sorted {
            // As written for people who debug: texts are quoted, so that no two rows look alike.
            hash.update(format!("{name:?}={value:?};"));
        }
        self.0.push(hash.finalize().into());
    }

    fn end(mut self) -> Vec<u8> {
        self.0.sort_unstable();
        let mut hash = Sha256::new();
        self.0.iter().for_each(|row| hash.update(row));
        hash.finalize().to_vec()
    }
}
