//! Writes the three scans of a phantom and its truth.
//!
//!     cargo run --release -p kerfwright-phantom --example write_case -- FOLDER FDI SEED [PRESET ...] [edge=MM] [noise=MM]
//!
//! Presets of the preparation: `plain` (default), `shoulder`, `faults`, `tilt`, `undercut`, `knife`, `demo`,
//! `subgingival` (facial finish line hidden by the gum), `grooves` (two proximal grooves), `box` (a distal box),
//! `threequarter` (facial surface kept), `onlay` (functional cusps covered); flaws of a hand, one at a time:
//! `part-shoulder` (with wings), `lip`, `ledge`, `line-step`, `line-wave`, `rough`, `edges` (a radius for each aspect);
//! and `flaws`, all of them in one tooth. A plain tooth scanned badly: `degraded`, `smoothed`, `stitched`, `uneven`
//! (triangles saved on flat places), `losses` (ragged border, blind contacts, holes, debris). Presets of the arch, to be
//! added to them: `sextant`, `quadrant`, `full` (both sides), `die`, `nogingiva`, `remount` (put back 0.1 mm and 1° off),
//! `bridge` (the next but one tooth distally is prepared too, the one between is missing).

use std::path::Path;

use kerfwright_mesh::Mesh;
use kerfwright_phantom::{
    ByAspect, Coverage, CutForm, Extent, Fdi, Finish, Flaws, Ledge, LineStep, Lip, OcclusalReduction, Onlay,
    PartShoulder, Phantom, Remount, Ripple, Run, ScanOptions, SecondPlane, Spec, Spread, Stretch, Tilt,
    WallCut, quayside_demo, quayside_scan,
};
use serde_json::{Value, json};

type Failure = Box<dyn std::error::Error>;

fn main() -> Result<(), Failure> {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let [folder, fdi, seed, rest @ ..] = args.as_slice() else {
        return Err("give FOLDER FDI SEED [PRESET] [edge=MM] [noise=MM]".into());
    };
    let words: Vec<&str> = rest.iter().map(String::as_str).filter(|a| !a.contains('=')).collect();
    let preset = words.iter().copied().find(|word| !ARCHES.contains(word)).unwrap_or("plain");
    let phantom = phantom(fdi.parse()?, preset, &words)?;
    let mut options = ScanOptions { seed: seed.parse()?, ..options(preset) };
    for (key, value) in rest.iter().filter_map(|a| a.split_once('=')) {
        match key {
            "edge" => options.edge_mm = value.parse()?,
            "noise" => options.noise_mm = value.parse()?,
            _ => return Err(format!("no option {key}").into()),
        }
    }
    write(Path::new(folder), &phantom, &options)
}

const ARCHES: [&str; 7] = ["sextant", "quadrant", "full", "die", "nogingiva", "remount", "bridge"];

fn phantom(fdi: u8, preset: &str, words: &[&str]) -> Result<Phantom, Failure> {
    let plain = if fdi % 10 < 4 { Spec::front(fdi) } else { Spec { fdi, ..Spec::default() } };
    let spec = match preset {
        "plain" | "degraded" | "smoothed" | "stitched" | "uneven" | "losses" => plain,
        "demo" => return Ok(quayside_demo()),
        "shoulder" => Spec {
            taper_deg: ByAspect::all(7.0),
            width_mm: ByAspect::all(1.0),
            finish: ByAspect::all(Finish::SHOULDER),
            occlusal: OcclusalReduction { functional_mm: 1.8, nonfunctional_mm: 1.5, groove_mm: 1.5 },
            second_plane: Some(SecondPlane { angle_deg: 12.0, break_mm: 2.2 }),
            ..plain
        },
        "faults" => Spec {
            taper_deg: ByAspect { mesial: 4.0, facial: 8.0, distal: 15.0, lingual: 3.0 },
            width_mm: ByAspect { mesial: 0.5, facial: 1.1, distal: 0.7, lingual: 0.4 },
            finish: ByAspect { facial: Finish::SHOULDER, ..ByAspect::all(Finish::CHAMFER) },
            above_gingiva_mm: ByAspect { mesial: 0.3, facial: 0.1, distal: 0.7, lingual: 0.9 },
            nick_mesial_mm: 0.18,
            line_angle_radius_mm: 0.0,
            ..plain
        },
        "tilt" => Spec { tilt: Some(Tilt { angle_deg: 7.0, toward_deg: 20.0 }), ..plain },
        "undercut" => {
            Spec { taper_deg: ByAspect { mesial: -4.0, distal: 1.0, ..ByAspect::all(6.0) }, ..plain }
        }
        "knife" => Spec {
            finish: ByAspect { lingual: Finish::KnifeEdge, ..ByAspect::all(Finish::CHAMFER) },
            width_mm: ByAspect { lingual: 0.0, ..ByAspect::all(0.6) },
            ..plain
        },
        "grooves" => Spec {
            wall_cuts: [0.0, 180.0].map(|at| wall_cut(CutForm::Groove, at, 1.0, 0.6)).to_vec(),
            ..plain
        },
        "box" => Spec { wall_cuts: vec![wall_cut(CutForm::Box, 180.0, 3.0, 1.2)], ..plain },
        "threequarter" => Spec {
            coverage: Coverage::ThreeQuarter { facial_from_mm: 0.27 * plain_size(fdi)? },
            wall_cuts: [20.0, 160.0].map(|at| wall_cut(CutForm::Groove, at, 1.0, 0.6)).to_vec(),
            ..plain
        },
        "top" => Spec { coverage: Coverage::TopAlone, ..plain },
        "onlay" => Spec { coverage: Coverage::Onlay(Onlay::default()), ..plain },
        "subgingival" => Spec { above_gingiva_mm: ByAspect { facial: -0.5, ..ByAspect::all(0.4) }, ..plain },
        "edges" => Spec {
            line_angle_radii_mm: Some(ByAspect { mesial: 0.1, facial: 0.5, distal: 0.0, lingual: 0.3 }),
            ..plain
        },
        _ => Spec { flaws: flaws(preset)?, width_mm: ByAspect::all(0.7), ..plain },
    };
    Ok(Phantom::try_new(&words.iter().fold(spec, |spec, word| in_arch(spec, word)))?)
}

/// Faciolingual diameter of the tooth, mm.
fn plain_size(fdi: u8) -> Result<f64, Failure> {
    Ok(Fdi::new(fdi).ok_or("no such tooth")?.size().fl_mm)
}

fn wall_cut(form: CutForm, azimuth_deg: f64, width_mm: f64, depth_mm: f64) -> WallCut {
    WallCut { form, azimuth_deg, width_mm, depth_mm, taper_deg: 3.0, floor_mm: 0.7 }
}

fn in_arch(spec: Spec, word: &str) -> Spec {
    match word {
        "sextant" => spec.in_sextant(),
        "quadrant" => spec.in_quadrant(),
        "full" => spec.in_full_arch(),
        "die" => spec.as_die(),
        "nogingiva" => Spec { extent: Extent::WithoutGingiva, ..spec },
        "remount" => {
            let remount =
                Remount { shift_mm: [0.06, -0.05, 0.06], tilt_deg: 1.0, toward_deg: 120.0, turn_deg: 0.5 };
            Spec { remount: Some(remount), ..spec }
        }
        "bridge" => Spec {
            missing: vec![spec.fdi + 1],
            abutments: vec![Spec {
                fdi: spec.fdi + 2,
                tilt: Some(Tilt { angle_deg: 6.0, toward_deg: 0.0 }),
                ..spec.clone()
            }],
            teeth_distally: spec.teeth_distally.max(2),
            ..spec
        },
        _ => spec,
    }
}

/// Flaws with sizes that one would meet, the larger ones.
fn flaws(preset: &str) -> Result<Flaws, Failure> {
    let all = Flaws {
        shoulder: Some(PartShoulder {
            stretch: Stretch::new(25.0, 155.0),
            width_mm: 1.2,
            internal_radius_mm: 0.2,
            end_deg: 4.0,
        }),
        lip: Some(Lip { stretch: Stretch::new(165.0, 215.0), height_mm: 0.1 }),
        ledge: Some(Ledge { stretch: Stretch::new(230.0, 310.0), height_mm: 1.8, depth_mm: 0.2 }),
        line_step: Some(LineStep { stretch: Stretch::new(335.0, 375.0), height_mm: 0.3, width_mm: 0.0 }),
        line_wave: Some(Ripple {
            stretch: Stretch::new(225.0, 320.0),
            amplitude_mm: 0.08,
            wavelength_mm: 2.0,
        }),
        rough_wall: Some(Ripple { stretch: Stretch::ALL_ROUND, amplitude_mm: 0.02, wavelength_mm: 0.9 }),
    };
    let none = Flaws::default();
    Ok(match preset {
        "part-shoulder" => Flaws { shoulder: all.shoulder, ..none },
        "lip" => Flaws { lip: all.lip, ..none },
        "ledge" => Flaws { ledge: all.ledge, ..none },
        "line-step" => Flaws { line_step: all.line_step, ..none },
        "line-wave" => Flaws { line_wave: all.line_wave, ..none },
        "rough" => Flaws { rough_wall: all.rough_wall, ..none },
        "flaws" => all,
        _ => return Err(format!("no preset {preset}").into()),
    })
}

fn options(preset: &str) -> ScanOptions {
    match preset {
        "demo" => quayside_scan(),
        "degraded" => ScanOptions {
            smooth_noise_mm: 0.006,
            warp_mm: 0.01,
            edge_smoothing: 2,
            spike_share: 2e-4,
            holes: 4,
            debris: 4,
            ..ScanOptions::default()
        },
        "smoothed" => ScanOptions { edge_smoothing: 3, ..ScanOptions::default() },
        "stitched" => ScanOptions { warp_mm: 0.04, warp_length_mm: [40.0, 120.0], ..ScanOptions::default() },
        "uneven" => ScanOptions { saved_share: 0.6, edge_mm: 0.1, ..ScanOptions::default() },
        "losses" => ScanOptions {
            ragged_border_mm: 2.5,
            blind_gap_mm: 0.6,
            holes: 4,
            debris: 4,
            ..ScanOptions::default()
        },
        _ => ScanOptions::default(),
    }
}

fn write(folder: &Path, phantom: &Phantom, options: &ScanOptions) -> Result<(), Failure> {
    std::fs::create_dir_all(folder)?;
    let scans = phantom.scan(options);
    for (name, mesh) in [("before", &scans.before), ("after", &scans.after), ("opposing", &scans.opposing)] {
        std::fs::write(folder.join(format!("{name}.stl")), stl(mesh))?;
    }
    let (spec, truth) = (phantom.spec(), phantom.truth());
    let rows = |m: &nalgebra::Matrix4<f64>| {
        (0..4).map(|i| (0..4).map(|j| m[(i, j)]).collect::<Vec<_>>()).collect::<Vec<_>>()
    };
    let nick =
        (truth.nick_mm[0] > 0.0).then(|| json!({ "depth": truth.nick_mm[0], "tooth": "mesial neighbour" }));
    let document = json!({
        "case": spec.fdi.to_string(),
        "fdi": spec.fdi,
        "spec": spec_json(spec),
        "margin": truth.finish_line,
        "outline": truth.outline,
        "wall_cuts": truth.wall_cuts,
        "margin_hidden": truth.finish_line_hidden,
        "nick": nick,
        "reduction_per_aspect": {},
        "occlusal_reduction": {
            "all": spread(&truth.occlusal.all),
            "functional": spread(&truth.occlusal.functional),
            "nonfunctional": spread(&truth.occlusal.nonfunctional),
            "groove": spread(&truth.occlusal.groove),
            "marginal_ridge": spread(&truth.occlusal.marginal_ridge),
            "incisal": spread(&truth.occlusal.incisal),
            "fossa": spread(&truth.occlusal.fossa),
            "incisal_height": truth.occlusal.incisal_height_mm,
        },
        "clearance_mip": spread(&truth.clearance_mip),
        "margin_to_neighbour": { "mesial": truth.neighbour_mm[0], "distal": truth.neighbour_mm[1] },
        "removed_volume_mm3": truth.removed_mm3,
        "toc": {
            "mesiodistal": truth.along_path.toc_mesiodistal_deg,
            "faciolingual": truth.along_path.toc_faciolingual_deg,
        },
        "triangles": {
            "before": scans.before.triangles.len(),
            "after": scans.after.triangles.len(),
            "opposing": scans.opposing.triangles.len(),
        },
        "frame_before": rows(&scans.before_from_tooth),
        "frame_after": rows(&scans.after_from_tooth),
        "frame_after_prepared": rows(&scans.after_from_prepared),
        "noise_mm": options.noise_mm,
        "edge_mm": options.edge_mm,
        "more": more(phantom),
        "bridge": bridge(phantom),
    });
    std::fs::write(folder.join("truth.json"), serde_json::to_string_pretty(&document)?)?;
    Ok(())
}

fn spec_json(spec: &Spec) -> Value {
    let width = ByAspect::from_around(std::array::from_fn(|i| {
        let knife = spec.finish.around()[i] == Finish::KnifeEdge;
        if knife { 0.0 } else { spec.width_mm.around()[i] }
    }));
    json!({
        "fdi": spec.fdi,
        "occl_f": spec.occlusal.functional_mm,
        "occl_n": spec.occlusal.nonfunctional_mm,
        "incisal": spec.incisal.incisal_mm,
        "fossa": spec.incisal.fossa_mm,
        "bevel": spec.bevel_deg,
        "plane2": spec.second_plane.map_or(0.0, |p| p.angle_deg),
        "taper": by_aspect(&spec.taper_deg),
        "width": by_aspect(&width),
        "finish": by_aspect(&spec.finish.map(|f| f.name())),
        "above": by_aspect(&spec.above_gingiva_mm),
        "nick": spec.nick_mesial_mm,
        "tilt": spec.tilt.map(|t| [t.angle_deg, t.toward_deg]),
    })
}

/// Readings that the common layout has no place for.
fn more(phantom: &Phantom) -> Value {
    let truth = phantom.truth();
    let walls = |w: &kerfwright_phantom::Walls| {
        json!({
            "taper": by_aspect(&w.taper_deg),
            "width": by_aspect(&w.width_mm),
            "declination": by_aspect(&w.declination_deg),
            "height": by_aspect(&w.height_mm),
            "undercut": {
                "area_mm2": w.undercut.area_mm2,
                "shadow_mm2": w.undercut.shadow_mm2,
                "depth_mm": w.undercut.depth_mm,
            },
        })
    };
    json!({
        "path": truth.path,
        "path_tilt_deg": truth.path_tilt_deg,
        "path_toward_deg": truth.path_toward_deg,
        "along_path": walls(&truth.along_path),
        "along_axis": walls(&truth.along_axis),
        "cavosurface_deg": by_aspect(&truth.cavosurface_deg),
        "internal_radius_mm": by_aspect(&truth.internal_radius_mm),
        "lip_mm": by_aspect(&truth.lip_mm),
        "points_mm": truth.points_mm.iter().cloned().collect::<std::collections::BTreeMap<_, _>>(),
        "axial_mm": by_aspect(&truth.axial_mm),
        "edge_radius_mm": by_aspect(&truth.edge_radius_mm),
        "second_plane": truth.second_plane.map(|p| [p.angle_deg, p.break_mm]),
        "axial_area_mm2": truth.axial_area_mm2,
        "crown_pct": truth.crown_pct,
        "inclines_deg": {
            "functional_outer": truth.inclines.functional_outer_deg,
            "functional_inner": truth.inclines.functional_inner_deg,
            "nonfunctional_inner": truth.inclines.nonfunctional_inner_deg,
        },
        "flaws": flaws_json(phantom),
        "oc_fl": truth.oc_fl,
        "crown_mm3": truth.crown_mm3,
        "nick_mm": truth.nick_mm,
        "gingiva_line": truth.gingiva_line,
    })
}

fn flaws_json(phantom: &Phantom) -> Value {
    let flaws = &phantom.truth().flaws;
    let run = |r: &Run| json!({ "from_deg": r.from_deg, "to_deg": r.to_deg, "from": r.from, "to": r.to });
    let ripple = |r: &kerfwright_phantom::RippleTruth| {
        json!({
            "run": run(&r.run),
            "amplitude_mm": r.amplitude_mm,
            "rms_mm": r.rms_mm,
            "wavelength_mm": r.wavelength_mm,
        })
    };
    let lips = flaws
        .lips
        .iter()
        .map(|l| json!({ "run": run(&l.run), "height_mm": l.height_mm, "highest": l.highest }));
    let jumps = flaws.jumps.iter().map(|j| {
        json!({
            "azimuth_deg": j.azimuth_deg,
            "at": j.at,
            "height_mm": j.height_mm,
            "width_mm": j.width_mm,
            "over_mm": j.over_mm,
        })
    });
    let ledges = flaws
        .ledges
        .iter()
        .map(|l| json!({ "run": run(&l.run), "height_mm": l.height_mm, "depth_mm": l.depth_mm, "at": l.at }));
    json!({
        "shoulders": flaws.shoulders.iter().map(run).collect::<Vec<_>>(),
        "lips": lips.collect::<Vec<_>>(),
        "jumps": jumps.collect::<Vec<_>>(),
        "ledges": ledges.collect::<Vec<_>>(),
        "line_wave": flaws.line_wave.as_ref().map(ripple),
        "rough_wall": flaws.rough_wall.as_ref().map(ripple),
    })
}

/// What is true of several prepared teeth together, if there are several.
fn bridge(phantom: &Phantom) -> Value {
    if phantom.spec().abutments.is_empty() {
        return Value::Null;
    }
    let truth = phantom.bridge_truth();
    json!({
        "teeth": truth.teeth,
        "first_from_tooth": truth.first_from_tooth,
        "margins": truth.each.iter().map(|t| t.finish_line.clone()).collect::<Vec<_>>(),
        "taper": truth.each.iter().map(|t| by_aspect(&t.along_path.taper_deg)).collect::<Vec<_>>(),
        "paths": truth.paths,
        "parallel_deg": truth.parallel_deg,
        "common_path": truth.common_path,
        "undercut_mm2": truth.along_common.iter().map(|w| w.undercut.area_mm2).collect::<Vec<_>>(),
    })
}

fn by_aspect<T: Copy + Into<Value>>(values: &ByAspect<T>) -> Value {
    let [mesial, facial, distal, lingual] = values.around().map(Into::into);
    json!({ "mesial": mesial, "distal": distal, "facial": facial, "lingual": lingual })
}

fn spread(s: &Spread) -> Value {
    json!({ "mean": s.mean_mm, "p05": s.p05_mm, "p50": s.median_mm, "min": s.least_mm, "n": s.n })
}

/// Binary STL.
fn stl(mesh: &Mesh) -> Vec<u8> {
    let mut bytes = vec![0u8; 80];
    bytes.extend((mesh.triangles.len() as u32).to_le_bytes());
    for t in 0..mesh.triangles.len() as u32 {
        let [a, b, c] = mesh.corners(t);
        let normal = (b - a).cross(&(c - a)).normalize();
        for v in [normal, a.coords, b.coords, c.coords] {
            v.iter().for_each(|&x| bytes.extend((x as f32).to_le_bytes()));
        }
        bytes.extend([0, 0]);
    }
    bytes
}
