//! A class is kept and asked for.

use crate::bench::Bench;
use crate::common::{OPTIONS, VERSION, attempt, class_in, document, hash, keep_scan, roster};
use kerfwright_exchange::{Roster, RosterCohort, RosterLearner, bundle};
use kerfwright_store::{Chosen, Measured, NewRemark, RatingRow, RosterOptions, Store};

pub async fn a_roster_is_taken_in_whole_and_again_without_change(bench: &Bench) {
    let (store, _) = class_in(bench.open().await).await;
    assert_eq!(store.members("autumn").await.unwrap(), ["QS-02", "QS-03"]);
    let mut more = roster();
    more.learners.push(RosterLearner { code: Some("QS-09".into()), ..RosterLearner::default() });
    more.leaving = vec![more.members.pop().unwrap()];
    let trial = store.try_roster(&more, &OPTIONS).await.unwrap();
    assert_eq!((trial.new_codes, trial.leaving.len(), trial.left), (vec!["QS-09".to_owned()], 1, 1));
    assert_eq!(store.learners().await.unwrap().len(), 3, "a trial keeps nothing");
    assert_eq!(store.members("autumn").await.unwrap(), ["QS-02", "QS-03"]);
    let again = store.take_roster(&roster(), &OPTIONS).await.unwrap();
    assert_eq!((again.new_learners, again.known_learners, again.new_cohorts, again.joined), (0, 3, 0, 0));
    let learners = store.learners().await.unwrap();
    assert_eq!(learners[1].name.as_deref(), Some("Barnaby Shoal"));
}

pub async fn learners_without_codes_get_free_ones_and_keep_them(bench: &Bench) {
    let (store, _) = class_in(bench.open().await).await;
    let learner =
        |id: &str| RosterLearner { roster_id: Some(id.into()), name: Some("N. N.".into()), code: None };
    let cohort = RosterCohort { code: "B1".into(), title: "Bench 1".into(), roster_id: Some("c1".into()) };
    let mut from_school = Roster {
        learners: vec![learner("u1"), learner("u2")],
        cohorts: vec![cohort],
        members: vec![(0, 0), (0, 1)],
        leaving: Vec::new(),
    };
    let options = RosterOptions { with_names: false, ..OPTIONS };
    let count = store.take_roster(&from_school, &options).await.unwrap();
    assert_eq!((count.new_learners, count.new_cohorts, count.joined), (2, 1, 2));
    from_school.leaving = vec![from_school.members.pop().unwrap()];
    from_school.learners.push(learner("u3"));
    from_school.cohorts[0].code = "renamed".into();
    let count = store.take_roster(&from_school, &options).await.unwrap();
    assert_eq!((count.new_learners, count.known_learners, count.new_cohorts, count.left), (1, 2, 0, 1));
    assert_eq!(store.members("B1").await.unwrap(), ["QS-004"]);
    let learners = store.learners().await.unwrap();
    let without_names = learners.iter().filter(|row| row.roster_id.is_some()).all(|row| row.name.is_none());
    assert!(without_names && learners.len() == 6);
}

pub async fn a_document_becomes_rows(bench: &Bench) {
    let (store, exercise) = class_in(bench.open().await).await;
    let scan = keep_scan(&store, "QS-01.stl", b"one").await;
    store.keep_measured(&attempt("QS-01", &scan, &exercise, 0.55)).await.unwrap();
    let rows = store.class_readings(&Chosen::default(), None).await.unwrap();
    let told: Vec<_> = rows
        .iter()
        .map(|row| (row.reading.as_str(), row.part.as_str(), row.value, row.unit.as_str(), row.u95))
        .collect();
    assert_eq!(
        told,
        [
            ("contact.mesial_mm", "", None, "", None),
            ("finish_line.kind", "", None, "", None),
            ("finish_line.width.distal_mm", "", Some(0.55), "mm", Some(0.04)),
            ("finish_line.width.distal_mm", "least", Some(0.3), "mm", None),
            ("finish_line.width.distal_mm", "seen_pct", Some(91.0), "pct", None),
        ]
    );
    assert_eq!(rows[0].refused.as_deref(), Some("no neighbour"));
    assert_eq!(rows[1].word.as_deref(), Some("chamfer"));
    assert_eq!((rows[2].aspect.as_deref(), rows[2].angle_deg), (Some("distal"), Some(181.5)));
}

pub async fn the_same_attempt_again_is_the_same_attempt(bench: &Bench) {
    let (store, exercise) = class_in(bench.open().await).await;
    let scan = keep_scan(&store, "QS-01.stl", b"one").await;
    let mut new = attempt("QS-01", &scan, &exercise, 0.55);
    let done = new.outcome.clone();
    new.outcome = Measured::Refused { code: "find".into(), text: "no prepared tooth".into() };
    let first = store.keep_measured(&new).await.unwrap();
    let settled = store.settled(&new.identity, VERSION).await.unwrap().unwrap();
    assert_eq!(
        (settled.id.as_str(), settled.error_text.as_deref()),
        (first.as_str(), Some("no prepared tooth"))
    );
    assert_eq!(store.settled(&new.identity, "0.2.0").await.unwrap(), None, "a later version may do better");
    new.outcome = done;
    assert_eq!(store.keep_measured(&new).await.unwrap(), first);
    assert_eq!(store.keep_measured(&new).await.unwrap(), first);
    let attempts = store.class_attempts(&Chosen::default()).await.unwrap();
    assert_eq!((attempts.len(), attempts[0].state.as_str(), &attempts[0].error_text), (1, "done", &None));
    assert_eq!(store.class_readings(&Chosen::default(), None).await.unwrap().len(), 5);
    assert_eq!(store.grades(&first).await.unwrap().len(), 1);
}

pub async fn numbers_go_in_the_order_in_which_they_were_reserved(bench: &Bench) {
    let (store, exercise) = class_in(bench.open().await).await;
    let mut attempts = Vec::new();
    for learner in ["QS-01", "QS-02", "QS-03"] {
        let scan = keep_scan(&store, &format!("{learner}.stl"), learner.as_bytes()).await;
        attempts.push(attempt(learner, &scan, &exercise, 0.5));
    }
    let identity = |place: usize| (attempts[place].identity.clone(), Some(format!("QS-{:02}", place + 1)));
    store.reserve_numbers(&[identity(0), identity(1)]).await.unwrap();
    store.reserve_numbers(&[identity(1), identity(0)]).await.unwrap();
    // The last one was not asked for before; the second is done before the first.
    for place in [2, 1, 0] {
        store.keep_measured(&attempts[place]).await.unwrap();
        store.reserve_numbers(&[identity(place)]).await.unwrap();
        store.keep_measured(&attempts[place]).await.unwrap();
    }
    let mut numbers: Vec<(i64, Option<String>)> = store
        .class_attempts(&Chosen::default())
        .await
        .unwrap()
        .into_iter()
        .map(|row| (row.number, row.learner))
        .collect();
    numbers.sort();
    let of = |number: i64, learner: &str| (number, Some(learner.to_owned()));
    assert_eq!(numbers, [of(1, "QS-01"), of(2, "QS-02"), of(3, "QS-03")]);
}

pub async fn a_class_is_asked_by_who_and_what(bench: &Bench) {
    let (store, exercise) = class_in(bench.open().await).await;
    for (number, learner) in ["QS-01", "QS-02", "QS-03"].into_iter().enumerate() {
        let scan = keep_scan(&store, learner, learner.as_bytes()).await;
        let mut new = attempt(learner, &scan, &exercise, 0.5 + number as f64);
        if learner == "QS-03" {
            new.session = None;
        }
        store.keep_measured(&new).await.unwrap();
    }
    let reading = Some(("finish_line.width.distal_mm", ""));
    for (chosen, expected) in [
        (Chosen::default(), vec![0.5, 1.5, 2.5]),
        (Chosen { cohort: Some("spring".into()), ..Default::default() }, vec![0.5, 1.5]),
        (Chosen { learner: Some("QS-03".into()), ..Default::default() }, vec![2.5]),
        (Chosen { session: Some("week-1".into()), ..Default::default() }, vec![0.5, 1.5]),
        (Chosen { exercise: Some("other".into()), ..Default::default() }, vec![]),
        (
            Chosen { stage: Some("final".into()), cohort: Some("autumn".into()), ..Default::default() },
            vec![1.5, 2.5],
        ),
    ] {
        let rows = store.class_readings(&chosen, reading).await.unwrap();
        assert_eq!(rows.iter().filter_map(|row| row.value).collect::<Vec<_>>(), expected, "{chosen:?}");
        assert_eq!(store.class_grades(&chosen).await.unwrap().len(), expected.len());
    }
}

pub async fn the_readings_of_a_class_are_those_of_the_latest_document(bench: &Bench) {
    let (store, exercise) = class_in(bench.open().await).await;
    let scan = keep_scan(&store, "QS-01.stl", b"one").await;
    let mut new = attempt("QS-01", &scan, &exercise, 0.5);
    store.keep_measured(&new).await.unwrap();
    new.version = "0.2.0".into();
    let Measured::Done { document: kept, .. } = &mut new.outcome else { unreachable!() };
    *kept = document("QS-01.stl", 0.7);
    let id = store.keep_measured(&new).await.unwrap();
    let rows =
        store.class_readings(&Chosen::default(), Some(("finish_line.width.distal_mm", ""))).await.unwrap();
    let told: Vec<_> = rows.iter().map(|row| (row.version.as_str(), row.value)).collect();
    assert_eq!(told, [("0.2.0", Some(0.7))]);
    assert!(store.document(&id).await.unwrap().unwrap().contains("0.7"));
}

pub async fn an_override_stands_beside_the_computed_grade(bench: &Bench) {
    let (store, exercise) = class_in(bench.open().await).await;
    let scan = keep_scan(&store, "QS-01.stl", b"one").await;
    let new = attempt("QS-01", &scan, &exercise, 0.5);
    let id = store.keep_measured(&new).await.unwrap();
    let computed = store.grades(&id).await.unwrap().remove(0);
    store.add_override(&computed.id, "QS-I1", "scan torn there", "{\"waive\":1}").await.unwrap();
    assert!(store.add_override(&computed.id, "QS-I1", "", "{}").await.is_err(), "no reason");
    assert!(store.add_override(&computed.id, "", "because", "{}").await.is_err(), "nobody");
    store.keep_measured(&new).await.unwrap();
    assert_eq!(store.grades(&id).await.unwrap(), std::slice::from_ref(&computed));
    let overrides = store.overrides(&computed.id).await.unwrap();
    assert_eq!((overrides.len(), overrides[0].reason.as_str()), (1, "scan torn there"));
}

pub async fn ratings_are_kept_all_or_none(bench: &Bench) {
    let (store, exercise) = class_in(bench.open().await).await;
    let scan = keep_scan(&store, "QS-01.stl", b"one").await;
    let id = store.keep_measured(&attempt("QS-01", &scan, &exercise, 0.5)).await.unwrap();
    let rating = |attempt: &str| RatingRow {
        examiner: "QS-I1".into(),
        attempt: attempt.into(),
        criterion: "width".into(),
        occasion: 1,
        value: 3.0,
    };
    assert!(store.keep_ratings(&[rating(&id), rating("nowhere")], "QS-I1").await.is_err());
    assert!(store.ratings().await.unwrap().is_empty());
    store.keep_ratings(&[rating(&id)], "QS-I1").await.unwrap();
    assert_eq!(store.ratings().await.unwrap(), [rating(&id)]);
}

pub async fn another_word_makes_another_version_of_an_exercise(bench: &Bench) {
    let (store, exercise) = class_in(bench.open().await).await;
    let text = "name = \"quayside-26\"\n";
    assert_eq!(exercise, hash(text.as_bytes()));
    assert_eq!(store.keep_exercise("quayside-26", "again", text).await.unwrap(), exercise);
    let other =
        store.keep_exercise("quayside-26", "Crown on 26", "name = \"quayside-26\"\n#\n").await.unwrap();
    assert_ne!(other, exercise);
    assert_eq!(store.exercises().await.unwrap().len(), 2);
    assert_eq!(store.exercise(&exercise).await.unwrap().unwrap().toml, text);
}

pub async fn an_attempt_goes_from_one_store_to_another_with_all_that_hangs_on_it(bench: &Bench) {
    let (store, exercise) = class_in(bench.open().await).await;
    let (after, before) =
        (keep_scan(&store, "QS-01.stl", b"after").await, keep_scan(&store, "uncut.stl", b"before").await);
    let mut new = attempt("QS-01", &after, &exercise, 0.5);
    new.scans.1 = Some(before);
    let id = store.keep_measured(&new).await.unwrap();
    let grade = store.grades(&id).await.unwrap().remove(0);
    store.add_override(&grade.id, "QS-I1", "scan torn there", "{}").await.unwrap();
    let remark = NewRemark { at: [1.0, 2.0, 3.0], text: "a lip here".into(), author: "QS-I1".into() };
    store.add_remark(&id, &remark).await.unwrap();
    let (description, files) = store.bundle(&id).await.unwrap();
    let packed = bundle::write(description, files).unwrap();
    let (description, files) = bundle::read(&packed).unwrap();
    let folder = tempfile::tempdir().unwrap();
    let other = Store::open(folder.path()).await.unwrap();
    let own = other.take_bundle(&description, &files, "QS-D2").await.unwrap();
    assert_eq!(other.take_bundle(&description, &files, "QS-D2").await.unwrap(), own, "opened twice");
    other.check().await.unwrap();
    let row = other.attempt(&own).await.unwrap().unwrap();
    assert_eq!(other.scan_bytes(&row.after).await.unwrap().unwrap(), b"after");
    assert_eq!(other.scan_bytes(&row.before.unwrap()).await.unwrap().unwrap(), b"before");
    assert_eq!(other.document(&own).await.unwrap(), store.document(&id).await.unwrap());
    assert_eq!(other.class_readings(&Chosen::default(), None).await.unwrap().len(), 5);
    let grades = other.grades(&own).await.unwrap();
    assert_eq!((grades.len(), &grades[0].grade), (1, &grade.grade));
    assert_eq!(other.overrides(&grades[0].id).await.unwrap()[0].reason, "scan torn there");
    let remarks = other.remarks(&own).await.unwrap();
    assert_eq!((remarks.len(), remarks[0].text.as_str()), (1, "a lip here"));
}
