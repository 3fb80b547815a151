//! `kerf serve`: the app at the bench, for a browser on this machine, or with accounts for a network.

use std::net::IpAddr;
use std::path::PathBuf;
use std::process::{Command, Stdio};

use clap::Args;
use kerfwright_server::{Config, Server, Tls, bind_at};
use kerfwright_store::Place;

use crate::commands::class::data::{Data, runtime};

/// What the app is told at its start.
#[derive(Debug, Args)]
pub struct Arguments {
    /// Port to listen on; without it 4177, or any that is free.
    #[arg(long, value_name = "N")]
    pub port: Option<u16>,
    /// Where everything is kept.
    #[command(flatten)]
    pub data: Data,
    /// Address to listen on. One that other machines reach needs accounts (kerf account) and encryption.
    #[arg(long, value_name = "ADDRESS", default_value = "127.0.0.1")]
    pub listen: IpAddr,
    /// Name or address under which browsers reach this machine, beside --listen; may be given several times.
    #[arg(long, value_name = "NAME")]
    pub name: Vec<String>,
    /// Encrypt with a certificate that is made for these names and kept in the data folder; its fingerprint is printed.
    #[arg(long, conflicts_with = "certificate")]
    pub self_made_certificate: bool,
    /// Encrypt with this certificate, in PEM form, with those above it.
    #[arg(long, value_name = "FILE", requires = "key")]
    pub certificate: Option<PathBuf>,
    /// Private key of --certificate, in PEM form.
    #[arg(long, value_name = "FILE", requires = "certificate")]
    pub key: Option<PathBuf>,
    /// Folder into which the scanner's program writes: new scans come into the app by themselves.
    #[arg(long, value_name = "FOLDER")]
    pub watch: Option<PathBuf>,
    /// Do not open the browser.
    #[arg(long)]
    pub no_open: bool,
}

/// Serves until it is interrupted.
pub fn run(arguments: &Arguments) -> anyhow::Result<()> {
    let (data, place) = (arguments.data.folder()?, arguments.data.place()?);
    if let Some(folder) = arguments.watch.as_ref().filter(|folder| !folder.is_dir()) {
        anyhow::bail!("--watch: {}: is no folder; make it first, or check the name", folder.display());
    }
    let usual = Config::new(&data);
    let config = Config {
        address: arguments.listen,
        names: arguments.name.clone(),
        tls: tls(arguments),
        port: arguments.port.unwrap_or(usual.port),
        or_any_port: arguments.port.is_none(),
        watch: arguments.watch.clone(),
        ..usual
    };
    runtime()?.block_on(async {
        let server = bind_at(config, &place).await?;
        let url = server.url();
        announce(&server, arguments, &place).await?;
        if !arguments.no_open && !open_browser(&url) {
            println!("No browser could be opened from here: type the address into one.");
        }
        server.run(interrupted()).await?;
        Ok(())
    })
}

fn tls(arguments: &Arguments) -> Option<Tls> {
    match (&arguments.certificate, &arguments.key) {
        (Some(certificate), Some(key)) => {
            Some(Tls::Files { certificate: certificate.clone(), key: key.clone() })
        }
        _ => arguments.self_made_certificate.then_some(Tls::SelfMade),
    }
}

async fn announce(server: &Server, arguments: &Arguments, place: &Place) -> anyhow::Result<()> {
    let whom = match (arguments.listen.is_loopback(), server.has_accounts().await?) {
        (true, false) => "this machine alone, without signing in",
        (true, true) => "this machine alone, for accounts",
        (false, _) => "the network, for accounts",
    };
    println!("Kerfwright is open under {} for {whom}. Data: {}", server.url(), place.shown());
    if let Some((fingerprint, is_new)) = server.certificate() {
        let new = if is_new { " (made just now)" } else { "" };
        println!("Certificate{new}, SHA-256 {fingerprint}");
        if arguments.self_made_certificate {
            println!("Browsers warn of a self-made certificate: compare this fingerprint before you go on.");
        }
    }
    println!("Teaching and decision support, not a diagnosis. Stop it with Ctrl+C.");
    Ok(())
}

async fn interrupted() {
    // Where no signal can be had it runs until the process is ended.
    if tokio::signal::ctrl_c().await.is_err() {
        std::future::pending::<()>().await;
    }
}

/// Whether the system's own opener took the address.
fn open_browser(url: &str) -> bool {
    let mut command = if cfg!(windows) {
        let mut command = Command::new("rundll32");
        command.arg("url.dll,FileProtocolHandler");
        command
    } else if cfg!(target_os = "macos") {
        Command::new("open")
    } else {
        Command::new("xdg-open")
    };
    command.arg(url).stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::null()).spawn().is_ok()
}
