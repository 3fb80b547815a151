//! Listening.

use std::net::SocketAddr;
use std::time::Duration;

use axum_server::{Handle, Server as Listening};
use hyper_util::rt::TokioTimer;
use kerfwright_store::{Place, Store};
use tokio::net::TcpListener;

use crate::app::App;
use crate::config::{Config, ConfigError};
use crate::router::router;
use crate::tls::{Certificate, TlsError, certificate};

/// How long the beginning of a request may take; of the first on a connection.
const FIRST_WITHIN: Duration = Duration::from_secs(10);
/// Of later ones: a browser keeps the connection open meanwhile.
const NEXT_WITHIN: Duration = Duration::from_secs(60);
/// How long what is under way may take when the server is told to stop.
const STOP_WITHIN: Duration = Duration::from_secs(3);

/// Why the server does not start.
#[derive(Debug, thiserror::Error)]
pub enum ServeError {
    /// A setting is not taken.
    #[error(transparent)]
    Config(#[from] ConfigError),
    /// The data folder cannot be used.
    #[error(transparent)]
    Store(#[from] kerfwright_store::StoreError),
    /// Connections cannot be encrypted.
    #[error(transparent)]
    Tls(#[from] TlsError),
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
    certificate: Option<Certificate>,
    /// Where it listens.
    pub address: SocketAddr,
}

/// Opens the store of the data folder and begins to listen.
///
/// # Errors
/// See [`ServeError`].
pub async fn bind(config: Config) -> Result<Server, ServeError> {
    let place = Place::folder(&config.data);
    bind_at(config, &place).await
}

/// Opens a store and begins to listen. One app for a store: what another had begun, it would begin anew.
///
/// # Errors
/// See [`ServeError`].
pub async fn bind_at(config: Config, place: &Place) -> Result<Server, ServeError> {
    // Beside another server attempts are left as they are: whether this one may start is not yet known.
    let store = Store::open_at(place).await?;
    let wanted = config.socket(store.has_accounts().await?)?;
    let certificate = match &config.tls {
        Some(tls) => Some(certificate(tls, &config.data, &config.all_names()).await?),
        None => None,
    };
    let listener = match TcpListener::bind(wanted).await {
        Ok(listener) => listener,
        Err(source) if config.or_any_port && source.kind() == std::io::ErrorKind::AddrInUse => {
            let any = SocketAddr::new(wanted.ip(), 0);
            TcpListener::bind(any).await.map_err(|source| ServeError::Listen { address: any, source })?
        }
        Err(source) => return Err(ServeError::Listen { address: wanted, source }),
    };
    let address = listener.local_addr().map_err(ServeError::Broken)?;
    store.close().await;
    let app = App::open(config).await?;
    Ok(Server { app, listener, certificate, address })
}

impl Server {
    /// The address for a browser.
    pub fn url(&self) -> String {
        let scheme = if self.certificate.is_some() { "https" } else { "http" };
        format!("{scheme}://{}:{}/", self.app.0.config.shown_name(), self.address.port())
    }

    /// SHA-256 of the certificate, and whether it was made just now.
    pub fn certificate(&self) -> Option<(&str, bool)> {
        self.certificate.as_ref().map(|certificate| (certificate.fingerprint.as_str(), certificate.is_new))
    }

    /// Whether one has to sign in.
    ///
    /// # Errors
    /// The database fails.
    pub async fn has_accounts(&self) -> Result<bool, ServeError> {
        Ok(self.app.0.config.is_on_network() || self.app.store().has_accounts().await?)
    }

    /// Answers until `stop` ends.
    ///
    /// # Errors
    /// The network fails.
    pub async fn run(self, stop: impl Future<Output = ()> + Send + 'static) -> Result<(), ServeError> {
        let store = self.app.store().clone();
        let handle = Handle::new();
        let stopper = handle.clone();
        tokio::spawn(async move {
            stop.await;
            stopper.graceful_shutdown(Some(STOP_WITHIN));
        });
        let listener = self.listener.into_std().map_err(ServeError::Broken)?;
        let service = router(self.app).into_make_service_with_connect_info::<SocketAddr>();
        let served = match self.certificate {
            Some(certificate) => {
                let listening = axum_server::from_tcp_rustls(listener, certificate.config);
                patient(listening.map_err(ServeError::Broken)?, handle).serve(service).await
            }
            None => {
                let listening = axum_server::from_tcp(listener);
                patient(listening.map_err(ServeError::Broken)?, handle).serve(service).await
            }
        };
        store.close().await;
        served.map_err(ServeError::Broken)
    }
}

/// Waits for requests, but not for ever.
fn patient<A>(
    mut listening: Listening<SocketAddr, A>,
    handle: Handle<SocketAddr>,
) -> Listening<SocketAddr, A> {
    listening.http_builder().http1().timer(TokioTimer::new()).header_read_timeout(NEXT_WITHIN);
    listening.handle(handle).http1_only().first_request_timeout(FIRST_WITHIN)
}
