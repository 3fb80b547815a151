//! Which instruments of a kit can cut what is asked, and why the others cannot.

use serde::Serialize;

use crate::finish_line::{Floor, deepest_chamfer_mm, finish_line, shoulder};
use crate::head::Cuts;
use crate::iso::Grit;
use crate::kind::HeadKind;
use crate::kit::{Instrument, Kit};
use crate::limits::{Limits, digits};
use crate::wall::{Sunk, depth_mm, hollow_radius_mm, room_in_gap_mm, taper_deg};

/// Half of the last digit that is usual for lengths, 0.01 mm: what lies nearer to a limit is on it.
const ON_LIMIT_MM: f64 = 0.005;
/// Half of the last digit that is usual for angles, 0.1°.
const ON_LIMIT_DEG: f64 = 0.05;

/// The form of a finish line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FinishKind {
    /// No floor.
    KnifeEdge,
    /// Hollow floor; a deep chamfer is one of larger width.
    Chamfer,
    /// Flat floor, its inner corner rounded or not.
    Shoulder,
    /// Flat floor that falls outward.
    SlopedShoulder,
}

/// What else than walls and floors is to be cut. Which head does is common practice, no source.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Surface {
    /// An even surface between depth cuts, followed with the side of the head.
    Plane,
    /// An edge, rounded with the side of the head.
    Edge,
    /// A hollow of no given radius.
    Hollow,
}

/// Whether the sides of the head meet a wall that they are to cut.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Wall {
    /// The wall is cut with them.
    #[default]
    Cut,
    /// The wall stands already: smooth sides leave it as it is.
    Stands,
}

/// What one cut is to leave. What is not asked does not bind.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Target {
    /// What it is called, as "finish line, facial".
    pub name: String,
    /// Form of the finish line.
    pub kind: Option<FinishKind>,
    /// Width of the finish line, mm.
    pub width_mm: Option<Limits>,
    /// Radius between floor and wall, mm.
    pub internal_radius_mm: Option<Limits>,
    /// Taper of the wall, the instrument held parallel to the path.
    pub taper_deg: Option<Limits>,
    /// Height of the wall that the sides have to reach over, mm.
    pub wall_mm: Option<f64>,
    /// Depth of a groove or dimple, mm, by sinking the head to half its diameter or to its whole.
    pub depth_mm: Option<Limits>,
    /// A gap to pass, mm, and how far the tip has to reach below its narrowest place, mm.
    pub gap_mm: Option<[f64; 2]>,
    /// Radius of a hollow to follow, mm.
    pub hollow_radius_mm: Option<f64>,
    /// Room beside the finish line, to the neighbour, that the end must not fill, mm.
    pub beside_mm: Option<f64>,
    /// Whether the wall over the finish line is cut too.
    pub wall: Wall,
    /// Another surface.
    pub surface: Option<Surface>,
    /// The coarsest grit that may be used.
    pub coarsest: Option<Grit>,
}

/// What is said of one instrument.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Fit {
    /// The instrument's name.
    pub instrument: String,
    /// Whether it can cut what is asked.
    pub suits: bool,
    /// How far it is from the middle of what is asked, 0 the best; of no meaning where it does not suit.
    #[serde(skip)]
    pub strain: f64,
    /// What it leaves, or, where it does not suit, the one thing that speaks against it.
    pub reasons: Vec<String>,
}

/// What one check says: fit, with the strain and a sentence, or the sentence that speaks against it.
type Verdict = Result<Option<(f64, String)>, String>;

/// Every instrument of the kit held against a target: those that suit first, the best fit first; then the others, in the order of
/// the kit, each with what speaks against it.
pub fn suitable(kit: &Kit, target: &Target) -> Vec<Fit> {
    let mut fits: Vec<Fit> = kit.instruments.iter().map(|instrument| fit(instrument, target)).collect();
    // Stable: equals keep the order of the kit.
    fits.sort_by(|a, b| {
        b.suits.cmp(&a.suits).then(if a.suits {
            a.strain.total_cmp(&b.strain)
        } else {
            std::cmp::Ordering::Equal
        })
    });
    fits
}

/// One instrument held against a target.
pub fn fit(instrument: &Instrument, target: &Target) -> Fit {
    let checks: [fn(&Instrument, &Target) -> Verdict; 9] =
        [retired, form, wall_height, taper, depth, gap, hollow, surface, grit];
    let mut fit = Fit { instrument: instrument.name.clone(), suits: true, strain: 0.0, reasons: Vec::new() };
    for check in checks {
        match check(instrument, target) {
            Ok(None) => {}
            Ok(Some((strain, sentence))) => {
                fit.strain += strain;
                fit.reasons.extend((!sentence.is_empty()).then_some(sentence));
            }
            Err(sentence) => {
                let reasons = [sentence].into_iter().chain(worn(instrument)).collect();
                return Fit { suits: false, strain: f64::INFINITY, reasons, ..fit };
            }
        }
    }
    fit.reasons.extend(worn(instrument));
    fit
}

/// What a worn head was reckoned with, and what was assumed of it.
fn worn(instrument: &Instrument) -> Option<String> {
    let measured = instrument.measured.as_ref()?;
    let assumed = measured.assumed().map_or(String::new(), |words| format!(", {words}"));
    Some(format!("reckoned with its measured {measured}{assumed}"))
}

fn retired(instrument: &Instrument, _: &Target) -> Verdict {
    match &instrument.retired[..] {
        [] => Ok(None),
        reasons => Err(format!("it is retired: {}", reasons.join("; "))),
    }
}

/// How far the end reaches beyond a finish line of a width, against the room there.
fn beside(end_mm: f64, cut_mm: f64, target: &Target) -> Result<(), String> {
    let over_mm = end_mm - cut_mm;
    match target.beside_mm {
        Some(room_mm) if over_mm > room_mm + ON_LIMIT_MM => Err(format!(
            "its end of {} mm reaches {} mm beyond a finish line of {} mm; the gap to the neighbour is {} mm",
            digits(end_mm),
            digits(over_mm),
            digits(cut_mm),
            digits(room_mm)
        )),
        _ => Ok(()),
    }
}

/// Kind, width and internal radius of the finish line.
fn form(instrument: &Instrument, target: &Target) -> Verdict {
    let (head, width) = (&instrument.head, target.width_mm);
    if target.kind.is_none() && width.is_none() && target.internal_radius_mm.is_none() {
        return Ok(None);
    }
    if head.cuts() == Cuts::Side {
        return Err("its end does not cut, so it leaves no finish line".into());
    }
    match target.kind {
        Some(FinishKind::Chamfer) => chamfer(instrument, target),
        Some(FinishKind::Shoulder) => flat_shoulder(instrument, target),
        Some(FinishKind::SlopedShoulder) => {
            Err("held parallel to the path no head of this kind leaves a flat floor that falls outward"
                .into())
        }
        Some(FinishKind::KnifeEdge) => match head.kind() {
            HeadKind::PointedCone | HeadKind::Flame => {
                Ok(Some((0.0, "its point runs out without a floor".into())))
            }
            kind => Err(format!("the end of a {} leaves a floor; a knife edge has none", kind.title())),
        },
        None => match (deepest_chamfer_mm(head), shoulder(head)) {
            (Some(_), _) => chamfer(instrument, target),
            (_, Some(_)) => flat_shoulder(instrument, target),
            _ => Err(no_finish_line(head.kind())),
        },
    }
}

fn no_finish_line(kind: HeadKind) -> String {
    if kind.has_straight_sides() {
        return "its end leaves no even finish line".into();
    }
    "it has no straight sides to stand against a wall, so it leaves no even finish line".into()
}

fn chamfer(instrument: &Instrument, target: &Target) -> Verdict {
    let head = &instrument.head;
    let Some(reach_mm) = deepest_chamfer_mm(head) else {
        return Err(match shoulder(head) {
            Some(left) => format!(
                "its flat end leaves a shoulder with an internal radius of {} mm; the target is a chamfer",
                digits(left.internal_radius_mm)
            ),
            None => no_finish_line(head.kind()),
        });
    };
    let width = target.width_mm.unwrap_or(Limits::at(0.5 * reach_mm));
    if reach_mm < width.low - ON_LIMIT_MM {
        let end = match head.kind() {
            HeadKind::Torpedo => "nose",
            HeadKind::PointedCone => "point",
            _ => "round end",
        };
        return Err(format!(
            "this {end} can cut {} mm at most before it leaves a lip; the target is {}",
            digits(reach_mm),
            width.told(" mm")
        ));
    }
    // What it can cut without a lip, nearest to the middle.
    let cut_mm = width.middle().min(reach_mm);
    let Some(left) = finish_line(head, cut_mm) else { return Err(no_finish_line(head.kind())) };
    beside(2.0 * reach_mm, cut_mm, target)?;
    radius(left.internal_radius_mm, target)?;
    let short = width.strain(cut_mm, 0.1);
    let excess = 0.1 * (reach_mm / cut_mm - 1.0);
    let sentence = format!(
        "{} mm wide, it leaves a chamfer that falls by {:.0}°, cavosurface angle {:.0}°; no lip up to {} mm",
        digits(cut_mm),
        left.declination_deg,
        left.cavosurface_deg,
        digits(reach_mm)
    );
    Ok(Some((short + excess, sentence)))
}

fn flat_shoulder(instrument: &Instrument, target: &Target) -> Verdict {
    let head = &instrument.head;
    let Some(left) = shoulder(head) else {
        let floor = target
            .width_mm
            .map(Limits::middle)
            .and_then(|width_mm| Some((width_mm, finish_line(head, width_mm)?)));
        return Err(match floor {
            Some((width_mm, left)) if left.floor == Floor::Hollow && left.lip_mm == 0.0 => format!(
                "it leaves a hollow floor that falls by {:.0}° at {} mm; the target is a shoulder",
                left.declination_deg,
                digits(width_mm)
            ),
            Some((width_mm, left)) => format!(
                "{} mm deep it leaves a lip of {:.3} mm outside its hollow floor; the target is a shoulder",
                digits(width_mm),
                left.lip_mm
            ),
            None if head.kind().has_straight_sides() => {
                "its end is not flat; the target is a shoulder".into()
            }
            None => no_finish_line(head.kind()),
        });
    };
    let width = target.width_mm.unwrap_or(Limits::at(left.full_mm));
    if left.least_mm > width.high + ON_LIMIT_MM {
        return Err(format!(
            "the corner of this flat end takes {} mm before the floor is flat; the target is {}",
            digits(left.least_mm),
            width.told(" mm")
        ));
    }
    let radius_strain = radius(left.internal_radius_mm, target)?;
    let cut_mm = width.middle().max(left.least_mm);
    beside(head.tip_diameter_mm(), cut_mm, target)?;
    // A flat floor can be widened: each further pass may advance by the flat part of the end without leaving a ridge.
    let more = ((cut_mm - left.full_mm - ON_LIMIT_MM) / (left.full_mm - left.least_mm)).ceil().max(0.0);
    let passes = if more > 0.0 {
        format!("in {} passes, {} mm at most in one", 1.0 + more, digits(left.full_mm))
    } else {
        format!("{} mm at most in one pass", digits(left.full_mm))
    };
    let sentence = format!(
        "{} mm wide, it leaves a flat shoulder with an internal radius of {} mm; {passes}",
        digits(cut_mm),
        digits(left.internal_radius_mm)
    );
    let excess = 0.1 * (left.full_mm / cut_mm - 1.0).max(0.0);
    Ok(Some((width.strain(cut_mm, 0.1) + radius_strain + excess + 0.5 * more, sentence)))
}

/// The strain of the internal radius.
fn radius(left_mm: f64, target: &Target) -> Result<f64, String> {
    let Some(limits) = target.internal_radius_mm else { return Ok(0.0) };
    if limits.holds(left_mm, ON_LIMIT_MM) {
        return Ok(0.5 * limits.strain(left_mm, 0.1));
    }
    Err(format!(
        "it leaves an internal radius of {} mm; the target is {}",
        digits(left_mm),
        limits.told(" mm")
    ))
}

fn wall_height(instrument: &Instrument, target: &Target) -> Verdict {
    let length_mm = instrument.head.length_mm();
    // Smooth sides cut no ledge.
    let wall_mm = target.wall_mm.filter(|_| instrument.head.cuts() != Cuts::End || target.wall == Wall::Cut);
    match wall_mm {
        Some(wall_mm) if length_mm < wall_mm - ON_LIMIT_MM => Err(format!(
            "its head of {} mm does not reach over a wall of {} mm, so it would cut a ledge",
            digits(length_mm),
            digits(wall_mm)
        )),
        _ => Ok(None),
    }
}

fn taper(instrument: &Instrument, target: &Target) -> Verdict {
    let Some(limits) = target.taper_deg else { return Ok(None) };
    let head = &instrument.head;
    let Some(own_deg) = taper_deg(head) else {
        if head.cuts() == Cuts::End && target.wall == Wall::Stands {
            return Ok(Some((0.5, "its smooth sides leave the wall as it is".into())));
        }
        return Err(match head.cuts() {
            Cuts::End => "its sides do not cut, so it leaves no wall".into(),
            _ => "it has no straight sides, so it leaves no even wall".into(),
        });
    };
    if own_deg > limits.high + ON_LIMIT_DEG {
        return Err(format!(
            "held parallel to the path it leaves a taper of {own_deg:.1}°; the target is {}",
            limits.told("°")
        ));
    }
    if own_deg >= limits.low - ON_LIMIT_DEG {
        let sentence = format!("held parallel to the path it leaves a taper of {own_deg:.1}°");
        return Ok(Some((limits.strain(own_deg, 1.0), sentence)));
    }
    let tilt_deg = limits.low - own_deg;
    let mut sentence =
        format!("leaves {own_deg:.1}° held parallel: lean it by {tilt_deg:.1}° for {:.1}°", limits.low);
    let is_shoulder = target.kind == Some(FinishKind::Shoulder);
    if is_shoulder {
        sentence.push_str(", and the floor falls inward by as much");
    }
    Ok(Some((limits.strain(own_deg, 1.0) + if is_shoulder { tilt_deg } else { 0.2 * tilt_deg }, sentence)))
}

fn depth(instrument: &Instrument, target: &Target) -> Verdict {
    let Some(limits) = target.depth_mm else { return Ok(None) };
    let head = &instrument.head;
    let mut shown = Vec::new();
    for (sunk, words) in [(Sunk::Half, "half"), (Sunk::Whole, "the whole of")] {
        let Some(depth) = depth_mm(head, sunk) else {
            return Err("its sides do not cut, so it cannot be sunk".into());
        };
        let told = if depth.least_mm == depth.greatest_mm {
            format!("{} mm", digits(depth.greatest_mm))
        } else {
            format!("{} (tip) to {} mm (base)", digits(depth.least_mm), digits(depth.greatest_mm))
        };
        if limits.holds(depth.least_mm, ON_LIMIT_MM) && limits.holds(depth.greatest_mm, ON_LIMIT_MM) {
            let strain = limits.strain(depth.least_mm, 0.1).max(limits.strain(depth.greatest_mm, 0.1));
            // Balls and round-end cylinders mark one depth all along; other heads do so at their widest place alone.
            let is_marker = matches!(head.kind(), HeadKind::Ball | HeadKind::RoundCylinder);
            let strain = strain + if is_marker { 0.0 } else { 1.0 };
            return Ok(Some((strain, format!("sunk to {words} its diameter it is {told} deep"))));
        }
        shown.push(format!("{told} at {words} its diameter"));
    }
    Err(format!("sunk, it is {}; the target is {}", shown.join(", "), limits.told(" mm")))
}

fn gap(instrument: &Instrument, target: &Target) -> Verdict {
    let Some([gap_mm, height_mm]) = target.gap_mm else { return Ok(None) };
    let head = &instrument.head;
    if height_mm > head.length_mm() {
        return Err(format!(
            "its head of {} mm does not reach {} mm below the contact",
            digits(head.length_mm()),
            digits(height_mm)
        ));
    }
    let room_mm = room_in_gap_mm(head, gap_mm, height_mm);
    let thick_mm = gap_mm - room_mm;
    if room_mm < 0.0 {
        return Err(format!(
            "it is {} mm thick up to {} mm above its tip; the gap is {} mm",
            digits(thick_mm),
            digits(height_mm),
            digits(gap_mm)
        ));
    }
    let sentence = format!("passes the gap of {} mm with {} mm to spare", digits(gap_mm), digits(room_mm));
    Ok(Some((thick_mm / gap_mm, sentence)))
}

fn hollow(instrument: &Instrument, target: &Target) -> Verdict {
    let Some(wanted_mm) = target.hollow_radius_mm else { return Ok(None) };
    match hollow_radius_mm(&instrument.head) {
        Some(own_mm) if own_mm <= wanted_mm + ON_LIMIT_MM => {
            let sentence = format!(
                "its side, rounded with {} mm, follows a hollow of {} mm",
                digits(own_mm),
                digits(wanted_mm)
            );
            // The fuller the side, the smoother the hollow.
            Ok(Some((1.0 - own_mm / wanted_mm, sentence)))
        }
        Some(own_mm) => Err(format!(
            "its side is rounded with {} mm and bridges a hollow of {} mm",
            digits(own_mm),
            digits(wanted_mm)
        )),
        None => Err("its side is straight and leaves ridges in a hollow".into()),
    }
}

fn surface(instrument: &Instrument, target: &Target) -> Verdict {
    let Some(surface) = target.surface else { return Ok(None) };
    let (head, kind) = (&instrument.head, instrument.head.kind());
    if head.cuts() == Cuts::End {
        return Err("its sides do not cut".into());
    }
    match (surface, hollow_radius_mm(head)) {
        (Surface::Plane, _) if kind == HeadKind::PointedCone => {
            Err("its point leaves furrows in an even surface".into())
        }
        (Surface::Plane, _) if kind.has_straight_sides() || kind == HeadKind::Wheel => {
            Ok(Some((0.0, "its straight side joins the depth cuts along the inclines".into())))
        }
        (Surface::Plane, Some(own_mm)) if kind == HeadKind::Football => {
            Ok(Some((0.3, format!("its side, rounded with {} mm, joins the depth cuts", digits(own_mm)))))
        }
        (Surface::Plane, _) => Err("its round side leaves furrows between depth cuts".into()),
        (Surface::Edge, _) if matches!(kind, HeadKind::Ball | HeadKind::Pear) => {
            Err("it dents an edge in place of rounding it".into())
        }
        (Surface::Edge, _) => Ok(Some((0.0, "its side goes around an edge".into()))),
        (Surface::Hollow, Some(own_mm)) => {
            Ok(Some((1.0 / own_mm, format!("its side is rounded with {} mm", digits(own_mm)))))
        }
        (Surface::Hollow, None) => Err("its side is straight and leaves ridges in a hollow".into()),
    }
}

fn grit(instrument: &Instrument, target: &Target) -> Verdict {
    let Some(own) = instrument.grit else { return Ok(None) };
    if let Some(coarsest) = target.coarsest.filter(|coarsest| own > *coarsest) {
        return Err(format!("its grit is {}; the target asks for {} or finer", own.word(), coarsest.word()));
    }
    // Without a limit bulk is cut, for which medium is usual (common practice, no source).
    let usual = target.coarsest.unwrap_or(Grit::Medium);
    let steps = (usual as i32 - own as i32).abs();
    Ok(Some((0.3 * f64::from(steps), String::new())))
}
