//! A school that keeps its class on PostgreSQL and in a bucket, for tests.

#[path = "../../../store/tests/contract/bucket.rs"]
mod bucket;

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use bucket::bucket;
use kerfwright_mesh::write_stl_binary;
use sqlx::{AssertSqlSafe, Connection, Executor, PgConnection};

use crate::files::scans;
use crate::program::folder;

/// Longer than anything takes on a busy machine.
const PATIENCE: Duration = Duration::from_secs(240);

/// A school: a database, a part of the bucket, and files.
pub struct School {
    folder: PathBuf,
    name: String,
    server: String,
    runtime: tokio::runtime::Runtime,
}

impl School {
    /// `None` where there is no PostgreSQL.
    pub fn new(name: &str) -> Option<Self> {
        let Some(server) = std::env::var("KERF_TEST_POSTGRES").ok().filter(|server| !server.is_empty())
        else {
            assert!(std::env::var_os("CI").is_none(), "KERF_TEST_POSTGRES names no server");
            return None;
        };
        let own = format!("kerf_{name}_{}", std::process::id());
        let runtime = tokio::runtime::Runtime::new().unwrap();
        let school = Self { folder: folder(&format!("class-{name}")), name: own, server, runtime };
        school.ask_at("postgres", &format!("CREATE DATABASE {}", school.name));
        fs::create_dir(school.at("scans")).unwrap();
        fs::write(school.at("before.stl"), write_stl_binary(&scans().before)).unwrap();
        fs::write(school.at("opposing.stl"), write_stl_binary(&scans().opposing)).unwrap();
        Some(school)
    }

    /// A file of the school.
    pub fn at(&self, name: &str) -> PathBuf {
        self.folder.join(name)
    }

    /// A learner's scan; each is another file, since the first bytes of a binary STL are free.
    pub fn scan(&self, learner: &str, mark: u8) {
        let mut bytes = write_stl_binary(&scans().after);
        bytes[79] = mark;
        fs::write(self.at("scans").join(format!("{learner}_26.stl")), bytes).unwrap();
    }

    /// `kerf class`, told where everything is kept.
    pub fn kerf(&self, arguments: &[&str]) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_kerf"));
        let (database, scans, settings) = self.place();
        command.arg("class").args(arguments).envs(settings);
        command.env("KERF_STORE", database).env("KERF_SCANS", scans);
        command
    }

    /// Database, scans, and what a program needs to know of the bucket.
    pub fn place(&self) -> (String, String, Vec<(String, String)>) {
        let (database, scans) =
            (format!("{}/{}", self.server, self.name), format!("s3://scans/{}", self.name));
        (database, scans, bucket().settings())
    }

    /// What a command prints; it has to succeed.
    pub fn class(&self, arguments: &[&str]) -> String {
        let output = self.kerf(arguments).output().unwrap();
        let (out, fault) = (String::from_utf8_lossy(&output.stdout), String::from_utf8_lossy(&output.stderr));
        assert!(output.status.success(), "{arguments:?}: {out}{fault}");
        out.into_owned()
    }

    /// Hands the folder of scans in: whether all was fit, and what was said.
    pub fn submit(&self) -> (bool, String) {
        let (scans, before, opposing) = (self.at("scans"), self.at("before.stl"), self.at("opposing.stl"));
        let text = |path: &Path| path.to_str().unwrap().to_owned();
        let (scans, before, opposing) = (text(&scans), text(&before), text(&opposing));
        let asked = ["--before", &before, "--opposing", &opposing, "--tooth", "26", "--session", "week-1"];
        let submit = ["submit", &scans, "--exercise", "cast-crown-molar", "--quiet"];
        let output = self.kerf(&[&submit[..], &asked[..]].concat()).output().unwrap();
        assert!(output.stderr.is_empty(), "{}", String::from_utf8_lossy(&output.stderr));
        (output.status.success(), String::from_utf8(output.stdout).unwrap())
    }

    /// A process that takes one attempt at a time.
    pub fn worker(&self) -> Child {
        let mut command = self.kerf(&["work", "--workers", "1", "--silence", "3"]);
        command.stdout(Stdio::null()).stderr(Stdio::null()).spawn().unwrap()
    }

    /// Waits until a number is reached.
    pub fn until(&self, what: &str, query: &str, reached: impl Fn(i64) -> bool) {
        let begun = Instant::now();
        while !reached(self.count(query)) {
            assert!(begun.elapsed() < PATIENCE, "{what}: {}", self.class(&["queue"]));
            std::thread::sleep(Duration::from_millis(100));
        }
    }

    /// The number that a query gives.
    pub fn count(&self, query: &str) -> i64 {
        self.runtime.block_on(async {
            let mut connection = PgConnection::connect(&self.place().0).await.unwrap();
            sqlx::query_scalar(AssertSqlSafe(query.to_owned())).fetch_one(&mut connection).await.unwrap()
        })
    }

    /// Does something behind the program's back.
    pub fn meddle(&self, statement: &str) {
        self.ask_at(&self.name, statement);
    }

    fn ask_at(&self, database: &str, statement: &str) {
        self.runtime.block_on(async {
            let mut connection = PgConnection::connect(&format!("{}/{database}", self.server)).await.unwrap();
            connection.execute(AssertSqlSafe(statement.to_owned())).await.unwrap();
        });
    }

    /// The file in which the bucket's server keeps a learner's scan.
    pub fn kept_file(&self, learner: &str) -> PathBuf {
        let bytes = fs::read(self.at("scans").join(format!("{learner}_26.stl"))).unwrap();
        let id = kerfwright_measure::attempt::sha256(&bytes);
        bucket().root.path().join("scans").join(&self.name).join(format!("{id}.scan"))
    }
}

impl Drop for School {
    fn drop(&mut self) {
        if !std::thread::panicking() {
            self.ask_at("postgres", &format!("DROP DATABASE {} WITH (FORCE)", self.name));
        }
    }
}
