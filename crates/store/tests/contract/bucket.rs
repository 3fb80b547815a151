//! An S3 server within a test program, with one bucket: `scans`.

use std::fs;
use std::net::SocketAddr;
use std::sync::OnceLock;

use hyper_util::rt::{TokioExecutor, TokioIo};
use hyper_util::server::conn::auto::Builder;
use s3s::auth::SimpleAuth;
use s3s::service::S3ServiceBuilder;
use tempfile::TempDir;

/// The S3 server of this test program.
pub struct Bucket {
    /// Its folder; each bucket is a folder in it.
    pub root: TempDir,
    address: SocketAddr,
}

/// Both parts of the server's key.
const KEY: &str = "quayside";

impl Bucket {
    /// What a program needs to know of it, by the names of the environment.
    pub fn settings(&self) -> Vec<(String, String)> {
        let endpoint = format!("http://{}", self.address);
        let settings = [("ENDPOINT", endpoint.as_str()), ("ALLOW_HTTP", "true"), ("REGION", "us-east-1")];
        let key = [("ACCESS_KEY_ID", KEY), ("SECRET_ACCESS_KEY", KEY)];
        settings.into_iter().chain(key).map(|(name, value)| (format!("AWS_{name}"), value.into())).collect()
    }
}

/// Starts the server for the first that asks. It has a thread of its own, since every test has its own runtime, which ends.
pub fn bucket() -> &'static Bucket {
    static BUCKET: OnceLock<Bucket> = OnceLock::new();
    BUCKET.get_or_init(|| {
        let root = tempfile::tempdir().unwrap();
        fs::create_dir(root.path().join("scans")).unwrap();
        let listener = std::net::TcpListener::bind("127.0.0.1:0").unwrap();
        listener.set_nonblocking(true).unwrap();
        let address = listener.local_addr().unwrap();
        let mut service = S3ServiceBuilder::new(s3s_fs::FileSystem::new(root.path()).unwrap());
        service.set_auth(SimpleAuth::from_single(KEY, KEY));
        let service = service.build();
        std::thread::spawn(move || {
            let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap();
            runtime.block_on(async {
                let listener = tokio::net::TcpListener::from_std(listener).unwrap();
                loop {
                    let (stream, _) = listener.accept().await.unwrap();
                    let service = service.clone();
                    tokio::spawn(async move {
                        let builder = Builder::new(TokioExecutor::new());
                        let _ = builder.serve_connection(TokioIo::new(stream), service).await;
                    });
                }
            });
        });
        Bucket { root, address }
    })
}
