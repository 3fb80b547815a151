//! What the server is told at its start.

use std::net::{IpAddr, Ipv4Addr, SocketAddr};
use std::path::PathBuf;

use crate::tls::Tls;

/// Settings of a server.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Config {
    /// Folder for scans, attempts and remarks.
    pub data: PathBuf,
    /// Address to listen on.
    pub address: IpAddr,
    /// Port; 0 for any that is free.
    pub port: u16,
    /// Names and addresses under which browsers reach this machine, beside the address above.
    pub names: Vec<String>,
    /// How connections are encrypted; not at all where nothing is said.
    pub tls: Option<Tls>,
    /// Whether another port may be taken where this one is in use.
    pub or_any_port: bool,
    /// Folder in which new scans are looked for.
    pub watch: Option<PathBuf>,
    /// Largest file that is taken, bytes.
    pub upload_bytes: usize,
    /// How long one is signed in at most, seconds.
    pub signed_in_s: u32,
    /// How long one stays signed in without doing anything, seconds.
    pub idle_s: u32,
    /// Memory for read scans and measured attempts, bytes.
    pub cache_bytes: usize,
    /// How many attempts are measured at once; each uses all cores.
    pub jobs: usize,
}

/// Settings that are not taken.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ConfigError {
    /// An address that other machines can reach, and no accounts.
    #[error(
        "{address}: without accounts the app may be reached from this machine alone; make one with kerf account add CODE --role \
         director, or leave the address out (127.0.0.1)"
    )]
    NoAccounts {
        /// What was given.
        address: IpAddr,
    },
    /// An address that other machines can reach, in the clear.
    #[error(
        "{address}: other machines reach this address, so connections must be encrypted; add --self-made-certificate, or --certificate \
         FILE and --key FILE, or leave the address out (127.0.0.1)"
    )]
    NoTls {
        /// What was given.
        address: IpAddr,
    },
    /// All addresses at once, and no name.
    #[error(
        "{address}: stands for every address of this machine; say with --name under which name or address browsers reach it"
    )]
    NoName {
        /// What was given.
        address: IpAddr,
    },
}

impl Config {
    /// The usual settings for a data folder.
    pub fn new(data: impl Into<PathBuf>) -> Self {
        Self {
            data: data.into(),
            address: IpAddr::V4(Ipv4Addr::LOCALHOST),
            names: Vec::new(),
            tls: None,
            port: 4177,
            or_any_port: true,
            watch: None,
            upload_bytes: 200 << 20,
            // A day in the lab, and a lunch: our own choice.
            signed_in_s: 12 * 3600,
            idle_s: 3600,
            cache_bytes: 768 << 20,
            jobs: 1,
        }
    }

    /// Whether other machines can reach it.
    pub fn is_on_network(&self) -> bool {
        !self.address.is_loopback()
    }

    /// Where to listen.
    ///
    /// # Errors
    /// Other machines can reach the address, and something is missing that this asks for.
    pub fn socket(&self, has_accounts: bool) -> Result<SocketAddr, ConfigError> {
        let address = self.address;
        if self.is_on_network() {
            if !has_accounts {
                return Err(ConfigError::NoAccounts { address });
            }
            if self.tls.is_none() {
                return Err(ConfigError::NoTls { address });
            }
            if address.is_unspecified() && self.names.is_empty() {
                return Err(ConfigError::NoName { address });
            }
        }
        Ok(SocketAddr::new(address, self.port))
    }

    /// Every name under which a browser may ask, as certificates have them.
    pub fn all_names(&self) -> Vec<String> {
        let mut names = self.names.clone();
        let own = Some(self.address).filter(|address| !address.is_unspecified());
        let here = ["localhost".to_owned(), "127.0.0.1".to_owned(), "::1".to_owned()];
        for name in own.map(|address| address.to_string()).into_iter().chain(here) {
            if !names.contains(&name) {
                names.push(name);
            }
        }
        names
    }

    /// The name that is shown to people: the first that was given, else the address.
    pub fn shown_name(&self) -> String {
        in_address(self.names.first().unwrap_or(&self.address.to_string()))
    }
}

/// A name as it stands in an address: IPv6 in brackets.
pub fn in_address(name: &str) -> String {
    if name.contains(':') { format!("[{name}]") } else { name.to_owned() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn on_a_network_accounts_encryption_and_a_name_are_asked_for_in_turn() {
        let config = Config { address: "0.0.0.0".parse().unwrap(), ..Config::new("data") };
        let fault = |config: &Config, has_accounts| config.socket(has_accounts).unwrap_err().to_string();
        let message = fault(&config, false);
        assert!(message.contains("0.0.0.0") && message.contains("kerf account add"), "{message}");
        assert!(fault(&config, true).contains("--self-made-certificate"));
        let config = Config { tls: Some(Tls::SelfMade), ..config };
        assert!(fault(&config, false).contains("kerf account add"));
        assert!(fault(&config, true).contains("--name"));
        let config = Config { names: vec!["lab.example".into()], ..config };
        assert_eq!(config.socket(true).unwrap().to_string(), "0.0.0.0:4177");
        assert_eq!(config.all_names(), ["lab.example", "localhost", "127.0.0.1", "::1"]);
    }

    #[test]
    fn this_machine_alone_needs_neither() {
        assert_eq!(Config::new("data").socket(false).unwrap().to_string(), "127.0.0.1:4177");
        assert_eq!(Config::new("data").shown_name(), "127.0.0.1");
    }
}
