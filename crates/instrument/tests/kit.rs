//! The shipped kit, and kits with slips.

use kerfwright_instrument::{
    FinishKind, Fit, Grit, Kit, Limits, LogEntry, Measured, Stage, Target, Weight, by_stage, check,
    deepest_chamfer_mm, in_hand, log_from_json, log_from_toml, read, shipped, shoulder, state, strangers,
    suitable, taper_deg,
};

fn quayside() -> Kit {
    read(shipped()[0].1).unwrap()
}

fn fit<'a>(fits: &'a [Fit], name: &str) -> &'a Fit {
    fits.iter().find(|fit| fit.instrument == name).unwrap()
}

#[test]
fn the_shipped_kit_is_in_order_and_gives_each_source() {
    for (name, text) in shipped() {
        assert_eq!(check(text), [], "{name}");
        let kit = read(text).unwrap();
        assert_eq!(kit.name, *name);
        for instrument in &kit.instruments {
            let block =
                text.split("\n[[").find(|block| block.contains(&format!("name = \"{}\"\n", instrument.name)));
            let numbers =
                block.unwrap().lines().filter(|line| line.contains("_mm = ") || line.contains("_deg = "));
            for line in numbers.filter(|line| !line.contains('"') && !line.contains("loss_of")) {
                let key = line.split(' ').next().unwrap();
                assert!(
                    instrument.sources.iter().any(|source| source.0 == key),
                    "{}: {key} has no source",
                    instrument.name
                );
            }
        }
        assert!(kit.gauges.iter().all(|gauge| gauge.sources.len() == 2));
    }
}

#[test]
fn the_kit_follows_its_schema() {
    let schema = serde_json::from_str(include_str!("../../../docs/kit.schema.json")).unwrap();
    let schema = jsonschema::draft202012::new(&schema).unwrap();
    let faults = |text: &str| -> Vec<String> {
        let kit: serde_json::Value = toml::from_str(text).unwrap();
        schema.iter_errors(&kit).map(|fault| fault.to_string()).collect()
    };
    let text = shipped()[0].1;
    assert_eq!(faults(text), Vec::<String>::new());
    for (given, slip) in [
        ("kind = \"torpedo\"", "kind = \"torpdo\""),
        ("length_mm = 8.0", "lenght_mm = 8.0"),
        ("width_mm = 0.5", "width_mm = 0"),
        ("806 314 198 524 014", "806 314 198 524"),
        ("kerfwright-kit-1", "kerfwright-kit-2"),
        ("kind = \"ball\"\n", "kind = \"ball\"\nlength_mm = 1.0\n"),
    ] {
        let broken = text.replacen(given, slip, 1);
        assert_ne!(broken, text, "{given}");
        assert!(!faults(&broken).is_empty(), "the schema takes {slip}");
        assert!(!check(&broken).is_empty(), "the check takes {slip}");
    }
}

/// Slips in the shipped kit, each with what the message says, on the line where it stands.
#[test]
fn slips_are_told_by_line() {
    let text = shipped()[0].1;
    let cases = [
        ("nose_mm = 1.2\n", "noze_mm = 1.2\n", "noze_mm", "did you mean `nose_mm`?"),
        ("kind = \"football\"", "kind = \"footbal\"", "footbal\"", "did you mean `football`?"),
        ("diameter_mm = 2.1\n", "diameter_mm = 1.9\n", "diameter_mm = 1.9", "the code's size is 2.1 mm"),
        (
            "tip_diameter_mm = 0.2\n",
            "tip_diameter_mm = 1.2\n",
            "tip_diameter_mm = 1.2",
            "larger than the largest diameter",
        ),
        (
            "half_angle_deg = 2.0\n",
            "half_angle_deg = 2.0\ntip_diameter_mm = 0.8\n",
            "half_angle_deg = 2.0",
            "contradicts the rest",
        ),
        (
            "corner_radius_mm = 0.3",
            "corner_radius_mm = 0.9",
            "corner_radius_mm = 0.9",
            "does not fit a flat end",
        ),
        ("806 314 289 524 012", "806 314 289 524 0l2", "0l2", "is no digit"),
        ("after_uses = 10", "after_uses = 2.5", "after_uses = 2.5", "no whole number"),
        ("length_mm = 8.0", "length_mm = \"8.0\"", "length_mm = \"8.0\"", "is text, not a number"),
        ("name = \"pear-012\"", "name = \"needle-010\"", "", "there is another instrument `needle-010`"),
        ("name = \"pear-012\"", "name = \"Pear 012\"", "Pear 012", "small letters"),
        ("grit = \"fine\"", "grit = \"find\"", "grit = \"find\"", "did you mean `fine`?"),
        ("marks_mm = [1, 2,", "marks_mm = [2, 1,", "marks_mm = [2, 1,", "go up"),
        ("cuts = \"end\"", "cuts = \"ends\"", "cuts = \"ends\"", "all, end or side"),
        ("title = \"Pear\"\n", "", "[[instrument]]", "`title` is missing"),
        ("[retire]", "[retire", "[retire", "no TOML"),
    ];
    for (given, slip, at, says) in cases {
        let broken = text.replacen(given, slip, 1);
        assert_ne!(broken, text, "{given}");
        let faults = check(&broken);
        let told: Vec<String> = faults.iter().map(ToString::to_string).collect();
        let fault = faults.iter().find(|fault| fault.what.contains(says));
        let fault = fault.unwrap_or_else(|| panic!("{slip:?} is told as {told:?}"));
        assert!(broken.lines().nth(fault.line - 1).unwrap().contains(at), "{slip:?}: {told:?}");
        assert!(read(&broken).is_err() && fault.weight == Weight::Wrong, "{slip:?}");
        assert_eq!(faults.len(), 1, "{slip:?}: one slip, {told:?}");
    }
}

#[test]
fn what_is_known_from_memory_alone_is_only_doubted() {
    let text = shipped()[0].1.replacen("806 314 289 524 012", "806 314 198 524 012", 1);
    let faults = check(&text);
    assert!(faults.len() == 1 && faults[0].weight == Weight::Doubtful, "{faults:?}");
    assert!(read(&text).is_ok());
    for junk in [
        "",
        "schema = 1",
        "\u{0}",
        "[[instrument]]\n",
        "instrument = 3",
        "schema = \"kerfwright-kit-1\"\n[[gauge]]\nwidth_mm = nan",
    ] {
        assert!(!check(junk).is_empty() && read(junk).is_err(), "{junk:?}");
    }
}

/// The numbers of the sentences by hand: a half-angle of 2° over 8 mm takes 2 · 8 · tan 2° = 0.5587 mm off the width of the sides.
#[test]
fn what_the_kit_leaves_is_what_its_numbers_say() {
    let kit = quayside();
    let of = |name: &str| &kit.instrument(name).unwrap().head;
    // The sides of a round cone meet the level of the tip at half of (1.6 − 0.5587) = 0.5206 mm from the axis.
    assert!((deepest_chamfer_mm(of("taper-round-016")).unwrap() - 0.5206).abs() < 5e-5);
    // Flat cone: tip 1.0413; a corner of 0.3 takes 0.3 tan 44° = 0.2897.
    let left = shoulder(of("taper-flat-rounded-016")).unwrap();
    assert!(
        (left.least_mm - 0.2897).abs() < 5e-5 && (left.full_mm - (1.0413 - 0.2897)).abs() < 1e-4,
        "{left:?}"
    );
    assert!((taper_deg(of("taper-round-014")).unwrap() - 2.0).abs() < 1e-9);
    let shown = kit.gap_shown(1.7);
    assert_eq!((shown.passes_mm, shown.stops_mm), (Some(1.5), Some(2.0)));
}

#[test]
fn a_chamfer_finds_its_round_end_and_says_why_not_the_others() {
    let target = Target {
        name: "finish line".into(),
        kind: Some(FinishKind::Chamfer),
        width_mm: Some(Limits::between(0.5, 0.6)),
        taper_deg: Some(Limits::between(2.0, 6.0)),
        ..Target::default()
    };
    let fits = suitable(&quayside(), &target);
    assert_eq!(fits[0].instrument, "taper-round-018");
    assert!(
        fits[0].suits && fits[0].reasons.iter().any(|reason| reason.contains("no lip up to 0.62 mm")),
        "{:?}",
        fits[0]
    );
    let narrow = fit(&fits, "taper-round-014");
    let says = "this round end can cut 0.42 mm at most before it leaves a lip; the target is 0.5 to 0.6 mm";
    assert!(!narrow.suits && narrow.reasons == [says], "{narrow:?}");
    for (name, says) in [
        ("taper-flat-rounded-016", "leaves a shoulder with an internal radius of 0.3 mm"),
        ("football-023", "no straight sides"),
        ("end-cutter-010", "leaves a shoulder"),
        ("needle-010", "this point can cut 0.1 mm at most"),
    ] {
        let fit = fit(&fits, name);
        assert!(!fit.suits && fit.reasons.len() == 1 && fit.reasons[0].contains(says), "{fit:?}");
    }
    let n_fit = fits.iter().filter(|fit| fit.suits).count();
    assert!(
        fits[..n_fit].iter().all(|fit| fit.suits) && fits[..n_fit].is_sorted_by(|a, b| a.strain <= b.strain)
    );
}

#[test]
fn other_targets_find_their_instruments() {
    let kit = quayside();
    let first =
        |target: &Target| suitable(&kit, target).into_iter().find(|fit| fit.suits).map(|fit| fit.instrument);
    let shoulder = Target {
        kind: Some(FinishKind::Shoulder),
        width_mm: Some(Limits::at(0.7)),
        internal_radius_mm: Some(Limits::at_least(0.25)),
        taper_deg: Some(Limits::at_most(3.0)),
        ..Target::default()
    };
    assert_eq!(first(&shoulder).as_deref(), Some("taper-flat-rounded-016"));
    // Wider than its end: full width 0.75, flat 0.46, so 1.1 takes one pass more.
    let wide = Target { width_mm: Some(Limits::between(1.0, 1.2)), ..shoulder.clone() };
    let fits = suitable(&kit, &wide);
    assert!(fits[0].suits && fits[0].reasons[0].contains("in 2 passes, 0.75 mm at most in one"), "{fits:?}");
    let too_sharp = suitable(&kit, &shoulder);
    assert!(fit(&too_sharp, "taper-round-016").reasons[0].contains("hollow floor"), "{too_sharp:?}");
    let smooth = Target { coarsest: Some(Grit::Fine), ..shoulder.clone() };
    assert_eq!(first(&smooth).as_deref(), Some("taper-flat-rounded-016-fine"));
    let contact = Target { gap_mm: Some([0.8, 3.0]), wall_mm: Some(5.0), ..Target::default() };
    assert_eq!(first(&contact).as_deref(), Some("needle-010"));
    let groove = Target { depth_mm: Some(Limits::at(1.5)), ..Target::default() };
    assert_eq!(first(&groove).as_deref(), Some("depth-ball-015"));
    let fossa = Target { hollow_radius_mm: Some(4.0), ..Target::default() };
    assert_eq!(first(&fossa).as_deref(), Some("football-023"));
    let impossible = Target {
        kind: Some(FinishKind::Chamfer),
        width_mm: Some(Limits::at_least(1.5)),
        ..Target::default()
    };
    assert_eq!(first(&impossible), None);
    let steep = Target { taper_deg: Some(Limits::between(5.0, 8.0)), ..Target::default() };
    let fits = suitable(&kit, &steep);
    assert!(fit(&fits, "taper-round-016").reasons[0].contains("lean it by 3.0°"), "{fits:?}");
    let parallel = Target { taper_deg: Some(Limits::at_most(1.0)), ..Target::default() };
    assert!(!fit(&suitable(&kit, &parallel), "taper-round-016").suits);
}

#[test]
fn a_course_of_stages_is_picked_and_its_gaps_are_told() {
    let stages = [
        Stage {
            name: "depth".into(),
            targets: vec![Target {
                name: "dimples".into(),
                depth_mm: Some(Limits::at(1.0)),
                ..Target::default()
            }],
            instruments: vec!["depth-ball-010".into()],
            bar_mm: Some(1.5),
        },
        Stage {
            name: "line".into(),
            targets: vec![Target {
                name: "deep chamfer".into(),
                kind: Some(FinishKind::Chamfer),
                width_mm: Some(Limits::between(1.2, 1.4)),
                ..Target::default()
            }],
            instruments: vec!["taper-rond-016".into(), "wheel-035".into()],
            bar_mm: Some(1.2),
        },
    ];
    let choices = by_stage(&quayside(), &stages);
    assert!(choices[0].lacks.is_empty(), "{:?}", choices[0].lacks);
    // A cylinder of 1.0 mm marks the same depth; the exercise names the ball.
    assert_eq!(choices[0].picks().collect::<Vec<_>>(), [("dimples", Some("depth-ball-010"))]);
    let lacks = &choices[1].lacks;
    assert_eq!((choices[1].picks().next(), lacks.len()), (Some(("deep chamfer", None)), 4), "{lacks:?}");
    assert!(lacks[0].contains("cylinder-round-021: this round end can cut 1.05 mm at most"), "{lacks:?}");
    assert!(lacks[0].contains("taper-round-021: this round end can cut 0.77 mm at most"), "{lacks:?}");
    assert!(
        lacks[1].contains("nearest is `taper-round-016`") && lacks[2].contains("`wheel-035`, but"),
        "{lacks:?}"
    );
    assert!(lacks[3].contains("1.2 mm; the kit has 0.5, 1, 1.5, 2 mm"), "{lacks:?}");
}

#[test]
fn wear_retires_by_uses_or_by_loss() {
    let kit = quayside();
    let instrument = kit.instrument("taper-round-016").unwrap();
    let log = "[[entry]]\ninstrument = \"taper-round-016\"\nuses = 4\non = \"2026-11-02\"\n\n[[entry]]\ninstrument = \"taper-round-016\"\nuses = 3\ndiameter_mm = 1.56\n\n[[entry]]\ninstrument = \"other\"\nuses = 90\n";
    let mut log = log_from_toml(log).unwrap();
    let now = state(instrument, &log);
    assert_eq!((now.uses, now.diameter_mm, now.uses_left), (7, Some(1.56), Some(3)));
    assert!((now.lost_mm.unwrap() - 0.04).abs() < 1e-9 && now.retired.is_empty() && now.doubts.is_empty());
    assert_eq!(strangers(&kit, &log), ["other"]);
    let mut worn = log.clone();
    let own = LogEntry { instrument: instrument.name.clone(), ..LogEntry::default() };
    worn.push(LogEntry { diameter_mm: Some(1.5), ..own.clone() });
    assert!(state(instrument, &worn).retired[0].contains("0.10 mm"), "{:?}", state(instrument, &worn));
    log.push(LogEntry { uses: u32::MAX, diameter_mm: Some(1.8), ..own });
    let spent = state(instrument, &log);
    assert!(
        spent.retired[0].contains("after 10")
            && spent.doubts[0].contains("1.80")
            && spent.uses_left == Some(0)
    );
    // The finisher's own limit of 20 uses replaces the kit's, and its loss stays the kit's.
    let fine = kit.instrument("taper-round-016-fine").unwrap();
    assert_eq!((fine.retire.after_uses, fine.retire.loss_of_diameter_mm), (Some(20), Some(0.1)));
}

#[test]
fn logs_are_the_same_in_both_forms_and_slips_are_told() {
    let toml = log_from_toml("[[entry]]\ninstrument = \"needle-010\"\nuses = 1\n").unwrap();
    let json = log_from_json("{\"entry\": [{\"instrument\": \"needle-010\", \"uses\": 1}]}").unwrap();
    assert_eq!(toml, json);
    let slip = log_from_toml("[[entry]]\ninstrument = \"needle-010\"\nuse = 1\n").unwrap_err().to_string();
    assert!(slip.starts_with("line 3") && slip.contains("use"), "{slip}");
    assert!(log_from_json("[1").is_err());
    let slip = log_from_toml("[[entry]]\ninstrument = \"needle-010\"\ndiameter_mm = -1\n").unwrap_err();
    assert!(slip.to_string().contains("impossible"), "{slip}");
}

/// Worn by 0.08 mm a 1.6 mm round end reaches 0.04 mm less; by 0.1 mm the kit retires it, and it is not picked.
#[test]
fn a_kit_in_hand_goes_by_measured_diameters() {
    let target = Target {
        kind: Some(FinishKind::Chamfer),
        width_mm: Some(Limits::between(0.5, 0.52)),
        ..Target::default()
    };
    let entry = |diameter_mm: f64| LogEntry {
        instrument: "taper-round-016".into(),
        diameter_mm: Some(diameter_mm),
        ..LogEntry::default()
    };
    let fit_with = |log: &[LogEntry]| {
        let fits = suitable(&in_hand(&quayside(), log), &target);
        fit(&fits, "taper-round-016").clone()
    };
    assert!(fit_with(&[]).suits);
    let worn = fit_with(&[entry(1.52)]);
    assert!(!worn.suits && worn.reasons[0].contains("can cut 0.48 mm at most"), "{worn:?}");
    let head = &in_hand(&quayside(), &[entry(1.52)]).instrument("taper-round-016").unwrap().head.clone();
    assert!((head.half_angle_deg() - 2.0).abs() < 1e-9 && (head.length_mm() - 8.0).abs() < 1e-9);
    let little = fit_with(&[entry(1.58)]);
    let told = little.reasons.last().unwrap();
    assert!(
        little.suits && told.contains("measured 1.58 mm, taken as worn evenly along the head"),
        "{little:?}"
    );
    let retired = fit_with(&[entry(1.50)]);
    assert!(!retired.suits && retired.reasons[0].starts_with("it is retired: lost 0.10 mm"), "{retired:?}");
    // Every head of the kit can wear a little, and none changes without a log.
    let kit = quayside();
    assert_eq!(in_hand(&kit, &[]), kit);
    for instrument in &kit.instruments {
        let worn_to =
            |mm| instrument.head.worn_to(&Measured { diameter_mm: Some(mm), tip_diameter_mm: None });
        let worn = worn_to(instrument.head.diameter_mm() - 0.02);
        assert!(worn.is_ok(), "{}: {worn:?}", instrument.name);
        let same = worn_to(instrument.head.diameter_mm()).unwrap();
        assert!(
            (same.tip_diameter_mm() - instrument.head.tip_diameter_mm()).abs() < 1e-9,
            "{}",
            instrument.name
        );
    }
    // Less than its core leaves no head: told, not guessed.
    let gone = in_hand(&kit, &[entry(0.4)]);
    let reasons = &gone.instrument("taper-round-016").unwrap().retired;
    assert!(reasons.iter().any(|reason| reason.contains("leaves no such head")), "{reasons:?}");
}

/// A head of 1.6 mm, 2° and 8 mm whose base still measures 1.6 mm and whose tip lost 0.06 mm tapers more; measured at its tip alone it
/// is taken to have lost as much at its base. By hand: a flat cone's half-angle is the arc tangent of half the difference over the length.
#[test]
fn wear_at_the_tip_alone_changes_the_taper() {
    let kit = quayside();
    let head = &kit.instrument("taper-flat-rounded-016").unwrap().head;
    let nominal_tip_mm = head.tip_diameter_mm();
    let tip_mm = nominal_tip_mm - 0.06;
    let worn = |diameter_mm| head.worn_to(&Measured { diameter_mm, tip_diameter_mm: Some(tip_mm) }).unwrap();
    let uneven = worn(Some(head.diameter_mm()));
    let run_mm = (head.diameter_mm() - nominal_tip_mm) / (2.0 * head.half_angle_deg().to_radians().tan());
    let expected_deg = ((head.diameter_mm() - tip_mm) / (2.0 * run_mm)).atan().to_degrees();
    assert!(
        (uneven.half_angle_deg() - expected_deg).abs() < 0.01,
        "{} {expected_deg}",
        uneven.half_angle_deg()
    );
    let even = worn(None);
    assert!((even.diameter_mm() - (head.diameter_mm() - 0.06)).abs() < 1e-9);
    assert!((even.half_angle_deg() - head.half_angle_deg()).abs() < 1e-9);
    // What has no tip cannot be measured there, and says so.
    let log =
        [LogEntry { instrument: "flame-014-fine".into(), tip_diameter_mm: Some(0.2), ..LogEntry::default() }];
    let retired = in_hand(&kit, &log).instrument("flame-014-fine").unwrap().retired.clone();
    assert!(retired.iter().any(|reason| reason.contains("no tip diameter")), "{retired:?}");
    // A log that says both ends assumes nothing.
    let both = Measured { diameter_mm: Some(1.58), tip_diameter_mm: Some(0.9) };
    assert_eq!((both.assumed(), both.to_string().as_str()), (None, "1.58 mm and 0.90 mm at its tip"));
}

#[test]
fn an_end_does_not_fill_the_gap_beside_its_finish_line() {
    let target = Target {
        kind: Some(FinishKind::Chamfer),
        width_mm: Some(Limits::between(0.5, 0.6)),
        beside_mm: Some(0.6),
        ..Target::default()
    };
    let fits = suitable(&quayside(), &target);
    // Twice 0.77 mm less 0.55 mm.
    assert!(fit(&fits, "taper-round-021").reasons[0].contains("reaches 0.99 mm beyond"), "{fits:?}");
    assert!(fits[0].suits, "{:?}", fits[0]);
}
