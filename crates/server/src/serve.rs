//! Listening.

use std::net::SocketAddr;

use tokio::net::TcpListener;

use crate::app::App;
use crate::config::{Config, ConfigError};
use crate::router::router;

/// Why the server does not start.
#[derive(Debug, thiserror::Error)]
pub enum ServeError {
    /// A setting is not taken.
    #[error(transparent)]
    Config(#[from] ConfigError),
    /// The data folder cannot be used.
    #[error(transparent)]
    Store(#[from] kerfwright_store::StoreError),
    /// The port is in use, or may not be used.
    #[error(
        "{address}: cannot be listened on ({source}); give another port with --port, or 0 for any that is free"
    )]
    Listen {
        /// Where.
        address: SocketAddr,
        /// What the system says.
        source: std::io::Error,
    },
    /// The connection to the network broke.
    #[error("the server stopped ({0}); start it again")]
    Broken(std::io::Error),
}

/// A server that listens and is ready to answer.
#[derive(Debug)]
pub struct Server {
    app: App,
    listener: TcpListener,
    /// Where it listens.
    pub address: SocketAddr,
}

/// Opens the store and begins to listen.
///
/// # Errors
/// See [`ServeError`].
pub async fn bind(config: Config) -> Result<Server, ServeError> {
    let wanted = config.socket()?;
    let listener = match TcpListener::bind(wanted).await {
        Ok(listener) => listener,
        Err(source) if config.or_any_port && source.kind() == std::io::ErrorKind::AddrInUse => {
            let any = SocketAddr::new(wanted.ip(), 0);
            TcpListener::bind(any).await.map_err(|source| ServeError::Listen { address: any, source })?
        }
        Err(source) => return Err(ServeError::Listen { address: wanted, source }),
    };
    let address = listener.local_addr().map_err(ServeError::Broken)?;
    let app = App::open(config).await?;
    Ok(Server { app, listener, address })
}

impl Server {
    /// The address for a browser.
    pub fn url(&self) -> String {
        format!("http://{}/", self.address)
    }

    /// Answers until `stop` ends.
    ///
    /// # Errors
    /// The network fails.
    pub async fn run(self, stop: impl Future<Output = ()> + Send + 'static) -> Result<(), ServeError> {
        let store = self.app.store().clone();
        let served = axum::serve(self.listener, router(self.app)).with_graceful_shutdown(stop).await;
        store.close().await;
        served.map_err(ServeError::Broken)
    }
}
