//! Tables that say what their columns mean.

use kerfwright_class::table;

/// What a column holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// Words.
    Text,
    /// Numbers.
    Number,
}

/// A column and its line in the data dictionary.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Column {
    /// Its name; a unit ends it.
    pub name: &'static str,
    /// What it holds.
    pub kind: Kind,
    /// What it means, with unit and what an empty cell says.
    pub meaning: &'static str,
}

/// One cell.
#[derive(Debug, Clone, PartialEq)]
pub enum Cell {
    /// Nothing.
    Empty,
    /// A word.
    Text(String),
    /// A number.
    Number(f64),
}

/// A table. Every row has a cell for every column.
#[derive(Debug, Clone, PartialEq)]
pub struct Table {
    /// The columns.
    pub columns: &'static [Column],
    /// The rows.
    pub rows: Vec<Vec<Cell>>,
}

impl From<Option<&str>> for Cell {
    fn from(text: Option<&str>) -> Self {
        text.filter(|text| !text.is_empty()).map_or(Self::Empty, |text| Self::Text(text.into()))
    }
}

impl From<&str> for Cell {
    fn from(text: &str) -> Self {
        Some(text).into()
    }
}

impl From<Option<f64>> for Cell {
    fn from(number: Option<f64>) -> Self {
        number.map_or(Self::Empty, Self::Number)
    }
}

impl Table {
    /// As CSV by RFC 4180, in UTF-8; numbers with a point, exact.
    pub fn to_csv(&self) -> String {
        let heading: Vec<&str> = self.columns.iter().map(|column| column.name).collect();
        let text = |cell: &Cell| match cell {
            Cell::Empty => String::new(),
            Cell::Text(text) => text.clone(),
            Cell::Number(number) => number.to_string(),
        };
        let rows: Vec<Vec<String>> = self.rows.iter().map(|row| row.iter().map(text).collect()).collect();
        table::write(&heading, &rows)
    }

    /// As Apache Parquet, without compression, which every reader takes. The same rows give the same bytes.
    ///
    /// # Errors
    /// What the writer says; no row that this type can hold makes it fail.
    pub fn to_parquet(&self) -> Result<Vec<u8>, String> {
        crate::parquet::write(self).map_err(|error| error.to_string())
    }

    /// What each column means, as CSV.
    pub fn dictionary(&self) -> String {
        let row = |column: &Column| {
            let kind = match column.kind {
                Kind::Text => "text",
                Kind::Number => "number",
            };
            vec![column.name.to_owned(), kind.to_owned(), column.meaning.to_owned()]
        };
        table::write(&["column", "type", "meaning"], &self.columns.iter().map(row).collect::<Vec<_>>())
    }
}
