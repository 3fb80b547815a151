//! What the server is told at its start.

use std::net::{IpAddr, Ipv4Addr, SocketAddr};
use std::path::PathBuf;

/// Settings of a server.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Config {
    /// Folder for scans, attempts and remarks.
    pub data: PathBuf,
    /// Address to listen on; of this machine alone.
    pub address: IpAddr,
    /// Port; 0 for any that is free.
    pub port: u16,
    /// Whether another port may be taken where this one is in use.
    pub or_any_port: bool,
    /// Folder in which new scans are looked for.
    pub watch: Option<PathBuf>,
    /// Largest file that is taken, bytes.
    pub upload_bytes: usize,
    /// Memory for read scans and measured attempts, bytes.
    pub cache_bytes: usize,
    /// How many attempts are measured at once; each uses all cores.
    pub jobs: usize,
}

/// Settings that are not taken.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ConfigError {
    /// An address that other machines can reach.
    #[error(
        "{address}: without accounts the app may be reached from this machine alone; leave the address out, or give 127.0.0.1"
    )]
    NotLoopback {
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
            port: 4177,
            or_any_port: true,
            watch: None,
            upload_bytes: 200 << 20,
            cache_bytes: 768 << 20,
            jobs: 1,
        }
    }

    /// Where to listen.
    ///
    /// # Errors
    /// The address is not this machine's own.
    pub fn socket(&self) -> Result<SocketAddr, ConfigError> {
        if self.address.is_loopback() {
            Ok(SocketAddr::new(self.address, self.port))
        } else {
            Err(ConfigError::NotLoopback { address: self.address })
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_address_that_others_can_reach_is_refused() {
        let config = Config { address: "0.0.0.0".parse().unwrap(), ..Config::new("data") };
        let message = config.socket().unwrap_err().to_string();
        assert!(message.contains("0.0.0.0") && message.contains("127.0.0.1"), "{message}");
        assert_eq!(Config::new("data").socket().unwrap().to_string(), "127.0.0.1:4177");
    }
}
