//! What an attempt costs a school that keeps its class on PostgreSQL and in a bucket: cores, rows, bytes. The figures of `docs/scaling.md`.
//!
//! `KERF_TEST_POSTGRES=postgres://user@host:port cargo bench --bench many`

#[allow(dead_code, reason = "other programs write more formats")]
#[path = "../tests/files/mod.rs"]
mod files;
#[allow(dead_code, reason = "other programs run other commands")]
#[path = "../tests/program/mod.rs"]
mod program;
#[allow(dead_code, reason = "tests do more with it")]
#[path = "../tests/school/mod.rs"]
mod school;

use std::time::{Duration, Instant};

use kerfwright_store::{Chosen, Measured, NewMeasured, Place, Store};
use school::School;

/// Attempts that are measured.
const N: u8 = 60;
/// Attempts that are kept without being measured, to see what the database takes alone.
const N_KEPT: usize = 600;
/// Who keep them at the same time.
const WRITERS: usize = 8;

fn main() {
    let Some(school) = School::new("figures") else {
        println!("KERF_TEST_POSTGRES names no server: nothing to measure on");
        return;
    };
    for number in 1..=N {
        school.scan(&format!("QS-{number:02}"), number);
    }
    let n = f64::from(N);
    let begun = Instant::now();
    assert!(school.submit().0);
    println!("handing in            {:8.1} ms an attempt, one after the other", ms(begun) / n);

    let empty_bytes = school.count("SELECT pg_database_size(current_database())");
    let (wall_ms, cpu_s) = measure(&school);
    println!("measuring             {:8.1} ms an attempt with two workers", wall_ms / n);
    if let Some(cpu_s) = cpu_s {
        println!("                      {:8.2} s of a core an attempt", cpu_s / n);
    }
    let bytes = school.count("SELECT pg_database_size(current_database())") - empty_bytes;
    println!("database              {:8.1} kB an attempt", bytes as f64 / n / 1e3);
    let of = |table: &str| school.count(&format!("SELECT count(*) FROM {table}")) as f64 / n;
    let rows = ["attempts", "documents", "readings", "audit", "scans"].map(of);
    println!(
        "rows                  {:8.1} an attempt, {:.1} of them readings",
        rows.iter().sum::<f64>(),
        rows[2]
    );
    let scans = school.count("SELECT sum(n_bytes)::bigint FROM scans") as f64;
    println!("bucket                {:8.2} MB an attempt", scans / n / 1e6);
    let triangles = school.count("SELECT avg(n_triangles)::bigint FROM scans");
    println!("                      {triangles:8} triangles a scan");

    assert!(school.submit().0);
    let (wall_ms, _) = measure(&school);
    println!("taking what is kept   {:8.1} ms an attempt with two workers", wall_ms / n);
    keep(&school, rows.iter().sum());
}

/// Lets two workers empty the queue: how long it takes, and the time of processors where the system tells it.
fn measure(school: &School) -> (f64, Option<f64>) {
    let begun = Instant::now();
    let mut workers = [school.worker(), school.worker()];
    school.until("an empty queue", "SELECT count(*) FROM kerfwright_queue.jobs", |n| n == 0);
    let wall_ms = ms(begun);
    let cpu_s = workers.iter().map(|worker| cpu_s(worker.id())).sum();
    for worker in &mut workers {
        worker.kill().unwrap();
        worker.wait().unwrap();
    }
    (wall_ms, cpu_s)
}

/// Keeps the same document again and again, each time as another attempt.
fn keep(school: &School, rows: f64) {
    let (address, scans, settings) = school.place();
    let runtime = tokio::runtime::Runtime::new().unwrap();
    runtime.block_on(async {
        let place = Place::read("".as_ref(), Some(&address), Some(&scans), settings).unwrap();
        let store = Store::open_at(&place).await.unwrap();
        let attempt = store.class_attempts(&Chosen::default()).await.unwrap().remove(0);
        let row = store.attempt(&attempt.id).await.unwrap().unwrap();
        let new = NewMeasured {
            identity: String::new(),
            scans: (row.after, row.before, row.opposing),
            request: row.request,
            fdi: 26,
            learner: attempt.learner,
            session: None,
            exercise: None,
            exercise_version: None,
            stage: None,
            taken: None,
            version: "0".into(),
            outcome: Measured::Done {
                layout: "kerfwright-measurement-1".into(),
                document: store.document(&attempt.id).await.unwrap().unwrap(),
                grade: None,
            },
        };
        let begun = Instant::now();
        let writers: Vec<_> = (0..WRITERS)
            .map(|writer| {
                let (store, mut new) = (store.clone(), new.clone());
                tokio::spawn(async move {
                    for number in 0..N_KEPT / WRITERS {
                        new.identity = format!("{writer} {number}");
                        store.keep_measured(&new).await.unwrap();
                    }
                })
            })
            .collect();
        for writer in writers {
            writer.await.unwrap();
        }
        let each_ms = ms(begun) / N_KEPT as f64;
        println!("keeping alone         {each_ms:8.1} ms an attempt: {:.0} attempts a second", 1e3 / each_ms);
        println!("                      {:8.0} rows a second", 1e3 / each_ms * rows);
        store.close().await;
    });
}

fn ms(begun: Instant) -> f64 {
    begun.elapsed().as_secs_f64() * 1e3
}

/// What a process took of processors so far, where the system has such a file.
fn cpu_s(process: u32) -> Option<f64> {
    let stat = std::fs::read_to_string(format!("/proc/{process}/stat")).ok()?;
    let after_name = stat.rsplit_once(')')?.1;
    let ticks: Vec<f64> =
        after_name.split_whitespace().skip(11).take(2).filter_map(|word| word.parse().ok()).collect();
    // The unit of this file on every Linux of today.
    Some(ticks.iter().sum::<f64>() * Duration::from_millis(10).as_secs_f64())
}
