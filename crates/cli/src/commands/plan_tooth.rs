//! `kerf plan --before`: lays the target preparation into the scan of a tooth that is not yet cut, tells what it comes to, stage by
//! stage how deep to cut where, and makes an index to check it with.

use std::fmt::Write;
use std::fs;

use anyhow::{Context, bail};
use kerfwright_exercise::Exercise;
use kerfwright_geometry::Surface;
use kerfwright_measure::ScanFile;
use kerfwright_mesh::{write_ply_with, write_stl_binary};
use kerfwright_plan::deviation::{Deviation, deviation};
use kerfwright_plan::forecast::{Forecast, forecast};
use kerfwright_plan::index::{IndexWish, index};
use kerfwright_plan::stages::{StageDepth, plan_of_exercise, stage_depths};
use kerfwright_plan::tools::StageTools;
use kerfwright_plan::{Asked, OnlayPlan, Plan, Targets, Wish, plan};
use kerfwright_registration::{Options, register};
use kerfwright_tooth::{Numbered, Tooth};
use nalgebra::{Point3, Vector3};
use serde_json::{Value, json};

use crate::args;
use crate::commands::exercise::for_tooth;
use crate::commands::measure::{read_all, save};

const CAUTIONS: [&str; 4] = [
    "Teaching and decision support, not a diagnosis: the licensed clinician and local rules decide.",
    "A plan holds for what the scan shows. It knows nothing of the pulp, of decay, of old fillings or of occlusion in motion.",
    "An index is as true as its printer: check its fit on the uncut tooth before relying on it.",
    "Learners' and patients' data are private: pass this on only to those who may see it.",
];

/// A target laid into a tooth, and what is known of it.
struct Laid<'a> {
    arguments: &'a args::Plan,
    exercise: Option<&'a Exercise>,
    before: ScanFile,
    numbered: Numbered,
    plan: Plan,
    told: Forecast,
    stages: Vec<StageDepth>,
    /// What the exercise does not say and the shipped targets did.
    silent: Vec<String>,
    held: Option<(Deviation, Surface)>,
}

/// Plans, foretells, writes, prints. `tools` is what the kit has, to be written with the plan.
pub fn run(
    arguments: &args::Plan,
    exercise: Option<&Exercise>,
    tools: Option<&[StageTools]>,
) -> anyhow::Result<()> {
    let laid = lay(arguments, exercise)?;
    write(&laid, tools)?;
    print!("{}", summary(&laid));
    println!("\nTarget, depths, index and plan are in {}.", arguments.out.display());
    let path = laid.plan.site.frame.occlusal;
    println!(
        "The path, in this scan's frame: {:.4},{:.4},{:.4}. An attempt is held against the target with --after.",
        path.x, path.y, path.z
    );
    Ok(())
}

fn lay<'a>(arguments: &'a args::Plan, exercise: Option<&'a Exercise>) -> anyhow::Result<Laid<'a>> {
    let (Some(tooth), Some(at)) = (&arguments.tooth, arguments.at) else {
        bail!("--before needs --tooth and --at");
    };
    let numbered = kerfwright_tooth::parse(tooth, arguments.system.map(Into::into)).context("--tooth")?;
    let asked = read_targets(arguments, exercise, numbered.tooth)?;
    let paths = [arguments.before.as_ref(), arguments.opposing.as_ref(), arguments.after.as_ref()];
    let [Some(before), opposing, after] = read_all(paths, None)? else { bail!("no scan was read") };
    let wish = Wish {
        tooth: numbered.tooth,
        at: Point3::from(at),
        mesial_point: arguments.mesial_point.map(Point3::from),
    };
    let (plan, stages) = match exercise {
        Some(exercise) => {
            let plan = plan_of_exercise(&before.surface, &wish, exercise, &asked);
            plan.and_then(|plan| Ok((plan, stage_depths(&before.surface, &wish, exercise)?)))
        }
        None => plan(&before.surface, &wish, &asked.targets).map(|plan| (plan, Vec::new())),
    }
    .with_context(|| before.file.clone())?;
    let told = forecast(&before.surface, opposing.as_ref().map(|scan| &scan.surface), &plan)
        .with_context(|| format!("{}: the target after the last stage", before.file))?;
    let held = after.as_ref().map(|after| hold(&before, after, &plan)).transpose()?;
    Ok(Laid { arguments, exercise, before, numbered, plan, told, stages, silent: asked.silent, held })
}

fn read_targets(arguments: &args::Plan, exercise: Option<&Exercise>, tooth: Tooth) -> anyhow::Result<Asked> {
    if let Some(exercise) = exercise {
        for_tooth(exercise, tooth)?;
        return Ok(Targets::of_exercise(exercise, tooth)?);
    }
    let Some(path) = &arguments.targets else {
        return Ok(Asked::of_targets(Targets::shipped(tooth)?));
    };
    let text = fs::read_to_string(path).with_context(|| {
        format!("{}: cannot be read as text; check the name and the rights", path.display())
    })?;
    let targets = Targets::from_toml(&text).with_context(|| path.display().to_string())?;
    Ok(Asked::of_targets(targets))
}

/// An attempt against the target, with the attempt's surface in the frame of the scan before cutting.
fn hold(before: &ScanFile, after: &ScanFile, plan: &Plan) -> anyhow::Result<(Deviation, Surface)> {
    let registration = register(&before.surface, &after.surface, &Options::default())
        .with_context(|| format!("{} against {}", after.file, before.file))?;
    let moved = Surface::new(after.surface.mesh.transformed(&registration.fixed_from_moving));
    Ok((deviation(&moved, plan), moved))
}

fn write(laid: &Laid<'_>, tools: Option<&[StageTools]>) -> anyhow::Result<()> {
    let Laid { arguments, before, plan, .. } = laid;
    let folder = &arguments.out;
    fs::create_dir_all(folder)
        .with_context(|| format!("{}: cannot be made; check the name and the rights", folder.display()))?;
    save(&folder.join("target.stl"), &write_stl_binary(&plan.target))?;
    let depths = |name: &str, depth_mm: &[f64]| {
        save(&folder.join(name), &write_ply_with(&before.surface.mesh, "depth_mm", depth_mm))
    };
    depths("depth.ply", &plan.depth_mm)?;
    for (k, stage) in laid.stages.iter().enumerate() {
        depths(&stage_file(k, stage), &stage.depth_mm)?;
    }
    let wish = IndexWish {
        gap_mm: arguments.index_gap,
        printer_mm: arguments.printer_tolerance,
        wall_mm: arguments.index_wall,
        split: arguments.index_split.into(),
    };
    let parts = index(&before.surface, plan, &wish)?;
    for (k, part) in parts.iter().enumerate() {
        let name = if parts.len() == 1 { "index.stl".to_owned() } else { format!("index-{}.stl", k + 1) };
        save(&folder.join(name), &write_stl_binary(part))?;
    }
    if let Some((deviation, moved)) = &laid.held {
        let values: Vec<f64> = deviation.signed_mm.iter().map(|value| value.unwrap_or(f64::NAN)).collect();
        let name = folder.join("deviation.ply");
        save(&name, &write_ply_with(&moved.mesh, "deviation_mm", &values))?;
    }
    let mut text = serde_json::to_string_pretty(&document(laid, tools))?;
    text.push('\n');
    save(&folder.join("plan.json"), text.as_bytes())
}

fn stage_file(k: usize, stage: &StageDepth) -> String {
    format!("depth-{}-{}.ply", k + 1, stage.stage)
}

fn deepest_mm(depth_mm: &[f64]) -> f64 {
    depth_mm.iter().copied().fold(0.0, f64::max)
}

fn document(laid: &Laid<'_>, tools: Option<&[StageTools]>) -> Value {
    let row = |v: &Vector3<f64>| [v.x, v.y, v.z];
    let plan = &laid.plan;
    let frame = &plan.site.frame;
    let n_stations = if plan.onlay.is_some() { 0 } else { plan.line.points.len() };
    let stations: Vec<Value> = (0..n_stations)
        .map(|k| {
            let point = &plan.line.points[k];
            json!({
                "angle_deg": plan.line.angle_deg[k],
                "point": [point.x, point.y, point.z],
                "above_gingiva_mm": plan.line.above_gingiva_mm[k],
                "gap_mm": plan.line.gap_mm[k],
                "wall_mm": plan.wall_mm[k],
            })
        })
        .collect();
    let stages = laid.stages.iter().enumerate().map(|(k, stage)| {
        json!({
            "stage": stage.stage,
            "title": stage.title,
            "done": stage.done,
            "deepest_mm": deepest_mm(&stage.depth_mm),
            "takes_mm": stage.takes_mm,
            "walls": stage.walls,
            "taken_from_later": stage.taken_from_later,
            "depths": stage_file(k, stage),
        })
    });
    json!({
        "tool": { "name": "kerf", "version": env!("CARGO_PKG_VERSION") },
        "exercise": laid.exercise.map(|exercise| &exercise.name),
        "before": { "file": laid.before.file, "sha256": laid.before.sha256 },
        "tooth": {
            "fdi": laid.numbered.tooth.fdi(),
            "taken_for": laid.numbered.to_string(),
            "mesial_because": plan.site.mesial.because,
        },
        "frame": {
            "origin": [frame.origin.x, frame.origin.y, frame.origin.z],
            "mesial": row(&frame.mesial),
            "facial": row(&frame.facial),
            "occlusal_and_path": row(&frame.occlusal),
        },
        "targets": plan.targets,
        "not_said_by_the_exercise": laid.silent,
        "stages": stages.collect::<Vec<_>>(),
        "instruments": tools,
        "finish_line": stations,
        "onlay": plan.onlay.as_ref().map(onlay),
        "deepest_mm": deepest_mm(&plan.depth_mm),
        "forecast": laid.told,
        "deviation": laid.held.as_ref().map(|(deviation, _)| &deviation.parts),
        "warnings": plan.warnings,
        "cautions": CAUTIONS,
    })
}

/// Where an onlay's channel lies, and its finish line as pairs of points.
fn onlay(onlay: &OnlayPlan) -> Value {
    let at = |point: &Point3<f64>| [point.x, point.y, point.z];
    let row = |v: &Vector3<f64>| [v.x, v.y, v.z];
    json!({
        "channel": onlay.channel.as_ref().map(|channel| json!({
            "isthmus": at(&channel.isthmus),
            "along": row(&channel.along),
            "facially": row(&channel.facially),
            "box_mesial": at(&channel.boxes[0]),
            "box_distal": at(&channel.boxes[1]),
        })),
        "finish_line": onlay.line.iter().map(|pair| pair.map(|point| at(&point))).collect::<Vec<_>>(),
    })
}

/// What a reader wants to know first.
fn summary(laid: &Laid<'_>) -> String {
    let (plan, told) = (&laid.plan, &laid.told);
    let mut out =
        format!("Plan for tooth {}\n  mesial known because {}\n\n", laid.numbered, plan.site.mesial.because);
    // Writing to a string cannot fail.
    // An onlay has no walls all round that would hold it as a crown's do.
    let counts =
        |id: &str| plan.onlay.is_none() || id.starts_with("reduction") || id.starts_with("clearance");
    for (id, words) in SHOWN.into_iter().filter(|(id, _)| counts(id)) {
        if let Some(reading) = told.readings.get(id)
            && let Some(value) = reading.number()
        {
            let _ = writeln!(out, "  {words:52} {value:8.2} {}", reading.unit);
        }
    }
    let words = "deepest cut anywhere, along the shortest way";
    let _ = writeln!(out, "  {words:52} {:8.2} mm", deepest_mm(&plan.depth_mm));
    if let Some(pulp) = &told.over_average_pulp {
        let _ = writeln!(
            out,
            "  {:52} {:8.2} mm (± {:.1} between teeth; not this tooth)",
            "left over a pulp chamber of average depth", pulp.left_mm, pulp.sd_mm
        );
    }
    if !laid.silent.is_empty() {
        let _ = writeln!(
            out,
            "\nNot said by the exercise, so taken from the shipped targets: {}.",
            laid.silent.join("; ")
        );
    }
    by_stage(&mut out, &laid.stages);
    for warning in plan.warnings.iter().chain(&told.warnings) {
        let _ = writeln!(out, "\nWarning: {warning}");
    }
    if let Some((deviation, _)) = &laid.held {
        let _ =
            writeln!(out, "\n{:12} {:>10} {:>10} {:>10}", "attempt, mm", "median", "too deep", "too little");
        for part in &deviation.parts {
            let _ = writeln!(
                out,
                "{:12} {:10.2} {:10.2} {:10.2}",
                part.part, part.median_mm, part.over_cut_mm, part.under_cut_mm
            );
        }
    }
    let _ = writeln!(out);
    for caution in CAUTIONS {
        let _ = writeln!(out, "{caution}");
    }
    out
}

/// How deep the tooth is cut after each stage.
fn by_stage(out: &mut String, stages: &[StageDepth]) {
    if stages.is_empty() {
        return;
    }
    let _ = writeln!(out, "\n{:48} {:>11} {:>11}  depths", "after the stage, mm", "deepest", "this stage");
    for (k, stage) in stages.iter().enumerate() {
        let file = stage_file(k, stage);
        let deepest_mm = deepest_mm(&stage.depth_mm);
        let _ = writeln!(out, "{:48} {deepest_mm:11.2} {:11.2}  {file}", stage.title, stage.takes_mm);
    }
    for stage in stages {
        // Depths of the walls are told of the sides that are cut by then.
        if !stage.walls.is_empty() && stage.walls.len() < 4 {
            let _ = writeln!(
                out,
                "After `{}` only these walls are cut: {}.",
                stage.stage,
                stage.walls.join(", ")
            );
        }
        if !stage.taken_from_later.is_empty() {
            let later = stage.taken_from_later.join(", ");
            let _ = writeln!(
                out,
                "`{}` and the stages before it do not say, so taken from later ones: {later}.",
                stage.stage
            );
        }
    }
}

/// Readings in the summary, with plain words.
const SHOWN: [(&str, &str); 15] = [
    ("wall.height.mesial_mm", "mesial wall, height"),
    ("wall.height.facial_mm", "facial wall, height"),
    ("wall.height.distal_mm", "distal wall, height"),
    ("wall.height.lingual_mm", "lingual wall, height"),
    ("toc.mesiodistal_deg", "convergence from mesial to distal"),
    ("toc.faciolingual_deg", "convergence from facial to lingual"),
    ("ratio.oc_fl", "wall height over faciolingual width"),
    ("resistance.limiting_taper_deg", "limiting taper"),
    ("reduction.occlusal.functional_mm", "reduction over the functional cusps"),
    ("reduction.occlusal.nonfunctional_mm", "reduction over the non-functional cusps"),
    ("reduction.occlusal.groove_mm", "reduction along the groove"),
    ("reduction.points.i_mm", "reduction of the incisal edge"),
    ("reduction.lingual_fossa_mm", "reduction of the lingual fossa"),
    ("clearance.mip_mm", "least clearance, jaws closed"),
    ("reduction.volume_mm3", "volume to be cut"),
];
