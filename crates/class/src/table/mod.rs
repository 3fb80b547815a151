//! Tables as text: lines of cells with a separator, as spreadsheets write and read them.

mod ratings;

pub use ratings::read_ratings;

/// Why a table cannot be read. Lines count from 1, the heading being one of them.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum TableError {
    /// Nothing but blanks.
    #[error("line 1: the table is empty; it needs a heading with {expected}")]
    Empty {
        /// Columns that are needed.
        expected: &'static str,
    },
    /// A needed column is not in the heading.
    #[error("line {line}: no column `{column}` in the heading `{heading}`; it needs {expected}")]
    NoColumn {
        /// Line of the heading.
        line: u32,
        /// The missing column.
        column: &'static str,
        /// The heading as it stands.
        heading: String,
        /// Columns that are needed.
        expected: &'static str,
    },
    /// The heading has a column twice.
    #[error("line {line}: column `{column}` stands twice in the heading; keep one")]
    ColumnTwice {
        /// Line of the heading.
        line: u32,
        /// The column.
        column: String,
    },
    /// A line with too few or too many cells.
    #[error("line {line}: {n} cells where the heading has {expected}; look for a missing separator or quote")]
    Cells {
        /// The line.
        line: u32,
        /// Its cells.
        n: u32,
        /// Cells of the heading.
        expected: u32,
    },
    /// A cell that does not hold what its column needs.
    #[error("line {line}: {column} `{text}` is not {expected}")]
    Cell {
        /// The line.
        line: u32,
        /// The column.
        column: &'static str,
        /// What stands there.
        text: String,
        /// What belongs there.
        expected: &'static str,
    },
    /// A quote that is never closed.
    #[error("line {line}: a quote is opened and never closed")]
    Quote {
        /// Where it was opened.
        line: u32,
    },
    /// Two lines say the same thing, perhaps differently.
    #[error(
        "line {line}: the same examiner, attempt, criterion and occasion as line {first}; keep one, or number the gradings in a column `occasion`"
    )]
    Twice {
        /// The second line.
        line: u32,
        /// The first one.
        first: u32,
    },
}

/// The text of a table's bytes.
///
/// # Errors
/// The line, counted from 1, that is no UTF-8.
pub fn text_of(bytes: &[u8]) -> Result<&str, u32> {
    std::str::from_utf8(bytes).map_err(|error| {
        let before = &bytes[..error.valid_up_to()];
        1 + before.iter().filter(|&&byte| byte == b'\n').count() as u32
    })
}

/// Cells of each line that is not blank, with the number of the line on which it begins.
pub type Lines = Vec<(u32, Vec<String>)>;

/// Splits a text into lines of cells. The separator is the tab, semicolon or comma that the first line has most of; cells may be
/// quoted with `"`, doubled inside, and then hold separators and line ends. The separator comes with them.
///
/// # Errors
/// A quote that is never closed.
pub fn split(text: &str) -> Result<(Lines, char), TableError> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let separator = separator(text);
    let mut lines = Lines::new();
    let (mut cells, mut cell) = (Vec::new(), String::new());
    let (mut line, mut begun) = (1, 1);
    let mut quoted_since = None;
    let mut rest = text.chars().peekable();
    while let Some(letter) = rest.next() {
        line += u32::from(letter == '\n');
        match letter {
            '"' if quoted_since.is_some() && rest.peek() == Some(&'"') => {
                rest.next();
                cell.push('"');
            }
            '"' if quoted_since.is_some() => quoted_since = None,
            '"' if cell.trim().is_empty() => {
                cell.clear();
                quoted_since = Some(line);
            }
            _ if quoted_since.is_some() => cell.push(letter),
            '\n' => {
                cells.push(std::mem::take(&mut cell));
                lines.push((begun, std::mem::take(&mut cells)));
                begun = line;
            }
            _ if letter == separator => cells.push(std::mem::take(&mut cell)),
            '\r' if rest.peek() == Some(&'\n') => {}
            _ => cell.push(letter),
        }
    }
    if let Some(line) = quoted_since {
        return Err(TableError::Quote { line });
    }
    cells.push(cell);
    lines.push((begun, cells));
    for (_, cells) in &mut lines {
        cells.iter_mut().for_each(|cell| *cell = cell.trim().to_owned());
    }
    lines.retain(|(_, cells)| cells.iter().any(|cell| !cell.is_empty()));
    Ok((lines, separator))
}

fn separator(text: &str) -> char {
    let heading = text.lines().find(|line| !line.trim().is_empty()).unwrap_or_default();
    let count = |separator: char| heading.matches(separator).count();
    // The comma last: of equal counts the greatest is the last one.
    ['\t', ';', ','].into_iter().max_by_key(|&separator| count(separator)).unwrap_or(',')
}

/// Writes a table with commas: cells are quoted where they hold a comma, a quote or a line end.
pub fn write(heading: &[&str], rows: &[Vec<String>]) -> String {
    let quoted = |cell: &str| {
        if cell.contains([',', '"', '\n', '\r']) {
            format!("\"{}\"", cell.replace('"', "\"\""))
        } else {
            cell.to_owned()
        }
    };
    let mut text = heading.iter().map(|cell| quoted(cell)).collect::<Vec<_>>().join(",") + "\n";
    for row in rows {
        text += &row.iter().map(|cell| quoted(cell)).collect::<Vec<_>>().join(",");
        text.push('\n');
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_written_is_read_again() {
        let rows = vec![
            vec!["E1".to_owned(), "a, b".to_owned()],
            vec!["says \"no\"".to_owned(), "two\nlines".to_owned()],
        ];
        let text = write(&["x", "y"], &rows);
        let (lines, separator) = split(&text).unwrap();
        assert_eq!(separator, ',');
        assert_eq!(lines.iter().map(|line| line.0).collect::<Vec<_>>(), [1, 2, 3]);
        assert_eq!(lines.into_iter().skip(1).map(|line| line.1).collect::<Vec<_>>(), rows);
    }

    #[test]
    fn an_open_quote_is_named_by_its_line() {
        assert_eq!(split("a,b\n1,\"2\n3,4\n").map(|_| ()), Err(TableError::Quote { line: 2 }));
    }
}
