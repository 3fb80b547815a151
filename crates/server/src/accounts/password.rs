//! Passwords: what is taken for one, and its hash.

use argon2::Argon2;
use argon2::password_hash::phc::PasswordHash;
use argon2::password_hash::{PasswordHasher, PasswordVerifier};

use super::keep::AccountError;

/// Fewest and most characters: common practice, no source. Longer ones would only keep the hash busy.
const LENGTH: std::ops::RangeInclusive<usize> = 12..=256;

/// The hash of a new password, argon2id with a salt of its own and the library's settings (19 MiB, two passes).
///
/// # Errors
/// It is too short, too long, or is the code itself.
pub fn hash(code: &str, password: &str) -> Result<String, AccountError> {
    let is_code = password.to_lowercase().replace(&code.to_lowercase(), "").chars().count() < 4;
    if !LENGTH.contains(&password.chars().count()) || is_code {
        return Err(AccountError::Password { least: *LENGTH.start(), most: *LENGTH.end() });
    }
    hash_any(password)
}

/// Whether a password is that of the hash. Without a hash as much time is spent, so that the answer's time does not tell which codes
/// there are.
pub fn is_right(password: &str, hash: Option<&str>) -> bool {
    match hash {
        Some(hash) if LENGTH.contains(&password.chars().count()) => PasswordHash::new(hash)
            .is_ok_and(|hash| Argon2::default().verify_password(password.as_bytes(), &hash).is_ok()),
        _ => {
            drop(hash_any("the same work for nothing"));
            false
        }
    }
}

fn hash_any(password: &str) -> Result<String, AccountError> {
    let hash = Argon2::default().hash_password(password.as_bytes());
    hash.map(|hash| hash.to_string()).map_err(|_| AccountError::Random)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_password_is_known_by_its_hash_alone() {
        let hash = hash("QS-07", "three burs in a tray").unwrap();
        assert!(hash.starts_with("$argon2id$v=19$m=19456,t=2,p=1$"), "{hash}");
        assert!(is_right("three burs in a tray", Some(&hash)));
        assert!(!is_right("three burs in a Tray", Some(&hash)));
        assert!(!is_right("three burs in a tray", Some("no hash")));
        assert!(!is_right("three burs in a tray", None));
        let again = super::hash("QS-07", "three burs in a tray").unwrap();
        assert_ne!(hash, again, "each has a salt of its own");
    }

    #[test]
    fn weak_passwords_are_refused() {
        for weak in ["", "short", "QS-07-QS-07-QS-07", "qs-07QS-07-1", &"x".repeat(257)] {
            assert!(super::hash("QS-07", weak).is_err(), "{weak}");
        }
    }
}
