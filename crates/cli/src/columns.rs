//! Columns as wide as their widest entry.

/// Lines of cells to be aligned.
pub struct Columns {
    /// Which columns hold numbers, aligned to the right.
    right: &'static [bool],
    lines: Vec<Vec<String>>,
}

impl Columns {
    /// Columns by how they are aligned: `true` to the right.
    pub fn new(right: &'static [bool]) -> Self {
        Self { right, lines: Vec::new() }
    }

    /// Adds a line of cells.
    pub fn row<const N: usize>(&mut self, cells: [&str; N]) {
        self.lines.push(cells.map(str::to_owned).to_vec());
    }

    /// Adds a line of cells, as many as there are columns.
    pub fn line(&mut self, cells: Vec<String>) {
        self.lines.push(cells);
    }

    /// All lines, two blanks between columns.
    pub fn render(&self) -> String {
        let mut widths = vec![0; self.right.len()];
        for cells in &self.lines {
            for (width, cell) in widths.iter_mut().zip(cells) {
                *width = (*width).max(cell.chars().count());
            }
        }
        self.lines.iter().map(|cells| self.aligned(cells, &widths) + "\n").collect()
    }

    fn aligned(&self, cells: &[String], widths: &[usize]) -> String {
        let aligned = cells.iter().zip(widths).zip(self.right).map(|((cell, width), right)| {
            if *right { format!("{cell:>width$}") } else { format!("{cell:width$}") }
        });
        aligned.collect::<Vec<_>>().join("  ").trim_end().to_owned()
    }
}
