//! The numbers of a PLY, row by row, from text or binary.

use super::header::{Element, Scalar};
use crate::ReadError;
use crate::text::{Lines, parse_number, words};

/// Why a row could not be read.
pub(super) enum Fault {
    /// The file ends.
    Ended,
    /// Something else.
    Wrong(ReadError),
}

impl From<ReadError> for Fault {
    fn from(error: ReadError) -> Self {
        Self::Wrong(error)
    }
}

/// Numbers that come in rows.
pub(super) trait Rows {
    /// Steps to the next row; false at the end of the file.
    fn begin(&mut self) -> bool;
    /// The next number of the row.
    fn number(&mut self, kind: Scalar) -> Result<f64, Fault>;
    /// Passes over `count` numbers of the row.
    fn pass(&mut self, count: u64, kind: Scalar) -> Result<(), Fault>;
    /// Checks that the row holds no more.
    fn end(&mut self) -> Result<(), Fault>;
    /// The most rows of an element that can still be there.
    fn most_rows(&self, element: &Element) -> u64;
    /// Bytes left after the last row, white space aside in text.
    fn n_left(&self) -> usize;
}

/// Numbers as bytes, the most significant one first or last.
pub(super) struct Binary<'a, const BIG: bool> {
    rest: &'a [u8],
}

impl<'a, const BIG: bool> Binary<'a, BIG> {
    pub fn new(rest: &'a [u8]) -> Self {
        Self { rest }
    }

    fn take<const N: usize>(&mut self) -> Result<[u8; N], Fault> {
        let (number, rest) = self.rest.split_first_chunk().ok_or(Fault::Ended)?;
        self.rest = rest;
        let mut number: [u8; N] = *number;
        if BIG {
            number.reverse();
        }
        Ok(number)
    }
}

impl<const BIG: bool> Rows for Binary<'_, BIG> {
    fn begin(&mut self) -> bool {
        true
    }

    #[inline]
    fn number(&mut self, kind: Scalar) -> Result<f64, Fault> {
        Ok(match kind {
            Scalar::I8 => i8::from_le_bytes(self.take()?).into(),
            Scalar::U8 => u8::from_le_bytes(self.take()?).into(),
            Scalar::I16 => i16::from_le_bytes(self.take()?).into(),
            Scalar::U16 => u16::from_le_bytes(self.take()?).into(),
            Scalar::I32 => i32::from_le_bytes(self.take()?).into(),
            Scalar::U32 => u32::from_le_bytes(self.take()?).into(),
            // Beyond 2^53 these lose digits, far beyond any index or coordinate.
            Scalar::I64 => i64::from_le_bytes(self.take()?) as f64,
            Scalar::U64 => u64::from_le_bytes(self.take()?) as f64,
            Scalar::F32 => f32::from_le_bytes(self.take()?).into(),
            Scalar::F64 => f64::from_le_bytes(self.take()?),
        })
    }

    fn pass(&mut self, count: u64, kind: Scalar) -> Result<(), Fault> {
        let n_bytes = count.saturating_mul(kind.size() as u64);
        let n_bytes = usize::try_from(n_bytes).map_err(|_| Fault::Ended)?;
        self.rest = self.rest.get(n_bytes..).ok_or(Fault::Ended)?;
        Ok(())
    }

    fn end(&mut self) -> Result<(), Fault> {
        Ok(())
    }

    fn most_rows(&self, element: &Element) -> u64 {
        (self.rest.len() / element.least_row_size().max(1)) as u64
    }

    fn n_left(&self) -> usize {
        self.rest.len()
    }
}

/// Numbers as words, one row a line.
pub(super) struct Text<'a> {
    lines: Lines<'a>,
    row: &'a [u8],
    /// Lines above the first row.
    n_above: usize,
}

impl<'a> Text<'a> {
    pub fn new(body: &'a [u8], n_above: usize) -> Self {
        Self { lines: Lines::new(body), row: b"", n_above }
    }

    fn line(&self) -> usize {
        self.n_above + self.lines.number
    }

    fn word(&mut self) -> Option<&'a [u8]> {
        let start = self.row.trim_ascii_start();
        let word = words(start).next()?;
        self.row = &start[word.len()..];
        Some(word)
    }
}

impl Rows for Text<'_> {
    fn begin(&mut self) -> bool {
        let row = self.lines.by_ref().map(<[u8]>::trim_ascii).find(|row| !row.is_empty());
        self.row = row.unwrap_or_default();
        row.is_some()
    }

    fn number(&mut self, _: Scalar) -> Result<f64, Fault> {
        let line = self.line();
        match self.word() {
            Some(word) => Ok(parse_number(word, line)?),
            // The last line of a file cut short.
            None if self.lines.left().trim_ascii().is_empty() => Err(Fault::Ended),
            None => Err(ReadError::BadLine { line, fault: "a number is missing".into() }.into()),
        }
    }

    fn pass(&mut self, count: u64, kind: Scalar) -> Result<(), Fault> {
        (0..count).try_for_each(|_| self.number(kind).map(drop))
    }

    fn end(&mut self) -> Result<(), Fault> {
        if self.word().is_none() {
            return Ok(());
        }
        let fault = "the line holds more numbers than the header announces".into();
        Err(ReadError::BadLine { line: self.line(), fault }.into())
    }

    fn most_rows(&self, _: &Element) -> u64 {
        // A digit and a line break.
        self.lines.left().len().div_ceil(2) as u64
    }

    fn n_left(&self) -> usize {
        self.lines.left().trim_ascii().len()
    }
}
