//! A PostgreSQL server for the tests, where one is installed. It listens on this machine alone, lies in a folder of its own, and both go.

use std::env;
use std::fs;
use std::net::TcpListener;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use crate::command::Failure;
use crate::process;

/// Names the server to the tests: `postgres://user@host:port`, without a database. Databases can be made in it.
pub const VARIABLE: &str = "KERF_TEST_POSTGRES";

/// A running server, until it is dropped.
pub struct Server {
    programs: PathBuf,
    folder: PathBuf,
    /// As [`VARIABLE`] wants it.
    pub address: String,
}

/// Starts a server; `None` where PostgreSQL is not installed.
pub fn start() -> Result<Option<Server>, Failure> {
    let Some(programs) = programs() else { return Ok(None) };
    let folder = env::temp_dir().join(format!("kerf-postgres-{}", std::process::id()));
    let port = TcpListener::bind("127.0.0.1:0")
        .and_then(|listener| listener.local_addr())
        .map_err(|error| Failure::Work(format!("no free port for PostgreSQL: {error}")))?
        .port();
    let server = Server { programs, folder, address: format!("postgres://kerf@127.0.0.1:{port}") };
    let folder = server.folder.to_string_lossy().into_owned();
    server.run("initdb", &["-D", &folder, "-U", "kerf", "-A", "trust", "-E", "UTF8", "--no-sync"])?;
    let log = server.folder.join("log").to_string_lossy().into_owned();
    // What the tests keep need not survive a power cut.
    let options = format!(
        "-c listen_addresses=127.0.0.1 -c port={port} -c unix_socket_directories='' -c fsync=off -c max_connections=300"
    );
    server.run("pg_ctl", &["-D", &folder, "-l", &log, "-o", &options, "-w", "start"])?;
    Ok(Some(server))
}

impl Server {
    fn run(&self, program: &str, arguments: &[&str]) -> Result<(), Failure> {
        let mut command = as_user(&self.programs.join(program));
        process::run(command.args(arguments).current_dir(env::temp_dir()).stdout(Stdio::null()))
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        let folder = self.folder.to_string_lossy().into_owned();
        let _ = self.run("pg_ctl", &["-D", &folder, "-m", "immediate", "-w", "stop"]);
        let _ = fs::remove_dir_all(&self.folder);
    }
}

/// The folder of the server's programs: that of the path, else the newest that Debian laid down.
fn programs() -> Option<PathBuf> {
    let is_there = |folder: &PathBuf| ["initdb", "pg_ctl"].iter().all(|name| is_program(&folder.join(name)));
    let path = env::var_os("PATH").unwrap_or_default();
    let mut debian: Vec<PathBuf> = fs::read_dir("/usr/lib/postgresql")
        .map(|entries| entries.flatten().map(|entry| entry.path().join("bin")).collect())
        .unwrap_or_default();
    debian.sort_by_key(|folder| version(folder));
    env::split_paths(&path).chain(debian.into_iter().rev()).find(is_there)
}

fn is_program(path: &Path) -> bool {
    path.is_file() || path.with_extension("exe").is_file()
}

/// The number in `…/15/bin`.
fn version(folder: &Path) -> u32 {
    let name = folder.parent().and_then(Path::file_name).map(|name| name.to_string_lossy().into_owned());
    name.and_then(|name| name.parse().ok()).unwrap_or(0)
}

/// PostgreSQL refuses to run as root: then it runs as the user that its package made.
fn as_user(program: &Path) -> Command {
    if !is_root() {
        return Command::new(program);
    }
    let mut command = Command::new("runuser");
    command.args(["-u", "postgres", "--"]).arg(program);
    command
}

fn is_root() -> bool {
    let id = Command::new("id").arg("-u").stderr(Stdio::null()).output();
    id.is_ok_and(|output| output.stdout.trim_ascii() == b"0")
}

#[cfg(test)]
mod tests {
    use std::net::TcpStream;

    use super::*;

    #[test]
    fn a_server_comes_and_goes_where_one_is_installed() {
        let Some(server) = start().unwrap() else { return };
        let address = server.address.rsplit_once('@').unwrap().1.to_owned();
        let folder = server.folder.clone();
        assert!(TcpStream::connect(&address).is_ok() && folder.is_dir());
        drop(server);
        assert!(TcpStream::connect(&address).is_err() && !folder.exists());
    }

    #[test]
    fn the_newest_version_is_known_by_its_number() {
        assert!(
            version(Path::new("/usr/lib/postgresql/9/bin"))
                < version(Path::new("/usr/lib/postgresql/15/bin"))
        );
        assert_eq!(version(Path::new("/usr/local/bin")), 0);
    }
}
