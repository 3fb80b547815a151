//! Which instrument, how it is held, and which gauge.

use kerfwright_exercise::Wanted;
use kerfwright_instrument::{Gauge, Instrument};

use crate::choose::{Need, bar, choose};
use crate::facts::{Desk, Looked};
use crate::language::nearest_end;
use crate::rules::{Role, Step};
use crate::template::Fillings;
use crate::tool::{head_key, is_fine, size_mm};

/// What was taken from the kit.
#[derive(Debug, Clone, Copy, Default)]
pub struct Equipment<'a> {
    pub tool: Option<&'a Instrument>,
    pub gauge: Option<&'a Gauge>,
}

/// How an instrument is tipped: keys for more and for less than its own angle, and for the angle of its side.
struct Holds {
    more: &'static str,
    less: &'static str,
    aim: &'static str,
}

/// Walls that stand around: they lean inwards.
const CROWN: Holds = Holds { more: "hold.lean", less: "hold.lean_out", aim: "hold.aim" };
/// Walls of isthmus and boxes, which lean outwards, away from the instrument between them.
const CHANNEL: Holds = Holds { more: "hold.to_wall", less: "hold.off_wall", aim: "hold.aim_wall" };

fn is_of_channel(looked: &Looked<'_>) -> bool {
    looked.reading.starts_with("isthmus.") || looked.reading.starts_with("box.")
}

impl<'a> Desk<'a> {
    /// Adds instrument, how it is held, and the gauge; returns what was taken from the kit.
    pub fn equip(&self, looked: &Looked<'_>, step: Option<&Step>, fillings: &mut Fillings) -> Equipment<'a> {
        let aim_deg = self.aim_deg(looked);
        let mut tool = None;
        if let Some((key, role)) = step.and_then(|step| self.role(looked, step)) {
            let need = Need { role, width_mm: self.width_mm(looked), aim_deg };
            tool = self.kit.and_then(|kit| choose(kit, &need));
            // A flat end would cut a step into a chamfer: the wall over it is cut with a round one that stays clear of the line.
            if tool.is_some_and(|tool| head_key(tool).starts_with("flat")) && self.is_over_chamfer(looked) {
                tool = self.kit.and_then(|kit| choose(kit, &Need { width_mm: None, ..need }));
            }
            fillings.extend(self.tool_words(key, &need, tool).map(|words| ("tool", words)));
        }
        let holds = if is_of_channel(looked) { &CHANNEL } else { &CROWN };
        fillings.extend(self.hold(tool, aim_deg, holds).map(|hold| ("hold", hold)));
        let gauge = self.gauge(looked);
        fillings.extend(gauge.and_then(|gauge| self.bar_words(gauge)).map(|words| ("bar", words)));
        Equipment { tool, gauge }
    }

    /// The step's kind of instrument; `finish_line` is chamfer or shoulder, by what is asked there.
    fn role(&self, looked: &Looked<'_>, step: &'a Step) -> Option<(&'a str, &'a Role)> {
        let key = match step.role.as_deref()? {
            "finish_line" if self.wants_shoulder(looked) => "shoulder",
            "finish_line" => "chamfer",
            other => other,
        };
        Some((key, self.rules.role.get(key)?))
    }

    /// Whether what is asked of the finish line there, at a line angle on both sides of it, is no shoulder anywhere.
    fn is_over_chamfer(&self, looked: &Looked<'_>) -> bool {
        let aspect = looked.aspect().unwrap_or_default();
        // "mesiofacial" begins as "mesial" does, and holds how "facial" begins.
        let touches = |side: &str| side.get(..4).is_some_and(|start| aspect.contains(start));
        let shoulders = self.grade.items().filter_map(|(_, item)| {
            let side = item.reading.strip_prefix("finish_line.kind.")?;
            match &item.wanted {
                Wanted::Words { ideal_words, .. } if touches(side) => {
                    Some(ideal_words.iter().any(|word| word.contains("shoulder")))
                }
                _ => None,
            }
        });
        let shoulders: Vec<bool> = shoulders.collect();
        !shoulders.is_empty() && !shoulders.contains(&true)
    }

    fn wants_shoulder(&self, looked: &Looked<'_>) -> bool {
        let kind = format!("finish_line.kind.{}", looked.aspect().unwrap_or_default());
        let asked = self.grade.items().find(|(_, item)| item.reading == kind).map(|(_, item)| &item.wanted);
        let own = matches!(looked.wanted, Wanted::Words { .. }).then_some(looked.wanted);
        match own.or(asked) {
            Some(Wanted::Words { ideal_words, .. }) => {
                ideal_words.iter().any(|word| word.contains("shoulder"))
            }
            _ => self.width_mm(looked).is_some_and(|width| width >= self.rules.settings.shoulder_from_mm),
        }
    }

    /// Width of the finish line that the instrument works on: the one wanted where width is asked, else the one there is.
    fn width_mm(&self, looked: &Looked<'_>) -> Option<f64> {
        let aspect = looked.aspect()?;
        let id = format!("finish_line.width.{aspect}_mm");
        if looked.reading == id {
            return looked.aim();
        }
        let asked = self.grade.items().find(|(_, item)| item.reading == id && item.part.is_none());
        let asked = asked.and_then(|(_, item)| match item.wanted {
            Wanted::Number { ideal, .. } => ideal.from,
            Wanted::Words { .. } => None,
        });
        // A line that is still too narrow will have to be cut to what is asked.
        match (self.document_number(&id), asked) {
            (Some(there), Some(asked)) => Some(there.max(asked)),
            (there, asked) => there.or(asked),
        }
    }

    /// The taper that a wall is to get.
    fn aim_deg(&self, looked: &Looked<'_>) -> Option<f64> {
        if looked.reading.starts_with("taper.") {
            return looked.aim();
        }
        if is_of_channel(looked) {
            return self.channel_lean_deg(looked);
        }
        let (_, taper_deg) = self.straighter(looked.reading)?;
        Some(taper_deg + looked.finding?.past_ideal?.abs())
    }

    /// The lean that the walls of this isthmus or box are to get: the end of ideal that is missed, else the middle of what is asked.
    fn channel_lean_deg(&self, looked: &Looked<'_>) -> Option<f64> {
        if looked.unit == "deg" {
            return looked.aim();
        }
        let (channel, _) = looked.reading.rsplit_once('.')?;
        let id = format!("{channel}.divergence_deg");
        let asked = self.grade.items().find(|(_, item)| item.reading == id && item.part.is_none());
        match asked.map(|(_, item)| &item.wanted) {
            Some(Wanted::Number { ideal, .. }) => ideal.middle(),
            _ => None,
        }
    }

    fn tool_words(&self, role: &str, need: &Need<'_>, tool: Option<&Instrument>) -> Option<String> {
        if let Some(tool) = tool {
            return self.kit_words(tool);
        }
        let tip =
            need.tip_mm().map(|tip| ("tip", self.lexicon.millimetres((tip * 10.0 - 1e-9).ceil() / 10.0)));
        let kind = self.lexicon.say(&format!("role.{role}"), &tip.into_iter().collect())?;
        if self.kit.is_none() {
            return Some(kind);
        }
        self.lexicon.say("tool.none", &Fillings::from([("kind", kind)]))
    }

    fn kit_words(&self, tool: &Instrument) -> Option<String> {
        let mut fillings =
            Fillings::from([("size", self.lexicon.millimetres(size_mm(tool))), ("id", tool.name.clone())]);
        fillings.extend(tool.iso.map(|iso| ("iso", iso.to_string())));
        fillings.extend(self.word("head", head_key(tool)).map(|head| ("head", head)));
        self.lexicon.say(if is_fine(tool) { "tool.known_fine" } else { "tool.known" }, &fillings)
    }

    fn bar_words(&self, bar: &Gauge) -> Option<String> {
        let size = self.lexicon.millimetres(bar.width_mm);
        self.lexicon.say("tool.bar", &Fillings::from([("size", size), ("id", bar.name.clone())]))
    }

    fn hold(&self, tool: Option<&Instrument>, aim_deg: Option<f64>, holds: &Holds) -> Option<String> {
        let Some(aim_deg) = aim_deg else { return self.lexicon.word("hold.parallel") };
        let degrees = |value: f64| self.lexicon.value(value.abs(), "deg");
        let Some(tool) = tool else {
            return self.lexicon.say(holds.aim, &Fillings::from([("aim", degrees(aim_deg))]));
        };
        let lean_deg = aim_deg - tool.head.half_angle_deg();
        let form = match lean_deg {
            lean if lean.abs() <= self.rules.settings.parallel_within_deg => "hold.parallel",
            lean if lean > 0.0 => holds.more,
            _ => holds.less,
        };
        self.lexicon.say(form, &Fillings::from([("lean", degrees(lean_deg))]))
    }

    /// A bar of the width that is asked for at least: of ideal, else of acceptable.
    fn gauge(&self, looked: &Looked<'_>) -> Option<&'a Gauge> {
        let (ideal, acceptable) = looked.ranges().filter(|_| looked.unit == "mm")?;
        let kit = self.kit?;
        [ideal.from, acceptable.from].into_iter().flatten().find_map(|width_mm| bar(kit, width_mm))
    }

    /// A bar that settles whether acceptable is met: just as wide as its lower end.
    pub fn gauge_at_limit(&self, looked: &Looked<'_>, fillings: &mut Fillings) -> Option<&'a Gauge> {
        let (_, acceptable) = looked.ranges().filter(|_| looked.unit == "mm")?;
        let is_lower =
            nearest_end(looked.number()?, acceptable).is_some_and(|(end, _)| Some(end) == acceptable.from);
        let gauge = acceptable.from.filter(|_| is_lower).and_then(|width_mm| bar(self.kit?, width_mm))?;
        fillings.extend(self.bar_words(gauge).map(|words| ("bar", words)));
        Some(gauge)
    }
}
