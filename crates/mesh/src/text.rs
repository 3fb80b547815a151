//! Lines, words and numbers of text formats, straight from bytes: names may be in any encoding.

use crate::ReadError;

/// The lines of a text with their numbers from 1, ended by LF, CRLF or CR.
pub(crate) struct Lines<'a> {
    rest: &'a [u8],
    /// Lines handed out so far.
    pub number: usize,
}

impl<'a> Lines<'a> {
    pub fn new(bytes: &'a [u8]) -> Self {
        Self { rest: bytes, number: 0 }
    }

    /// What has not been handed out yet.
    pub fn left(&self) -> &'a [u8] {
        self.rest
    }
}

impl<'a> Iterator for Lines<'a> {
    type Item = &'a [u8];

    fn next(&mut self) -> Option<&'a [u8]> {
        if self.rest.is_empty() {
            return None;
        }
        self.number += 1;
        let end = memchr::memchr2(b'\r', b'\n', self.rest).unwrap_or(self.rest.len());
        let (line, rest) = self.rest.split_at(end);
        let n_break = if rest.starts_with(b"\r\n") { 2 } else { rest.len().min(1) };
        self.rest = &rest[n_break..];
        Some(line)
    }
}

/// The words of a line.
pub(crate) fn words(line: &[u8]) -> impl Iterator<Item = &[u8]> {
    line.split(u8::is_ascii_whitespace).filter(|word| !word.is_empty())
}

/// The next word as a number.
pub(crate) fn number<'a>(words: &mut impl Iterator<Item = &'a [u8]>, line: usize) -> Result<f64, ReadError> {
    match words.next() {
        Some(word) => parse_number(word, line),
        None => Err(ReadError::BadLine { line, fault: "a number is missing".into() }),
    }
}

/// A number as programs of any maker print it, `1.#IND` and the like as not-a-number.
pub(crate) fn parse_number(word: &[u8], line: usize) -> Result<f64, ReadError> {
    if let Some(number) = std::str::from_utf8(word).ok().and_then(|word| word.parse().ok()) {
        return Ok(number);
    }
    if word.contains(&b',') {
        return Err(ReadError::DecimalComma { line });
    }
    if word.windows(2).any(|pair| pair == b".#") {
        return Ok(f64::NAN);
    }
    Err(ReadError::BadLine { line, fault: format!("“{}” is no number", shown(word)) })
}

/// A word from the file, short and harmless enough for an error message.
pub(crate) fn shown(word: &[u8]) -> String {
    let text = String::from_utf8_lossy(&word[..word.len().min(80)]);
    let clean = |letter: char| if letter.is_control() { '\u{FFFD}' } else { letter };
    let mut short: String = text.chars().take(20).map(clean).collect();
    if text.chars().count() > 20 {
        short.push('…');
    }
    short
}

/// Cuts a text into pieces of about `size` bytes, each cut at or after that size where `start_of_piece` allows.
///
/// `start_of_piece(bytes, at)` gives the first allowed cut from `at` on.
pub(crate) fn pieces(
    bytes: &[u8],
    size: usize,
    start_of_piece: impl Fn(&[u8], usize) -> Option<usize>,
) -> Vec<&[u8]> {
    let mut cut = Vec::new();
    let mut rest = bytes;
    while rest.len() > size {
        let Some(at) = start_of_piece(rest, size).filter(|&at| at > 0) else { break };
        let (piece, after) = rest.split_at(at);
        cut.push(piece);
        rest = after;
    }
    cut.push(rest);
    cut
}

/// The start of the next line at or after `at`.
pub(crate) fn next_line(bytes: &[u8], at: usize) -> Option<usize> {
    let found = at + memchr::memchr2(b'\r', b'\n', bytes.get(at..)?)?;
    let n_break = if bytes[found..].starts_with(b"\r\n") { 2 } else { 1 };
    Some(found + n_break)
}

/// Puts together what was read from pieces, with line numbers counted through the whole text.
///
/// Gives the first error in the order of the text.
pub(crate) fn joined<P>(
    pieces: Vec<Result<P, ReadError>>,
    n_lines: impl Fn(&P) -> usize,
) -> Result<Vec<P>, ReadError> {
    let mut before = 0;
    let mut all = Vec::with_capacity(pieces.len());
    for piece in pieces {
        let piece = piece.map_err(|error| error.moved_down(before))?;
        before += n_lines(&piece);
        all.push(piece);
    }
    Ok(all)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn splits_lines_of_every_system() {
        let lines: Vec<_> = Lines::new(b"a\nb\r\nc\rd\n\ne").collect();
        assert_eq!(lines, [&b"a"[..], b"b", b"c", b"d", b"", b"e"]);
    }

    #[test]
    fn reads_numbers_of_every_printer() {
        let numbers = [("-.7e+02", -70.0), (".8e-001", 0.08), ("1.", 1.0), ("+3", 3.0), ("1E5", 1e5)];
        for (word, value) in numbers {
            assert_eq!(parse_number(word.as_bytes(), 1), Ok(value));
        }
        for word in ["nan", "-nan", "1.#IND", "-1.#INF", "inf"] {
            assert!(!parse_number(word.as_bytes(), 1).unwrap().is_finite());
        }
        assert_eq!(parse_number(b"0,5", 7), Err(ReadError::DecimalComma { line: 7 }));
    }

    #[test]
    fn shows_foreign_words_harmlessly() {
        let error = parse_number(b"\x1b[31m\xff and a very long story", 2).unwrap_err().to_string();
        assert!(!error.contains('\x1b') && error.len() < 150, "{error}");
    }

    #[test]
    fn pieces_make_up_the_whole() {
        let text = b"one\ntwo\nthree\nfour";
        let cut = pieces(text, 5, next_line);
        assert_eq!(cut, [&b"one\ntwo\n"[..], b"three\n", b"four"]);
    }
}
