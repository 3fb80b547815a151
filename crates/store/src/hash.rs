//! Hashes, as hexadecimal text.

use sha2::{Digest, Sha256};

/// SHA-256 of some bytes.
pub fn sha256(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect()
}
