//! `kerf serve`: the app at the bench, for a browser on this machine.

use std::net::IpAddr;
use std::path::PathBuf;
use std::process::{Command, Stdio};

use anyhow::Context;
use clap::Args;
use kerfwright_server::{Config, bind};

use crate::commands::class::data::Data;

/// What the app is told at its start.
#[derive(Debug, Args)]
pub struct Arguments {
    /// Port to listen on; without it 4177, or any that is free.
    #[arg(long, value_name = "N")]
    pub port: Option<u16>,
    /// Where everything is kept.
    #[command(flatten)]
    pub data: Data,
    /// Address to listen on; without accounts only one of this machine alone.
    #[arg(long, value_name = "ADDRESS", default_value = "127.0.0.1")]
    pub listen: IpAddr,
    /// Folder into which the scanner's program writes: new scans come into the app by themselves.
    #[arg(long, value_name = "FOLDER")]
    pub watch: Option<PathBuf>,
    /// Do not open the browser.
    #[arg(long)]
    pub no_open: bool,
}

/// Serves until it is interrupted.
pub fn run(arguments: &Arguments) -> anyhow::Result<()> {
    let data = arguments.data.folder()?;
    if let Some(folder) = arguments.watch.as_ref().filter(|folder| !folder.is_dir()) {
        anyhow::bail!("--watch: {}: is no folder; make it first, or check the name", folder.display());
    }
    let usual = Config::new(&data);
    let config = Config {
        address: arguments.listen,
        port: arguments.port.unwrap_or(usual.port),
        or_any_port: arguments.port.is_none(),
        watch: arguments.watch.clone(),
        ..usual
    };
    let runtime = tokio::runtime::Runtime::new().context("no threads to be had; close other programs")?;
    runtime.block_on(async {
        let server = bind(config).await?;
        let url = server.url();
        println!("Kerfwright is open under {url} for this machine alone. Data: {}", data.display());
        println!("Teaching and decision support, not a diagnosis. Stop it with Ctrl+C.");
        if !arguments.no_open && !open_browser(&url) {
            println!("No browser could be opened from here: type the address into one.");
        }
        server.run(interrupted()).await?;
        Ok(())
    })
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
