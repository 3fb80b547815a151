//! One table with a heading, its cells asked for by the names of their columns.

use kerfwright_class::table;

use super::RosterFault;

/// A table. Columns are found whatever their case and order.
pub struct Sheet<'a> {
    file: &'a str,
    heading: Vec<String>,
    lines: Vec<(u32, Vec<String>)>,
}

/// One line of a table.
pub struct Line<'a> {
    sheet: &'a Sheet<'a>,
    number: u32,
    cells: &'a [String],
}

impl<'a> Sheet<'a> {
    /// Reads a table that needs these columns; every fault found.
    pub fn read(file: &'a str, bytes: &[u8], needed: &[&str]) -> Result<Self, Vec<RosterFault>> {
        let fault = |fault: String| vec![RosterFault { file: file.into(), fault }];
        let text = table::text_of(bytes).map_err(|line| {
            fault(format!("line {line}: is no UTF-8 text; save the table as CSV in UTF-8"))
        })?;
        let (mut lines, _) = table::split(text).map_err(|error| fault(error.to_string()))?;
        if lines.is_empty() {
            return Err(fault(format!("line 1: the table is empty; it needs {}", needed.join(", "))));
        }
        let (line, heading) = lines.remove(0);
        let heading: Vec<String> = heading.iter().map(|name| name.to_lowercase()).collect();
        let mut faults = Vec::new();
        for (place, name) in heading.iter().enumerate() {
            if !name.is_empty() && heading[..place].contains(name) {
                faults.extend(fault(format!("line {line}: column `{name}` stands twice; keep one")));
            }
        }
        for name in needed.iter().filter(|name| !heading.contains(&name.to_lowercase())) {
            faults.extend(fault(format!("line {line}: no column `{name}` in the heading")));
        }
        for (line, cells) in lines.iter().filter(|(_, cells)| cells.len() != heading.len()) {
            faults.extend(fault(format!(
                "line {line}: {} cells where the heading has {}; look for a missing comma or quote",
                cells.len(),
                heading.len()
            )));
        }
        if faults.is_empty() { Ok(Self { file, heading, lines }) } else { Err(faults) }
    }

    /// The lines under the heading.
    pub fn lines(&'a self) -> impl Iterator<Item = Line<'a>> {
        self.lines.iter().map(move |(number, cells)| Line { sheet: self, number: *number, cells })
    }
}

impl Line<'_> {
    /// The cell of a column; empty where there is no such column.
    pub fn cell(&self, column: &str) -> &str {
        let column = column.to_lowercase();
        let place = self.sheet.heading.iter().position(|name| *name == column);
        place.map_or("", |place| self.cells[place].as_str())
    }

    /// A fault of this line.
    pub fn fault(&self, fault: impl std::fmt::Display) -> RosterFault {
        RosterFault { file: self.sheet.file.into(), fault: format!("line {}: {fault}", self.number) }
    }
}
