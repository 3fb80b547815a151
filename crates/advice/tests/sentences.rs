//! The complete sentences, reading by reading and way by way, in every language, as a person has read them.
//!
//! `tests/sentences/en.txt` and `es.txt` hold them. After a change of rules or texts the test says where it wrote the new ones: read
//! what changed, then put them in place of the old.

mod common;

use std::fmt::Write;
use std::path::PathBuf;

use common::{document, exercise, graded, kit, number, word};
use kerfwright_advice::{Advice, Language, advise};
use kerfwright_exercise::readings;
use kerfwright_grade::Grade;
use kerfwright_measure::Document;
use serde_json::{Value, json};

/// An id, values on both sides of the limits, and the limits.
type Case = (&'static str, [f64; 2], &'static str);

const NUMBERS: &[Case] = &[
    ("reduction.occlusal.functional_mm", [1.3, 2.8], "ideal_mm = [1.8, 2.2]\nacceptable_mm = [1.5, 2.5]"),
    ("reduction.occlusal.groove_mm", [0.8, 2.4], "ideal_mm = [1.3, 1.7]\nacceptable_mm = [1.1, 2.0]"),
    ("reduction.occlusal.marginal_ridge_mm", [0.8, 2.4], "ideal_mm = [1.3, 1.7]\nacceptable_mm = [1.1, 2.0]"),
    ("reduction.points.ml_mm", [1.3, 2.8], "ideal_mm = [1.8, 2.2]\nacceptable_mm = [1.5, 2.5]"),
    ("reduction.incisal_mm", [1.4, 2.9], "ideal_mm = [1.8, 2.2]\nacceptable_mm = [1.6, 2.5]"),
    ("reduction.lingual_fossa_mm", [0.4, 1.4], "ideal_mm = [0.7, 1.0]\nacceptable_mm = [0.6, 1.2]"),
    ("reduction.axial.facial.occlusal_mm", [0.8, 2.3], "ideal_mm = [1.2, 1.7]\nacceptable_mm = [1.0, 2.0]"),
    ("reduction.axial.lingual.middle_mm", [0.3, 1.5], "ideal_mm = [0.5, 0.8]\nacceptable_mm = [0.4, 1.2]"),
    ("reduction.axial.mesial.gingival_mm", [0.3, 1.5], "ideal_mm = [0.5, 0.8]\nacceptable_mm = [0.4, 1.2]"),
    ("reduction.volume_mm3", [80.0, 190.0], "ideal_mm3 = [110, 150]\nacceptable_mm3 = [100, 170]"),
    ("clearance.mip_mm", [1.0, 2.6], "ideal_mm = [1.5, 2.0]\nacceptable_mm = [1.3, 2.2]"),
    (
        "clearance.excursion.laterotrusion_left_mm",
        [0.6, 2.6],
        "ideal_mm = [1.5, 2.0]\nacceptable_mm = [1.0, 2.2]",
    ),
    ("space.monolithic_zirconia_mm", [0.4, 2.6], "ideal_mm = [1.0, 1.5]\nacceptable_mm = [0.7, 2.0]"),
    ("taper.distal_deg", [-1.0, 15.0], "ideal_deg = [3, 10]\nacceptable_deg = [2, 12]"),
    ("taper.mesiolingual_deg", [-2.0, 15.0], "ideal_deg = [8, 10]\nacceptable_deg = [2, 12]"),
    ("toc.mesiodistal_deg", [4.0, 26.0], "ideal_deg = [10, 20]\nacceptable_deg = [6, 22]"),
    ("path.tilt_deg", [1.0, 9.0], "ideal_deg = [3, 5]\nacceptable_deg = [2, 7]"),
    ("undercut.depth_mm", [0.0, 0.22], "ideal_mm = [0.03, 0.05]\nacceptable_mm = [0.02, 0.1]"),
    ("undercut.area_mm2", [0.0, 2.4], "ideal_mm2 = [0.3, 0.5]\nacceptable_mm2 = [0.2, 1]"),
    ("wall.height.lingual_mm", [2.4, 7.1], "ideal_mm = [4, 6]\nacceptable_mm = [3, 6.5]"),
    ("ratio.oc_fl", [0.31, 0.9], "ideal = [0.4, 0.7]\nacceptable = [0.4, 0.8]"),
    ("facial.planes", [1.0, 3.0], "ideal = [2, 2]"),
    ("facial.second_plane_deg", [2.0, 25.0], "ideal_deg = [8, 16]\nacceptable_deg = [5, 20]"),
    ("resistance.resisting_pct.distal", [12.0, 90.0], "ideal_pct = [40, 70]\nacceptable_pct = [30, 80]"),
    ("resistance.limiting_taper_deg", [6.0, 40.0], "ideal_deg = [12, 20]\nacceptable_deg = [10, 30]"),
    ("retention.axial_area_mm2", [60.0, 160.0], "ideal_mm2 = [90, 120]\nacceptable_mm2 = [80, 130]"),
    ("finish_line.width.facial_mm", [0.5, 1.9], "ideal_mm = [1.0, 1.4]\nacceptable_mm = [0.9, 1.6]"),
    ("finish_line.width.lingual_mm", [0.2, 1.2], "ideal_mm = [0.5, 0.7]\nacceptable_mm = [0.4, 1.0]"),
    ("finish_line.declination.facial_deg", [2.0, 50.0], "ideal_deg = [15, 30]\nacceptable_deg = [10, 40]"),
    (
        "finish_line.cavosurface.lingual_deg",
        [70.0, 150.0],
        "ideal_deg = [90, 120]\nacceptable_deg = [85, 130]",
    ),
    (
        "finish_line.internal_radius.facial_mm",
        [0.05, 0.9],
        "ideal_mm = [0.25, 0.5]\nacceptable_mm = [0.2, 0.7]",
    ),
    ("finish_line.lip_mm", [0.0, 0.18], "ideal_mm = [0.03, 0.05]\nacceptable_mm = [0.02, 0.1]"),
    ("finish_line.above_gingiva.facial_mm", [-0.4, 1.6], "ideal_mm = [0.3, 0.8]\nacceptable_mm = [0.1, 1.2]"),
    ("finish_line.shoulder_from_deg", [5.0, 60.0], "ideal_deg = [20, 40]\nacceptable_deg = [15, 45]"),
    ("finish_line.shoulder_to_deg", [105.0, 170.0], "ideal_deg = [130, 150]\nacceptable_deg = [125, 155]"),
    ("finish_line.roughness_um", [2.0, 70.0], "ideal_um = [10, 20]\nacceptable_um = [5, 40]"),
    ("finish_line.steps", [0.0, 4.0], "ideal = [1, 1]\nacceptable = [1, 2]"),
    ("finish_line.neighbour.distal_mm", [0.35, 1.6], "ideal_mm = [0.6, 1.0]\nacceptable_mm = [0.5, 1.2]"),
    (
        "occlusal.incline.functional_outer_deg",
        [20.0, 60.0],
        "ideal_deg = [35, 45]\nacceptable_deg = [30, 50]",
    ),
    ("occlusal.incline.parallel_deg", [0.5, 22.0], "ideal_deg = [2, 8]\nacceptable_deg = [1, 12]"),
    ("occlusal.cusp_line_mm", [-0.9, 0.8], "ideal_mm = [-0.3, 0.3]\nacceptable_mm = [-0.5, 0.5]"),
    ("edge.sharp_pct", [2.0, 55.0], "ideal_pct = [5, 10]\nacceptable_pct = [4, 30]"),
    ("edge.least_radius_mm", [0.06, 0.8], "ideal_mm = [0.25, 0.5]\nacceptable_mm = [0.2, 0.6]"),
    ("surface.roughness_um", [2.0, 60.0], "ideal_um = [10, 20]\nacceptable_um = [5, 40]"),
    ("surface.steps", [0.0, 3.0], "ideal = [1, 1]\nacceptable = [1, 2]"),
    ("isthmus.width_mm", [0.8, 2.9], "ideal_mm = [1.2, 1.8]\nacceptable_mm = [1.0, 2.3]"),
    ("isthmus.depth_mm", [1.2, 3.4], "ideal_mm = [1.8, 2.6]\nacceptable_mm = [1.5, 3.0]"),
    ("isthmus.divergence_deg", [0.5, 17.0], "ideal_deg = [3, 8]\nacceptable_deg = [1, 12]"),
    ("isthmus.divergence_deg", [-4.0, 14.0], "ideal_deg = [3, 8]\nacceptable_deg = [1, 12]"),
    ("box.mesial.width_mm", [2.1, 5.6], "ideal_mm = [3.0, 4.0]\nacceptable_mm = [2.5, 5.0]"),
    ("box.distal.depth_mm", [0.7, 2.6], "ideal_mm = [1.2, 1.8]\nacceptable_mm = [1.0, 2.2]"),
    ("box.mesial.height_mm", [0.2, 3.2], "ideal_mm = [1.0, 2.0]\nacceptable_mm = [0.5, 2.5]"),
    ("box.distal.divergence_deg", [0.5, 17.0], "ideal_deg = [3, 8]\nacceptable_deg = [1, 12]"),
    ("box.mesial.divergence_deg", [-4.0, 14.0], "ideal_deg = [3, 8]\nacceptable_deg = [1, 12]"),
    ("neighbour.mesial.depth_mm", [0.0, 0.3], "ideal_mm = [0.03, 0.05]\nacceptable_mm = [0.02, 0.15]"),
    ("neighbour.distal.area_mm2", [0.0, 2.3], "ideal_mm2 = [0.2, 0.5]\nacceptable_mm2 = [0.1, 1]"),
    ("abutments.parallel_deg", [0.2, 9.0], "ideal_deg = [1, 3]\nacceptable_deg = [0.5, 5]"),
    ("abutments.common_path_undercut_mm2", [0.0, 1.8], "ideal_mm2 = [0.2, 0.4]\nacceptable_mm2 = [0.1, 0.5]"),
    ("registration.residual_um", [2.0, 40.0], "ideal_um = [5, 15]\nacceptable_um = [4, 25]"),
    ("scan.noise_um", [1.0, 40.0], "ideal_um = [3, 15]\nacceptable_um = [2, 25]"),
    ("scan.edge_mm", [0.01, 0.4], "ideal_mm = [0.05, 0.15]\nacceptable_mm = [0.04, 0.2]"),
    ("scan.void_pct", [0.0, 8.0], "ideal_pct = [1, 2]\nacceptable_pct = [1, 4]"),
];

/// An id, a word, and the words asked for.
const WORDS: &[(&str, &str, &str)] = &[
    ("path.tilt_toward", "lingual", "ideal_words = [\"mesial\"]"),
    ("path.blocked_by", "distal neighbour", "ideal_words = [\"none\"]"),
    ("undercut.where", "mesiolingual", "ideal_words = [\"none\"]"),
    ("finish_line.kind.facial", "chamfer", "ideal_words = [\"shoulder\"]"),
    ("finish_line.kind.lingual", "knife edge", "ideal_words = [\"chamfer\", \"deep chamfer\"]"),
    ("finish_line.kind.lingual", "shoulder", "ideal_words = [\"chamfer\"]"),
    ("finish_line.lip_where", "lingual", "ideal_words = [\"none\"]"),
    ("edge.where", "distofacial", "ideal_words = [\"mesial\"]"),
];

fn fdi(id: &str) -> u8 {
    match id {
        "reduction.incisal_mm" | "reduction.lingual_fossa_mm" => 21,
        "occlusal.cusp_line_mm" | "wall.height.lingual_mm" => 35,
        _ => 26,
    }
}

/// A place within the aspect that the id names, 3 mm over the finish line for what is not on it.
fn place(id: &str) -> ([f64; 3], &str) {
    let aspect = id.split(['.', '_']).find(|piece| readings::ASPECTS.contains(piece)).unwrap_or("lingual");
    let at = readings::ASPECTS.iter().position(|known| *known == aspect).unwrap_or(0);
    let (sine, cosine) = (45.0 * at as f64 + 10.0).to_radians().sin_cos();
    let height_mm = if id.starts_with("finish_line") { 0.0 } else { 3.0 };
    ([4.0 * cosine, 4.0 * sine, height_mm], aspect)
}

fn one(grade: &Grade, document: &Document, language: Language) -> Advice {
    // Without a kit and without the measurement the sentence is another one, and must be as clean.
    let (kit, bare) = (kit(), kit().only(&[]));
    for (document, kit) in [(Some(document), Some(&bare)), (Some(document), None), (None, None)] {
        advise(grade, document, kit, language).iter().for_each(|advice| is_clean(&advice.sentence));
    }
    let mut advice = advise(grade, Some(document), Some(&kit), language);
    assert_eq!(advice.len(), 1, "{advice:#?}");
    advice.remove(0)
}

/// One sentence, with nothing left over from filling in.
fn is_clean(sentence: &str) {
    let ends = sentence.matches(". ").count() + usize::from(sentence.ends_with('.'));
    assert_eq!(ends, 1, "{sentence}");
    for leftover in ["  ", ",,", " ,", ",:", ",.", " :", "..", "[", "]", "{", "}", " de el ", " a el ", "( "]
    {
        assert!(!sentence.contains(leftover), "{leftover:?} in: {sentence}");
    }
    assert!(
        sentence.chars().next().is_some_and(|first| first.is_uppercase() || first.is_numeric()),
        "{sentence}"
    );
    assert!(!sentence.starts_with("Title"), "no words of its own: {sentence}");
}

fn line(id: &str, advice: &Advice) -> String {
    let kind =
        advice.kind.map_or("–".to_owned(), |kind| json!(kind).as_str().unwrap_or_default().to_owned());
    let urgency = json!(advice.urgency);
    let mend = if advice.can_be_mended { "can be mended" } else { "beyond recall" };
    let with = advice.instrument.as_ref().map_or(String::new(), |tool| format!(", {}", tool.id));
    format!("{id}, {kind}, {}, {mend}{with}\n  {}\n", urgency.as_str().unwrap_or_default(), advice.sentence)
}

/// What a divergence has beside it: each wall's lean, one of them the least.
fn lean_walls(document: &mut kerfwright_measure::Document, id: &str) {
    let Some(reading) = document.readings.get_mut(id).filter(|_| id.ends_with(".divergence_deg")) else {
        return;
    };
    let mean_deg = reading.number().unwrap();
    let walls = [("facial", 2.0), ("lingual", -2.0), ("axial", -3.0), ("least", -3.0), ("greatest", 2.0)];
    let walls = walls.into_iter().filter(|(wall, _)| id.starts_with("box.") || *wall != "axial");
    for (wall, more_deg) in walls {
        let more_deg = if wall == "least" && !id.starts_with("box.") { -2.0 } else { more_deg };
        reading.extras.insert(wall.into(), kerfwright_measure::document::Value::Number(mean_deg + more_deg));
    }
}

fn number_value(id: &str, value: f64, limits: &str) -> Value {
    let unit = readings::find(id).map_or("", |(row, _)| row.unit());
    // The uncertainty is far below every distance to a limit here.
    assert!(limits.contains("ideal"));
    number(value, unit, 0.002, Some(place(id)))
}

fn all(language: Language) -> String {
    let mut out = String::new();
    for (id, values, limits) in NUMBERS {
        for value in values {
            let (grade, mut document) = graded(fdi(id), id, number_value(id, *value, limits), limits);
            // What a sentence may take from other readings.
            let tapers = json!({ "taper.mesial_deg": number(3.0, "deg", 0.1, None), "taper.distal_deg": number(1.0, "deg", 0.1, None),
                                 "path.tilt_toward": word("facial") });
            let more: std::collections::BTreeMap<_, _> = serde_json::from_value(tapers).unwrap();
            document.readings.extend(more);
            lean_walls(&mut document, id);
            let _ = write!(out, "{}", line(id, &one(&grade, &document, language)));
        }
    }
    for (id, found, limits) in WORDS {
        let (grade, document) = graded(fdi(id), id, word(found), limits);
        let _ = write!(out, "{}", line(id, &one(&grade, &document, language)));
    }
    out.push_str(&forms(language));
    out
}

/// Acceptable and not ideal, hardly off ideal, too close to call with and without a bar, not measured, too early, lost ahead.
fn forms(language: Language) -> String {
    let mut out = String::new();
    let width = "ideal_mm = [0.5, 0.7]\nacceptable_mm = [0.4, 1.0]";
    let gap = "ideal_mm = { from = 0.6 }\nacceptable_mm = { from = 0.5 }";
    let id = "finish_line.width.lingual_mm";
    for (id, value, u95, limits) in [
        (id, 0.45, 0.02, width),
        (id, 0.85, 0.02, width),
        (id, 0.495, 0.02, width),
        (id, 0.41, 0.02, width),
        ("finish_line.neighbour.mesial_mm", 0.49, 0.03, gap),
        ("wall.height.facial_mm", 3.5, 0.1, "ideal_mm = { from = 4 }\nacceptable_mm = { from = 3 }"),
        ("undercut.depth_mm", 0.1, 0.02, "acceptable_mm = { to = 0.1 }\ncritical = \"above\""),
    ] {
        let (grade, document) =
            graded(26, id, number(value, id.rsplit('_').next().unwrap(), u95, None), limits);
        let _ = write!(out, "{}", line(id, &one(&grade, &document, language)));
    }
    let kind = "ideal_words = [\"shoulder\"]\nacceptable_words = [\"shoulder\", \"deep chamfer\"]";
    let (grade, document) = graded(26, "finish_line.kind.facial", word("deep chamfer"), kind);
    let _ = write!(out, "{}", line("finish_line.kind.facial", &one(&grade, &document, language)));
    out.push_str(&stages(language));
    out.push_str(&refused(language));
    out
}

fn stages(language: Language) -> String {
    let mut out = String::new();
    let two = |early: &str, last: &str| {
        exercise(&format!("{early}\n[[stage]]\nid = \"last\"\ntitle = \"Last\"\n\n{last}"))
    };
    let cusps = |limits: &str| common::criterion("reduction.occlusal.functional_mm", limits);
    let early = cusps("ideal_mm = [1.4, 1.8]\nacceptable_mm = [1.2, 2.0]");
    let last = cusps("ideal_mm = [1.8, 2.2]\nacceptable_mm = [1.5, 2.5]");
    let damage = common::criterion("neighbour.mesial.depth_mm", "acceptable_mm = { to = 0.15 }");
    for (exercise, id, value) in [
        (two(&early, &last), "reduction.occlusal.functional_mm", 2.3),
        (two(&early, &damage), "neighbour.mesial.depth_mm", 0.3),
    ] {
        let mut readings = json!({ "reduction.occlusal.functional_mm": number(1.6, "mm", 0.02, None) });
        readings[id] = number(value, "mm", 0.02, None);
        let document = document(26, readings);
        let grade = kerfwright_grade::grade(&document, &exercise, Some("final")).unwrap();
        let _ = write!(out, "{}", line(id, &one(&grade, &document, language)));
    }
    out
}

/// Each cause, with two places.
fn refused(language: Language) -> String {
    let mut out = String::new();
    for cause in &kerfwright_advice::rules::rules().cause {
        let mut document = document(26, json!({}));
        for aspect in ["mesial", "lingual"] {
            document.refused.insert(format!("taper.{aspect}_deg"), cause.has[0].clone());
        }
        let criterion =
            common::criterion("taper.*_deg", "places = [\"mesial\", \"lingual\"]\nideal_deg = [3, 10]");
        let grade = kerfwright_grade::grade(&document, &exercise(&criterion), None).unwrap();
        let _ = write!(out, "{}", line(&cause.text, &one(&grade, &document, language)));
    }
    out
}

fn kept(language: Language) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join(format!("tests/sentences/{}.txt", language.code()))
}

#[test]
fn sentences_are_those_that_were_read() {
    let mut changed = Vec::new();
    for language in Language::ALL {
        let kept = std::fs::read_to_string(kept(language)).unwrap_or_default();
        let found = all(language);
        if found != kept {
            let written = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join(format!("{}.txt", language.code()));
            std::fs::write(&written, &found).unwrap();
            let first = found.lines().zip(kept.lines()).find(|(found, kept)| found != kept);
            changed.push(format!("{first:#?}\nall of it is in {}", written.display()));
        }
    }
    assert!(changed.is_empty(), "{}", changed.join("\n"));
}
