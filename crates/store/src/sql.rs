//! One way to ask either database. A query is written once, in the SQL that SQLite and PostgreSQL share, with `$1` for its values and
//! `utc_now()` for the time.

use sqlx::postgres::{PgArguments, PgRow};
use sqlx::sqlite::{SqliteArguments, SqliteRow};
use sqlx::types::Json;
use sqlx::{Arguments, AssertSqlSafe, Column, FromRow, PgPool, Postgres, Row as _, Sqlite, SqlitePool};

use crate::StoreError;

/// The connections to a database.
#[derive(Debug, Clone)]
pub(crate) enum Pool {
    Sqlite(SqlitePool),
    Postgres(PgPool),
}

/// What happens whole or not at all.
pub(crate) enum Transaction {
    Sqlite(sqlx::Transaction<'static, Sqlite>),
    Postgres(sqlx::Transaction<'static, Postgres>),
}

/// The lock that stands for the right to write. One number for all copies of the program: the first bytes of "kerfwright".
const RIGHT_TO_WRITE: &str = "SELECT pg_advisory_xact_lock(7738717319122282855)";

impl Pool {
    /// Begins what is to happen whole or not at all; takes the right to write at once, so that it need not be begun again. One writer
    /// at a time on either database.
    pub async fn begin(&self) -> Result<Transaction, StoreError> {
        Ok(match self {
            Self::Sqlite(pool) => Transaction::Sqlite(pool.begin_with("BEGIN IMMEDIATE").await?),
            Self::Postgres(pool) => {
                let mut transaction = pool.begin().await?;
                sqlx::query(RIGHT_TO_WRITE).execute(&mut *transaction).await?;
                Transaction::Postgres(transaction)
            }
        })
    }

    /// Waits for what is being written and ends the connections.
    pub async fn close(&self) {
        match self {
            Self::Sqlite(pool) => pool.close().await,
            Self::Postgres(pool) => pool.close().await,
        }
    }
}

impl Transaction {
    /// Keeps what happened. Without it, nothing did.
    pub async fn commit(self) -> Result<(), StoreError> {
        match self {
            Self::Sqlite(transaction) => transaction.commit().await?,
            Self::Postgres(transaction) => transaction.commit().await?,
        }
        Ok(())
    }
}

/// Where a query goes.
pub(crate) enum On<'a> {
    SqlitePool(&'a SqlitePool),
    PgPool(&'a PgPool),
    Sqlite(&'a mut sqlx::SqliteConnection),
    Pg(&'a mut sqlx::PgConnection),
}

impl<'a> From<&'a Pool> for On<'a> {
    fn from(pool: &'a Pool) -> Self {
        match pool {
            Pool::Sqlite(pool) => Self::SqlitePool(pool),
            Pool::Postgres(pool) => Self::PgPool(pool),
        }
    }
}

impl<'a> From<&'a mut Transaction> for On<'a> {
    fn from(transaction: &'a mut Transaction) -> Self {
        match transaction {
            Transaction::Sqlite(transaction) => Self::Sqlite(&mut *transaction),
            Transaction::Postgres(transaction) => Self::Pg(&mut *transaction),
        }
    }
}

/// A row that both databases can give.
pub(crate) trait Row:
    for<'r> FromRow<'r, SqliteRow> + for<'r> FromRow<'r, PgRow> + Send + Unpin
{
}
impl<T: for<'r> FromRow<'r, SqliteRow> + for<'r> FromRow<'r, PgRow> + Send + Unpin> Row for T {}

/// A value of a query.
#[derive(Debug, Clone)]
pub(crate) enum Value {
    Text(Option<String>),
    Integer(i64),
    Real(f64),
    Truth(bool),
    Json(serde_json::Value),
}

/// A row of any table, cell by cell, with the names of its columns.
pub(crate) struct Cells(pub Vec<(String, Value)>);

/// Cells by what their columns hold: the same name holds the same kind in every table.
macro_rules! cells_from {
    ($row:ty) => {
        impl<'r> FromRow<'r, $row> for Cells {
            fn from_row(row: &'r $row) -> sqlx::Result<Self> {
                let cell = |place: usize, name: &str| {
                    Ok(match name {
                        "number" | "n_bytes" | "n_triangles" | "fdi" | "occasion" | "place"
                        | "calibrates" => Value::Integer(row.try_get(place)?),
                        "value" | "x_mm" | "y_mm" | "z_mm" => Value::Real(row.try_get(place)?),
                        "size_mm" | "findings" => {
                            Value::Json(row.try_get::<Json<serde_json::Value>, _>(place)?.0)
                        }
                        _ => Value::Text(row.try_get(place)?),
                    })
                };
                let cells = row.columns().iter().enumerate();
                let named =
                    |(place, column): (usize, &<<$row as sqlx::Row>::Database as sqlx::Database>::Column)| {
                        cell(place, column.name()).map(|value| (column.name().to_owned(), value))
                    };
                cells.map(named).collect::<sqlx::Result<_>>().map(Self)
            }
        }
    };
}
cells_from!(SqliteRow);
cells_from!(PgRow);

/// A query with its values.
#[derive(Debug, Clone)]
pub(crate) struct Query {
    text: String,
    values: Vec<Value>,
}

/// Begins a query.
pub(crate) fn sql(text: impl Into<String>) -> Query {
    Query { text: text.into(), values: Vec::new() }
}

/// Makes and sends a query of one of sqlx's kinds to wherever it is to go.
macro_rules! send {
    ($query:expr, $on:expr, $kind:ident, $fetch:ident $(, $then:ident)?) => {
        Ok(match $on.into() {
            On::SqlitePool(pool) => {
                let (text, values) = $query.for_sqlite()?;
                sqlx::$kind(AssertSqlSafe(text), values).$fetch(pool).await?$(.$then())?
            }
            On::Sqlite(connection) => {
                let (text, values) = $query.for_sqlite()?;
                sqlx::$kind(AssertSqlSafe(text), values).$fetch(connection).await?$(.$then())?
            }
            On::PgPool(pool) => {
                let (text, values) = $query.for_postgres()?;
                sqlx::$kind(AssertSqlSafe(text), values).$fetch(pool).await?$(.$then())?
            }
            On::Pg(connection) => {
                let (text, values) = $query.for_postgres()?;
                sqlx::$kind(AssertSqlSafe(text), values).$fetch(connection).await?$(.$then())?
            }
        })
    };
}

/// The values as the arguments of one database.
macro_rules! arguments {
    ($kind:ident, $values:expr) => {{
        let mut arguments = $kind::default();
        for value in $values {
            match value {
                Value::Text(text) => arguments.add(text),
                Value::Integer(number) => arguments.add(number),
                Value::Real(number) => arguments.add(number),
                Value::Truth(truth) => arguments.add(truth),
                Value::Json(json) => arguments.add(Json(json)),
            }
            .map_err(sqlx::Error::Encode)?;
        }
        arguments
    }};
}

impl Query {
    /// The value of the next `$`.
    pub fn bind(mut self, value: impl Into<Value>) -> Self {
        self.values.push(value.into());
        self
    }

    /// More text.
    pub fn push(mut self, text: &str) -> Self {
        self.text += text;
        self
    }

    /// A value where the text stands.
    pub fn push_bind(self, value: impl Into<Value>) -> Self {
        let place = format!("${}", self.values.len() + 1);
        self.push(&place).bind(value)
    }

    /// Does it; how many rows it changed.
    pub async fn run(self, on: impl Into<On<'_>>) -> Result<u64, StoreError> {
        send!(self, on, query_with, execute, rows_affected)
    }

    /// All rows.
    pub async fn rows<T: Row>(self, on: impl Into<On<'_>>) -> Result<Vec<T>, StoreError> {
        send!(self, on, query_as_with, fetch_all)
    }

    /// The one row.
    pub async fn row<T: Row>(self, on: impl Into<On<'_>>) -> Result<T, StoreError> {
        send!(self, on, query_as_with, fetch_one)
    }

    /// The row, if there is one.
    pub async fn row_if_any<T: Row>(self, on: impl Into<On<'_>>) -> Result<Option<T>, StoreError> {
        send!(self, on, query_as_with, fetch_optional)
    }

    /// The first column of all rows.
    pub async fn values<T>(self, on: impl Into<On<'_>>) -> Result<Vec<T>, StoreError>
    where
        (T,): Row,
    {
        Ok(self.rows::<(T,)>(on).await?.into_iter().map(|row| row.0).collect())
    }

    /// The first column of the one row.
    pub async fn value<T>(self, on: impl Into<On<'_>>) -> Result<T, StoreError>
    where
        (T,): Row,
    {
        Ok(self.row::<(T,)>(on).await?.0)
    }

    /// The first column of the row, if there is one.
    pub async fn value_if_any<T>(self, on: impl Into<On<'_>>) -> Result<Option<T>, StoreError>
    where
        (T,): Row,
    {
        Ok(self.row_if_any::<(T,)>(on).await?.map(|row| row.0))
    }

    fn for_sqlite(self) -> Result<(String, SqliteArguments), sqlx::Error> {
        const NOW: &str = "strftime('%Y-%m-%dT%H:%M:%fZ', 'now'";
        let text = self.text.replace("utc_now()", &format!("{NOW})"));
        let text = text.replace("utc_now(", &format!("{NOW}, "));
        Ok((text, arguments!(SqliteArguments, self.values)))
    }

    fn for_postgres(self) -> Result<(String, PgArguments), sqlx::Error> {
        Ok((self.text, arguments!(PgArguments, self.values)))
    }
}

impl From<&str> for Value {
    fn from(text: &str) -> Self {
        Self::Text(Some(text.to_owned()))
    }
}

impl From<&String> for Value {
    fn from(text: &String) -> Self {
        Self::Text(Some(text.clone()))
    }
}

impl From<String> for Value {
    fn from(text: String) -> Self {
        Self::Text(Some(text))
    }
}

impl<T: ToString + ?Sized> From<Option<&T>> for Value {
    fn from(text: Option<&T>) -> Self {
        Self::Text(text.map(T::to_string))
    }
}

impl From<&Option<String>> for Value {
    fn from(text: &Option<String>) -> Self {
        Self::Text(text.clone())
    }
}

impl From<i64> for Value {
    fn from(number: i64) -> Self {
        Self::Integer(number)
    }
}

impl From<f64> for Value {
    fn from(number: f64) -> Self {
        Self::Real(number)
    }
}

impl From<bool> for Value {
    fn from(truth: bool) -> Self {
        Self::Truth(truth)
    }
}

impl<T: serde::Serialize> From<&Json<T>> for Value {
    fn from(json: &Json<T>) -> Self {
        // Numbers and texts can always be written.
        Self::Json(serde_json::to_value(&json.0).unwrap_or_default())
    }
}
