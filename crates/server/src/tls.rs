//! Encrypted connections: a certificate from files, or one that the app makes for itself and keeps.

use std::io;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use axum_server::tls_rustls::RustlsConfig;
use rcgen::{CertificateParams, DnType, KeyPair};
use rustls_pki_types::CertificateDer;
use rustls_pki_types::pem::PemObject;
use time::{Duration, OffsetDateTime};

/// Where the certificate comes from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Tls {
    /// Made and kept in the data folder.
    SelfMade,
    /// Files in PEM form.
    Files {
        /// The certificate, and those above it.
        certificate: PathBuf,
        /// Its private key.
        key: PathBuf,
    },
}

/// Why connections cannot be encrypted.
#[derive(Debug, thiserror::Error)]
pub enum TlsError {
    /// A file cannot be read or written.
    #[error("{}: cannot be read or written ({source}); check the name and the rights", .file.display())]
    File {
        /// The file.
        file: PathBuf,
        /// What the system says.
        source: io::Error,
    },
    /// No certificate, or not its key.
    #[error(
        "{}: is no certificate with a matching key ({reason}); give both in PEM form with --certificate and --key", .file.display()
    )]
    NoCertificate {
        /// The certificate's file.
        file: PathBuf,
        /// What is wrong.
        reason: String,
    },
    /// A name that no certificate can be made for.
    #[error("no certificate can be made for {names} ({reason}); give --name a host name or an address")]
    Make {
        /// The names.
        names: String,
        /// What is wrong.
        reason: String,
    },
}

/// A certificate that is ready to be used.
#[derive(Debug, Clone)]
pub struct Certificate {
    /// What the connections take.
    pub config: RustlsConfig,
    /// SHA-256 of the certificate, in pairs, as browsers show it.
    pub fingerprint: String,
    /// Whether it was made just now.
    pub is_new: bool,
}

/// How long a self-made certificate is good for; browsers refuse much longer ones.
const GOOD_FOR: Duration = Duration::days(397);
/// A new one is made so long before.
const AHEAD: Duration = Duration::days(30);

/// Reads the certificate, or makes one for these names.
///
/// # Errors
/// See [`TlsError`].
pub async fn certificate(tls: &Tls, data: &Path, names: &[String]) -> Result<Certificate, TlsError> {
    let (certificate, key, is_new) = match tls {
        Tls::Files { certificate, key } => (certificate.clone(), key.clone(), false),
        Tls::SelfMade => self_made(&data.join("tls"), names, OffsetDateTime::now_utc())?,
    };
    let (chain, secret) = (read(&certificate)?, read(&key)?);
    let bad = |reason: String| TlsError::NoCertificate { file: certificate.clone(), reason };
    let first = CertificateDer::from_pem_slice(&chain).map_err(|error| bad(error.to_string()))?;
    let hash = kerfwright_measure::attempt::sha256(&first).to_uppercase();
    let pairs: Vec<&str> = (0..hash.len() / 2).map(|k| &hash[2 * k..2 * k + 2]).collect();
    let config = RustlsConfig::from_pem(chain, secret).await.map_err(|error| bad(error.to_string()))?;
    Ok(Certificate { config: http1(&config), fingerprint: pairs.join(":"), is_new })
}

/// Offers HTTP/1.1 alone: an early refusal of a large upload breaks the stream of HTTP/2 before it is read.
fn http1(config: &RustlsConfig) -> RustlsConfig {
    let mut inner = (*config.get_inner()).clone();
    inner.alpn_protocols = vec![b"http/1.1".to_vec()];
    RustlsConfig::from_config(Arc::new(inner))
}

/// Certificate and key of the folder, made anew where there are none, for other names, or soon out of date.
fn self_made(
    folder: &Path,
    names: &[String],
    now: OffsetDateTime,
) -> Result<(PathBuf, PathBuf, bool), TlsError> {
    let (certificate, key, made) =
        (folder.join("certificate.pem"), folder.join("key.pem"), folder.join("made.txt"));
    let names_line = names.join(" ");
    let kept = std::fs::read_to_string(&made).unwrap_or_default();
    let ends = kept.lines().next().and_then(|line| line.parse::<i64>().ok()).unwrap_or(0);
    let is_good = ends > (now + AHEAD).unix_timestamp() && kept.lines().nth(1) == Some(names_line.as_str());
    if is_good && certificate.is_file() && key.is_file() {
        return Ok((certificate, key, false));
    }
    let bad = |error: rcgen::Error| TlsError::Make { names: names_line.clone(), reason: error.to_string() };
    let ends = now + GOOD_FOR;
    let mut params = CertificateParams::new(names).map_err(bad)?;
    params.distinguished_name.push(DnType::CommonName, "Kerfwright, self-made");
    (params.not_before, params.not_after) = (now - Duration::days(1), ends);
    let pair = KeyPair::generate().map_err(bad)?;
    let signed = params.self_signed(&pair).map_err(bad)?;
    std::fs::create_dir_all(folder).map_err(|source| TlsError::File { file: folder.into(), source })?;
    // The note comes last: a half-written pair is made again.
    drop(std::fs::remove_file(&made));
    write(&key, &pair.serialize_pem())?;
    write(&certificate, &signed.pem())?;
    write(&made, &format!("{}\n{names_line}\n", ends.unix_timestamp()))?;
    Ok((certificate, key, true))
}

fn read(file: &Path) -> Result<Vec<u8>, TlsError> {
    std::fs::read(file).map_err(|source| TlsError::File { file: file.into(), source })
}

/// Writes a file that its owner alone may read.
fn write(file: &Path, text: &str) -> Result<(), TlsError> {
    let mut options = std::fs::OpenOptions::new();
    options.write(true).create(true).truncate(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    let written = options.open(file).and_then(|mut open| io::Write::write_all(&mut open, text.as_bytes()));
    written.map_err(|source| TlsError::File { file: file.into(), source })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn names(text: &str) -> Vec<String> {
        text.split(' ').map(str::to_owned).collect()
    }

    #[tokio::test]
    async fn a_self_made_certificate_is_kept_until_names_or_time_call_for_another() {
        let folder = tempfile::tempdir().unwrap();
        let own = names("lab.example 192.0.2.7");
        let first = certificate(&Tls::SelfMade, folder.path(), &own).await.unwrap();
        assert!(first.is_new && first.fingerprint.len() == 95, "{}", first.fingerprint);
        let again = certificate(&Tls::SelfMade, folder.path(), &own).await.unwrap();
        assert!(!again.is_new);
        assert_eq!(again.fingerprint, first.fingerprint);
        let other = certificate(&Tls::SelfMade, folder.path(), &names("lab.example")).await.unwrap();
        assert!(other.is_new && other.fingerprint != first.fingerprint);
        let tls = folder.path().join("tls");
        let now = OffsetDateTime::now_utc();
        assert!(!self_made(&tls, &names("lab.example"), now + Duration::days(360)).unwrap().2);
        assert!(self_made(&tls, &names("lab.example"), now + Duration::days(370)).unwrap().2);
    }

    #[cfg(unix)]
    #[tokio::test]
    async fn the_key_is_for_its_owner_alone() {
        use std::os::unix::fs::PermissionsExt;
        let folder = tempfile::tempdir().unwrap();
        certificate(&Tls::SelfMade, folder.path(), &names("lab.example")).await.unwrap();
        let mode = std::fs::metadata(folder.path().join("tls/key.pem")).unwrap().permissions().mode();
        assert_eq!(mode & 0o777, 0o600);
    }

    #[tokio::test]
    async fn files_that_are_no_certificate_are_named() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("lab.pem");
        let tls = Tls::Files { certificate: file.clone(), key: file.clone() };
        let missing = certificate(&tls, folder.path(), &[]).await.unwrap_err().to_string();
        assert!(missing.contains("lab.pem") && missing.contains("cannot be read"), "{missing}");
        std::fs::write(&file, "no certificate").unwrap();
        let wrong = certificate(&tls, folder.path(), &[]).await.unwrap_err().to_string();
        assert!(wrong.contains("lab.pem") && wrong.contains("--key"), "{wrong}");
    }
}
