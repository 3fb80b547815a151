//! What is deleted is nowhere any more.

use std::fs;

use kerfwright_store::{Chosen, NewMeasured, NewRemark, RatingRow, Store};

use crate::bench::Bench;
use crate::common::{attempt, class_in, keep_scan};

/// Bytes of a scan that are like no others.
fn scan_of(learner: &str) -> Vec<u8> {
    (0..20_000).flat_map(|n| format!("{learner} facet {n} ").into_bytes()).collect()
}

/// Three learners, each with attempts, a remark and a rating; all share the scan of the uncut tooth.
async fn busy_class(bench: &Bench) -> Store {
    let (store, exercise) = class_in(bench.open().await).await;
    let before = keep_scan(&store, "uncut.stl", b"uncut tooth of the exercise").await;
    for learner in ["QS-01", "QS-02", "QS-03"] {
        for number in 0..12 {
            let mut bytes = scan_of(learner);
            bytes.push(number);
            let scan = keep_scan(&store, &format!("{learner}_{number}.stl"), &bytes).await;
            let mut new: NewMeasured = attempt(learner, &scan, &exercise, 0.5);
            new.scans.1 = Some(before.clone());
            new.session = (learner == "QS-02" && number < 4).then(|| "week-1".into());
            let id = store.keep_measured(&new).await.unwrap();
            let remark =
                NewRemark { at: [0.0; 3], text: format!("{learner} left a lip"), author: learner.into() };
            store.add_remark(&id, &remark).await.unwrap();
            let rating = RatingRow {
                examiner: "QS-I1".into(),
                attempt: id,
                criterion: "width".into(),
                occasion: 1,
                value: 3.0,
            };
            store.keep_ratings(&[rating], "QS-I1").await.unwrap();
        }
    }
    store
}

async fn n_attempts(store: &Store, learner: &str) -> usize {
    let chosen = Chosen { learner: Some(learner.into()), ..Default::default() };
    store.class_attempts(&chosen).await.unwrap().len()
}

pub async fn a_deleted_learner_leaves_no_trace(bench: &Bench) {
    let store = busy_class(bench).await;
    for trace in ["QS-01", "Wilhelmina Tide", "QS-01 left a lip", "QS-01 facet 7 "] {
        assert!(!bench.traces(trace).await.is_empty(), "the search finds `{trace}` before");
    }
    let removed = store.delete_learner("QS-01", "QS-D1").await.unwrap();
    assert_eq!((removed.learners, removed.attempts, removed.scans), (1, 12, 12));
    for trace in ["QS-01", "Wilhelmina", "facet 7 QS-01"] {
        assert_eq!(bench.traces(trace).await, Vec::<String>::new(), "{trace}");
    }
    assert_eq!(n_attempts(&store, "QS-02").await, 12);
    assert!(!bench.traces("uncut tooth").await.is_empty(), "what others use stays");
    store.check().await.unwrap();
    assert!(store.delete_learner("QS-01", "QS-D1").await.is_err(), "nobody is deleted twice");
}

pub async fn a_deleted_cohort_takes_its_own_learners_along(bench: &Bench) {
    let store = busy_class(bench).await;
    let removed = store.delete_cohort("spring", "QS-D1").await.unwrap();
    // QS-01 was in this cohort alone; QS-02 is also in the other and loses the four attempts of this one's session.
    assert_eq!((removed.learners, removed.attempts, removed.scans), (1, 16, 16));
    assert_eq!([n_attempts(&store, "QS-02").await, n_attempts(&store, "QS-03").await], [8, 12]);
    for trace in ["QS-01", "Wilhelmina", "spring", "week-1"] {
        assert_eq!(bench.traces(trace).await, Vec::<String>::new(), "{trace}");
    }
    store.check().await.unwrap();
}

pub async fn erased_names_leave_no_trace_and_codes_stay(bench: &Bench) {
    let store = busy_class(bench).await;
    assert_eq!(store.erase_names(Some("QS-03"), "QS-D1").await.unwrap(), 1);
    assert_eq!(bench.traces("Ottoline").await, Vec::<String>::new());
    assert!(!bench.traces("Barnaby").await.is_empty());
    assert_eq!(store.erase_names(None, "QS-D1").await.unwrap(), 2);
    assert_eq!(bench.traces("Barnaby").await, Vec::<String>::new());
    assert_eq!(n_attempts(&store, "QS-03").await, 12);
}

pub async fn old_scans_go_and_their_readings_stay(bench: &Bench) {
    let store = busy_class(bench).await;
    assert_eq!(store.erase_scans_before("2000-01-01", "QS-D1").await.unwrap().scans, 0);
    let readings = store.class_readings(&Chosen::default(), None).await.unwrap().len();
    assert_eq!(store.erase_scans_before("2999-01-01", "QS-D1").await.unwrap().scans, 37);
    assert_eq!(bench.traces(" facet 7 ").await, Vec::<String>::new());
    assert_eq!(bench.traces("QS-02_3.stl").await, Vec::<String>::new());
    assert_eq!(store.class_readings(&Chosen::default(), None).await.unwrap().len(), readings);
    let attempt = store.attempts(1).await.unwrap().remove(0);
    assert_eq!(store.scan_bytes(&attempt.after).await.unwrap(), None);
    store.check().await.unwrap();
    // The same bytes again bring the scan back.
    let mut bytes = scan_of("QS-03");
    bytes.push(11);
    assert_eq!(keep_scan(&store, "again.stl", &bytes).await, attempt.after);
    assert_eq!(store.scan_bytes(&attempt.after).await.unwrap().unwrap(), bytes);
}

pub async fn a_deletion_that_broke_off_is_finished_at_the_next_start(bench: &Bench) {
    let store = busy_class(bench).await;
    let kept: Vec<_> = fs::read_dir(bench.scans()).unwrap().map(|entry| entry.unwrap().path()).collect();
    let copies: Vec<_> = kept.iter().map(|path| (path.clone(), fs::read(path).unwrap())).collect();
    store.delete_learner("QS-01", "QS-D1").await.unwrap();
    store.close().await;
    // As if the program had ended between the rows and the files: the files are there again, and the note of what is to go.
    let gone: Vec<_> = copies.into_iter().filter(|(path, _)| !path.exists()).collect();
    assert_eq!(gone.len(), 12);
    for (path, bytes) in &gone {
        fs::write(path, bytes).unwrap();
        let scan = path.file_stem().unwrap().to_str().unwrap();
        bench.meddle(&format!("INSERT INTO doomed_files (scan) VALUES ('{scan}')")).await;
    }
    let store = bench.open().await;
    assert!(gone.iter().all(|(path, _)| !path.exists()));
    store.check().await.unwrap();
}

pub async fn what_is_measured_of_a_deleted_learner_is_not_kept(bench: &Bench) {
    let (store, exercise) = class_in(bench.open().await).await;
    let mut attempts = Vec::new();
    for learner in ["QS-01", "QS-02"] {
        let bytes = format!("the scan of {learner}");
        let scan = keep_scan(&store, &format!("{learner}.stl"), bytes.as_bytes()).await;
        attempts.push(attempt(learner, &scan, &exercise, 0.5));
        let awaited = (attempts.last().unwrap().identity.clone(), Some(learner.to_owned()));
        store.reserve_numbers(&[awaited]).await.unwrap();
    }
    store.delete_learner("QS-01", "QS-D1").await.unwrap();
    assert_eq!(store.keep_awaited(&attempts[0]).await.unwrap(), None);
    assert!(store.keep_awaited(&attempts[1]).await.unwrap().is_some());
    // Measured again, by a later version: the attempt itself is what is awaited.
    assert!(store.keep_awaited(&attempts[1]).await.unwrap().is_some());
    store.delete_learner("QS-02", "QS-D1").await.unwrap();
    assert_eq!(store.keep_awaited(&attempts[1]).await.unwrap(), None);
    let left: Vec<String> = store.learners().await.unwrap().into_iter().map(|row| row.code).collect();
    assert_eq!(left, ["QS-03"]);
    assert_eq!(store.check().await.unwrap().scans, 0);
    store.close().await;
    for trace in ["the scan of QS-01", "the scan of QS-02"] {
        assert_eq!(bench.traces(trace).await, Vec::<String>::new(), "{trace}");
    }
}
