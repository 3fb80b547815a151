//! Ratings from a table, one a line.

use std::collections::BTreeMap;

use super::{TableError, split};
use crate::Rating;

const EXPECTED: &str =
    "the columns examiner, attempt, criterion, value and, if anything was graded twice, occasion";

/// Where the columns stand.
struct Columns {
    examiner: usize,
    attempt: usize,
    criterion: usize,
    value: usize,
    occasion: Option<usize>,
}

/// Reads ratings from a table with the columns `examiner`, `attempt`, `criterion`, `value` and, where anything was graded more than once,
/// `occasion` (1 the first time, 2 the second; 1 where left out), in any order, other columns beside them. A line without a value is a rating that
/// was not given. With semicolons or tabs between cells a value may have a decimal comma.
///
/// # Errors
/// [`TableError`] with the line and its fault.
pub fn read_ratings(text: &str) -> Result<Vec<Rating>, TableError> {
    let (lines, separator) = split(text)?;
    let Some(((heading_line, heading), lines)) = lines.split_first() else {
        return Err(TableError::Empty { expected: EXPECTED });
    };
    let columns = Columns::find(*heading_line, heading)?;
    let mut ratings = Vec::new();
    let mut seen = BTreeMap::new();
    for (line, cells) in lines {
        if cells.len() != heading.len() {
            let (n, expected) = (cells.len() as u32, heading.len() as u32);
            return Err(TableError::Cells { line: *line, n, expected });
        }
        let Some(rating) = columns.rating(*line, cells, separator != ',')? else { continue };
        let key =
            (rating.examiner.clone(), rating.attempt.clone(), rating.criterion.clone(), rating.occasion);
        if let Some(first) = seen.insert(key, *line) {
            return Err(TableError::Twice { line: *line, first });
        }
        ratings.push(rating);
    }
    Ok(ratings)
}

impl Columns {
    fn find(line: u32, heading: &[String]) -> Result<Self, TableError> {
        let names: Vec<String> = heading.iter().map(|name| name.to_lowercase()).collect();
        for (index, name) in names.iter().enumerate() {
            if !name.is_empty() && names[..index].contains(name) {
                return Err(TableError::ColumnTwice { line, column: name.clone() });
            }
        }
        let place = |column: &'static str| names.iter().position(|name| name == column);
        let needed = |column: &'static str| {
            place(column).ok_or_else(|| TableError::NoColumn {
                line,
                column,
                heading: heading.join(", "),
                expected: EXPECTED,
            })
        };
        Ok(Self {
            examiner: needed("examiner")?,
            attempt: needed("attempt")?,
            criterion: needed("criterion")?,
            value: needed("value")?,
            occasion: place("occasion"),
        })
    }

    /// The rating of a line; none without a value.
    fn rating(&self, line: u32, cells: &[String], decimal_comma: bool) -> Result<Option<Rating>, TableError> {
        let bad =
            |column, text: &str, expected| TableError::Cell { line, column, text: text.into(), expected };
        let code = |column, index: usize| match cells[index].as_str() {
            "" => Err(bad(column, "", "a code; the cell is empty")),
            text => Ok(text.to_owned()),
        };
        let (examiner, attempt) = (code("examiner", self.examiner)?, code("attempt", self.attempt)?);
        let criterion = code("criterion", self.criterion)?;
        let text = cells[self.value].as_str();
        if text.is_empty() {
            return Ok(None);
        }
        let number = if decimal_comma { text.replacen(',', ".", 1) } else { text.to_owned() };
        let value: f64 = number.parse().map_err(|_| bad("value", text, "a number, as 3 or 2.5"))?;
        if !value.is_finite() {
            return Err(bad("value", text, "a finite number"));
        }
        let occasion = match self.occasion.map(|index| cells[index].as_str()) {
            None | Some("") => 0,
            Some(text) => match text.parse::<u32>() {
                Ok(occasion) if occasion >= 1 => occasion - 1,
                _ => {
                    return Err(bad("occasion", text, "1 for the first grading, 2 for the second and so on"));
                }
            },
        };
        Ok(Some(Rating { examiner, attempt, criterion, occasion, value }))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn spreadsheets_of_several_countries_are_read() {
        let comma = "examiner,attempt,criterion,value\r\nE1,Q1,depth,2.5\r\nE2,Q1,depth,\r\n\r\n";
        let semicolon = "\u{feff}Attempt;Criterion;Examiner;Value;Note\nQ1;depth;E1;2,5;\"late; twice\"\n";
        let expected = Rating {
            examiner: "E1".into(),
            attempt: "Q1".into(),
            criterion: "depth".into(),
            occasion: 0,
            value: 2.5,
        };
        assert_eq!(
            [read_ratings(comma).unwrap(), read_ratings(semicolon).unwrap()],
            [[expected.clone()], [expected]]
        );
    }

    #[test]
    fn faults_name_their_line() {
        let heading = "examiner,attempt,criterion,value,occasion\n";
        for (lines, expected) in [
            ("E1,Q1,depth,2\n", "line 2: 4 cells where the heading has 5"),
            ("E1,Q1,depth,two,1\n", "line 2: value `two` is not a number"),
            ("E1,Q1,depth,inf,1\n", "line 2: value `inf` is not a finite number"),
            ("E1,Q1,depth,2,0\n", "line 2: occasion `0` is not 1 for the first"),
            (",Q1,depth,2,1\n", "line 2: examiner `` is not a code"),
            (
                "E1,Q1,depth,2,1\nE1,Q1,depth,3,\n",
                "line 3: the same examiner, attempt, criterion and occasion as line 2",
            ),
        ] {
            let error = read_ratings(&format!("{heading}{lines}")).unwrap_err().to_string();
            assert!(error.starts_with(expected), "{error}");
        }
        let error = read_ratings("examiner,attempt,value\nE1,Q1,2\n").unwrap_err().to_string();
        assert!(error.starts_with("line 1: no column `criterion` in the heading `examiner, attempt, value`"));
        assert!(read_ratings(" \n\n").unwrap_err().to_string().starts_with("line 1: the table is empty"));
    }
}
