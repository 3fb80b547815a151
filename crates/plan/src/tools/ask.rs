//! What one stage asks of instruments.

use kerfwright_exercise::{Exercise, Range, Stage, readings};
use kerfwright_instrument::{FinishKind, Grit, Limits, Surface, Target, Wall};
use serde::Deserialize;

use crate::asked::{Ranges, criterion, is_new, limits, number, taper, taper_ids, words};
use crate::of_exercise::shipped_plane;

/// What exercises do not say.
const TABLE: &str = include_str!("../../data/tools.toml");

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Assumed {
    below_contact_mm: f64,
}

/// One cut as asked, ideally and acceptably.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Ask {
    pub ideal: Target,
    pub acceptable: Target,
    /// Ids of the criteria that ask for it.
    pub criteria: Vec<String>,
    said: [String; 2],
}

impl Ask {
    /// In words.
    pub fn asked(&self, acceptable: bool) -> String {
        self.said[usize::from(acceptable)].clone()
    }

    /// The same, asked by those criteria of a stage that ask for some readings.
    fn by(self, stage: &Stage, readings: &[String]) -> Self {
        let mut criteria: Vec<String> = Vec::new();
        for one in readings.iter().filter_map(|id| criterion(stage, id)) {
            if !criteria.contains(&one.id) {
                criteria.push(one.id.clone());
            }
        }
        Self { criteria, ..self }
    }
}

/// Depths that are marked before an area is cut, with plain words.
const DEPTHS: [(&str, &str); 10] = [
    ("reduction.occlusal.functional_mm", "functional cusps"),
    ("reduction.occlusal.nonfunctional_mm", "non-functional cusps"),
    ("reduction.occlusal.groove_mm", "central groove"),
    ("reduction.points.i_mm", "incisal edge"),
    ("reduction.points.tip_mm", "tip"),
    ("reduction.lingual_fossa_mm", "lingual fossa"),
    ("reduction.axial.facial.occlusal_mm", "facial wall, occlusal third"),
    ("reduction.axial.facial.middle_mm", "facial wall, middle third"),
    ("reduction.axial.facial.gingival_mm", "facial wall, gingival third"),
    ("reduction.axial.lingual.middle_mm", "lingual wall, middle third"),
];
/// Of these, the ones whose depth cuts are joined along an even surface.
const N_TOP: usize = 5;
const FOSSA: &str = "reduction.lingual_fossa_mm";

/// Everything that stage `at` is the first to ask for.
pub(crate) fn asks(exercise: &Exercise, at: usize, coarsest: Option<Grit>) -> Vec<Ask> {
    let asker = Asker { exercise, at, stage: &exercise.stages[at], coarsest };
    let mut asks = asker.depths();
    asks.extend(asker.contact());
    asks.extend(asker.walls());
    asks.extend(asker.second_plane());
    asks.extend(asker.lines());
    asks.extend(asker.edges());
    if asks.is_empty() && !asker.stage.instruments.is_empty() {
        asks.push(asker.simple(
            "the work of this stage",
            "what the exercise names: its criteria ask no geometry of it",
            None,
        ));
    }
    asks
}

/// Which of the two limits.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Near {
    Ideal,
    Acceptable,
}

impl Near {
    fn of(self, ranges: Ranges) -> Range {
        match self {
            Self::Ideal => ranges.ideal,
            Self::Acceptable => ranges.acceptable,
        }
    }
}

struct Asker<'e> {
    exercise: &'e Exercise,
    at: usize,
    stage: &'e Stage,
    coarsest: Option<Grit>,
}

impl Asker<'_> {
    fn is_new<T: PartialEq>(&self, what: impl Fn(&Stage) -> Option<T>) -> bool {
        is_new(self.exercise, self.at, what)
    }

    /// What the stage that comes nearest to the end says.
    fn finally<T>(&self, what: impl Fn(&Stage) -> Option<T>) -> Option<T> {
        self.exercise.stages.iter().rev().find_map(what)
    }

    fn target(&self, name: String) -> Target {
        Target { name, coarsest: self.coarsest, ..Target::default() }
    }

    /// The same target with ideal and with acceptable limits.
    fn ask(&self, name: String, ask: impl Fn(Target, Near) -> (Target, String)) -> Ask {
        let (ideal, said) = ask(self.target(name.clone()), Near::Ideal);
        let (acceptable, said_acceptable) = ask(self.target(name), Near::Acceptable);
        Ask { ideal, acceptable, criteria: Vec::new(), said: [said, said_acceptable] }
    }

    fn simple(&self, name: &str, said: &str, surface: Option<Surface>) -> Ask {
        self.ask(name.into(), |target, _| (Target { surface, ..target }, said.into()))
    }

    /// Depth cuts, and what joins them.
    fn depths(&self) -> Vec<Ask> {
        let asked: Vec<_> = DEPTHS
            .iter()
            .enumerate()
            .filter(|(_, (id, _))| self.cuts_to(id))
            .filter_map(|(k, (id, words))| Some((k, *id, *words, self.finally_or_now(id)?)))
            .collect();
        let mut asks: Vec<Ask> = asked
            .iter()
            .map(|(_, id, words, depth)| {
                let ask = self.ask(format!("depth cuts, {words}"), |target, near| {
                    let range = near.of(*depth);
                    // Depth cuts are made before any smoothing: a coarse head marks as well.
                    let target = Target { depth_mm: Some(limits(range)), coarsest: None, ..target };
                    (target, format!("{range} mm deep"))
                });
                ask.by(self.asking(id), &[(*id).to_owned()])
            })
            .collect();
        if asked.iter().any(|(k, ..)| *k < N_TOP) {
            asks.push(self.simple(
                "between the depth cuts",
                "an even surface along the inclines",
                Some(Surface::Plane),
            ));
        }
        if asked.iter().any(|(_, id, ..)| *id == FOSSA) {
            asks.push(self.simple("lingual fossa", "a smooth hollow", Some(Surface::Hollow)));
        }
        asks
    }

    /// The stage itself, or the last one where that one alone asks for a reading.
    fn asking(&self, id: &str) -> &Stage {
        let last = self.exercise.stages.last().filter(|_| number(self.stage, id).is_none());
        last.unwrap_or(self.stage)
    }

    /// The stage's own limits; for what only the last stage asks, its limits.
    fn finally_or_now(&self, id: &str) -> Option<Ranges> {
        number(self.stage, id).or_else(|| self.finally(|stage| number(stage, id)))
    }

    /// Whether a depth is marked in this stage: where it is asked for the first time; what the last stage is the first to ask is
    /// cut with the walls.
    fn cuts_to(&self, id: &str) -> bool {
        let first = self.exercise.stages.iter().position(|stage| number(stage, id).is_some());
        let Some(first) = first else { return false };
        let last = self.exercise.stages.len() - 1;
        if first < last {
            return first == self.at;
        }
        let walls = self
            .exercise
            .stages
            .iter()
            .position(|stage| readings::ASPECTS.iter().any(|side| taper(stage, side).is_some()));
        walls.unwrap_or(last) == self.at
    }

    fn contact(&self) -> Vec<Ask> {
        let Some(through) = self.through() else { return Vec::new() };
        let behind = self.simple("behind the contact, once through", "an even surface", Some(Surface::Plane));
        vec![through, behind]
    }

    fn through(&self) -> Option<Ask> {
        let gap = |stage: &Stage| {
            number(stage, "finish_line.neighbour.mesial_mm")
                .or_else(|| number(stage, "finish_line.neighbour.distal_mm"))
        };
        let asked = gap(self.stage).filter(|_| self.is_new(gap))?;
        asked.ideal.from.or(asked.acceptable.from)?;
        let assumed: Assumed = toml::from_str(TABLE).ok()?;
        let ask = self.ask("through the contact".into(), |target, near| {
            let gap_mm = near.of(asked).from.or(asked.ideal.from).unwrap_or_default();
            let below_mm = assumed.below_contact_mm;
            let said = format!("thinner than the gap of {gap_mm} mm up to {below_mm} mm over its tip");
            (Target { gap_mm: Some([gap_mm, below_mm]), ..target }, said)
        });
        let ids = ["mesial", "distal"].map(|side| format!("finish_line.neighbour.{side}_mm"));
        Some(ask.by(self.stage, &ids))
    }

    /// Walls by what is asked of them. A finish line is cut with them, no wider than it will be.
    fn walls(&self) -> Vec<Ask> {
        let new = readings::ASPECTS.iter().filter(|side| self.is_new(|stage| taper(stage, side)));
        let asked = new.filter_map(|side| Some((*side, taper(self.stage, side)?)));
        grouped(asked).into_iter().map(|(sides, ranges)| self.wall(&sides, ranges)).collect()
    }

    fn wall(&self, sides: &[&str], ranges: Ranges) -> Ask {
        let room_mm = |near: Near| {
            let widths = readings::ASPECTS.iter().filter_map(|side| {
                near.of(self.finally(|stage| number(stage, &format!("finish_line.width.{side}_mm")))?).to
            });
            widths.reduce(f64::min)
        };
        // What will be a chamfer must not become a shoulder on the way; a shoulder may begin as a chamfer.
        let hollow = sides.iter().any(|side| {
            let id = format!("finish_line.kind.{side}");
            self.finally(|stage| words(stage, &id).and_then(|words| kind(words[1])))
                == Some(FinishKind::Chamfer)
        });
        let beside_mm = sides.iter().filter_map(|side| self.beside_mm(side)).reduce(f64::min);
        let ask = self.ask(format!("walls, {}", listed(sides)), |target, near| {
            let (range, room_mm) = (near.of(ranges), room_mm(near));
            let form = if hollow { "chamfer" } else { "finish line" };
            let below =
                room_mm.map_or(String::new(), |mm| format!(", the {form} below not over {mm} mm yet"));
            let target = Target {
                kind: (hollow && room_mm.is_some()).then_some(FinishKind::Chamfer),
                taper_deg: Some(limits(range)),
                width_mm: room_mm.map(Limits::at_most),
                wall_mm: self.wall_mm(),
                beside_mm,
                ..target
            };
            (target, format!("taper {range}°{below}"))
        });
        let ids: Vec<String> = sides.iter().flat_map(|side| taper_ids(side)).collect();
        ask.by(self.stage, &ids)
    }

    /// The height that the sides have to reach over: the least that is ideal in the end.
    fn wall_mm(&self) -> Option<f64> {
        let heights = readings::ASPECTS.iter().filter_map(|side| {
            self.finally(|stage| number(stage, &format!("wall.height.{side}_mm")))?.ideal.from
        });
        heights.reduce(f64::max)
    }

    fn second_plane(&self) -> Option<Ask> {
        let planes = |stage: &Stage| number(stage, "facial.planes").filter(|planes| planes.ideal.holds(2.0));
        let angle = |stage: &Stage| number(stage, "facial.second_plane_deg");
        if !(self.is_new(planes) || self.is_new(angle)) {
            return None;
        }
        let own = angle(self.stage).or_else(|| self.finally(angle)).and_then(|ranges| ranges.ideal.middle());
        let tilt_deg = own.or_else(|| Some(shipped_plane().ok()?.angle_deg))?;
        let gingival = self.finally(|stage| taper(stage, "facial"));
        let gingival_deg = gingival.and_then(|ranges| ranges.ideal.middle()).unwrap_or_default();
        let from = if own.is_some() { "" } else { " (shipped: the exercise gives none)" };
        let ask = self.ask("second facial plane".into(), |target, _| {
            let said = format!("{tilt_deg}° more{from} than the gingival plane's {gingival_deg}°");
            let taper_deg = Some(Limits::at(gingival_deg + tilt_deg));
            (Target { taper_deg, surface: Some(Surface::Plane), ..target }, said)
        });
        Some(ask.by(self.stage, &["facial.planes", "facial.second_plane_deg"].map(str::to_owned)))
    }

    /// Finish lines by what is asked of them, with the walls over them.
    fn lines(&self) -> Vec<Ask> {
        let new = readings::ASPECTS.iter().filter(|side| self.is_new(|stage| Line::of(stage, side)));
        let asked = new.filter_map(|side| Some((*side, (Line::of(self.stage, side)?, self.beside_mm(side)))));
        grouped(asked)
            .into_iter()
            .map(|(sides, (line, beside_mm))| self.line(&sides, &line, beside_mm))
            .collect()
    }

    /// The gap to the neighbour that is asked in the end beside a side of the tooth.
    fn beside_mm(&self, side: &str) -> Option<f64> {
        let ranges = self.finally(|stage| number(stage, &format!("finish_line.neighbour.{side}_mm")))?;
        ranges.ideal.from
    }

    fn line(&self, sides: &[&str], line: &Line, beside_mm: Option<f64>) -> Ask {
        let wall = taper(self.stage, sides.first().copied().unwrap_or_default());
        // Where an earlier stage cut this line already, the wall over it stands.
        let earlier = &self.exercise.stages[..self.at];
        let refines = sides.iter().all(|side| earlier.iter().any(|stage| Line::of(stage, side).is_some()));
        let ask = self.ask(format!("finish line, {}", listed(sides)), |target, near| {
            let words = line.words.as_ref().map(|words| &words[near as usize]);
            let (width, radius) =
                (line.width.map(|width| near.of(width)), line.radius.map(|radius| near.of(radius)));
            let mut said: Vec<String> = words.map(|words| words.join(" or ")).into_iter().collect();
            said.extend(width.map(|range| format!("{range} mm wide")));
            said.extend(radius.map(|range| format!("internal radius {range} mm")));
            let target = Target {
                kind: words.and_then(|words| kind(words)),
                width_mm: width
                    .map(limits)
                    .or_else(|| (words.is_some() && radius.is_none()).then_some(Limits::at_least(0.0))),
                internal_radius_mm: radius.map(limits),
                taper_deg: wall.map(|wall| limits(near.of(wall))),
                wall_mm: self.wall_mm(),
                wall: if refines { Wall::Stands } else { Wall::Cut },
                beside_mm,
                ..target
            };
            (target, said.join(", "))
        });
        let of_side = |side: &&str| {
            ["width", "kind", "internal_radius"].map(|what| match what {
                "kind" => format!("finish_line.kind.{side}"),
                _ => format!("finish_line.{what}.{side}_mm"),
            })
        };
        let ids: Vec<String> = sides.iter().flat_map(of_side).collect();
        ask.by(self.stage, &ids)
    }

    fn edges(&self) -> Option<Ask> {
        let asks =
            |stage: &Stage| number(stage, "edge.sharp_pct").or_else(|| number(stage, "edge.least_radius_mm"));
        let ids = ["edge.sharp_pct", "edge.least_radius_mm"].map(str::to_owned);
        self.is_new(asks).then(|| self.simple("edges", "rounded", Some(Surface::Edge)).by(self.stage, &ids))
    }
}

/// What is asked of the finish line on one side.
#[derive(Debug, Clone, PartialEq)]
struct Line {
    words: Option<[Vec<String>; 2]>,
    width: Option<Ranges>,
    radius: Option<Ranges>,
}

impl Line {
    fn of(stage: &Stage, side: &str) -> Option<Self> {
        let line = Self {
            words: words(stage, &format!("finish_line.kind.{side}")).map(|both| both.map(<[String]>::to_vec)),
            width: number(stage, &format!("finish_line.width.{side}_mm")),
            radius: number(stage, &format!("finish_line.internal_radius.{side}_mm")),
        };
        (line.words.is_some() || line.width.is_some() || line.radius.is_some()).then_some(line)
    }
}

/// The one form that all words allow; none where hollow and flat floors will do, or nothing is known of it.
fn kind(words: &[String]) -> Option<FinishKind> {
    let form = |word: &String| match word.as_str() {
        "chamfer" | "deep chamfer" => Some(FinishKind::Chamfer),
        "shoulder" => Some(FinishKind::Shoulder),
        "sloped shoulder" => Some(FinishKind::SlopedShoulder),
        "knife edge" => Some(FinishKind::KnifeEdge),
        _ => None,
    };
    let forms: Vec<FinishKind> = words.iter().filter_map(form).collect();
    let first = *forms.first()?;
    if forms.iter().all(|form| *form == first) {
        return Some(first);
    }
    // A sloped shoulder is a shoulder whose floor was tipped: the flat end does both.
    let is_flat = |form: &FinishKind| matches!(form, FinishKind::Shoulder | FinishKind::SlopedShoulder);
    forms.iter().all(is_flat).then_some(FinishKind::Shoulder)
}

/// Sides of which the same is asked, together, in the order in which they first come.
fn grouped<'s, T: PartialEq>(asked: impl Iterator<Item = (&'s str, T)>) -> Vec<(Vec<&'s str>, T)> {
    let mut groups: Vec<(Vec<&str>, T)> = Vec::new();
    for (side, what) in asked {
        match groups.iter_mut().find(|(_, known)| *known == what) {
            Some((sides, _)) => sides.push(side),
            None => groups.push((vec![side], what)),
        }
    }
    groups
}

fn listed(sides: &[&str]) -> String {
    match sides {
        [] => String::new(),
        [one] => (*one).to_owned(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}
