//! Codes of people: what stands for a learner, an instructor or an examiner wherever no name may.

/// Longest code of a person or cohort, in letters.
pub const CODE_LENGTH: usize = 40;

/// A text that is no code. It is not repeated: it may be a person's name.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error(
    "a code has 1 to 40 letters (a to z), digits, hyphens, underscores or dots, as QS-07, and begins with a letter or digit; \
     give a code, no name"
)]
pub struct NoCode;

/// A person's code, without what blanks stand round it.
///
/// # Errors
/// [`NoCode`] for anything that may be a name in full or that a file's name or a web address could not hold.
pub fn person_code(text: &str) -> Result<&str, NoCode> {
    let code = text.trim();
    let is_part = |byte: u8| byte.is_ascii_alphanumeric() || b"-_.".contains(&byte);
    let begins_well = code.bytes().next().is_some_and(|byte| byte.is_ascii_alphanumeric());
    if begins_well && code.len() <= CODE_LENGTH && code.bytes().all(is_part) { Ok(code) } else { Err(NoCode) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn codes_are_short_and_plain() {
        for code in ["QS-07", "7", "lab.2_b"] {
            assert_eq!(person_code(code), Ok(code));
        }
        assert_eq!(person_code(" QS-07 "), Ok("QS-07"));
        for wrong in ["", "-7", "Maria Lopez", "Ä1", "a/b", "'; --", &"x".repeat(CODE_LENGTH + 1)] {
            assert_eq!(person_code(wrong), Err(NoCode), "{wrong}");
        }
    }

    #[test]
    fn the_length_that_is_told_is_the_one_that_counts() {
        assert!(NoCode.to_string().contains(&format!("1 to {CODE_LENGTH} letters")));
    }
}
