//! Wear: what was recorded of an instrument, and whether it is retired.

use serde::{Deserialize, Serialize};

use crate::kit::{Instrument, Kit};

/// A new instrument may measure more than its nominal diameter by this, mm: half a step of the ISO size.
const ABOVE_NOMINAL_MM: f64 = 0.05;

/// One line of a log: uses, a measured diameter, or both. It names no person.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LogEntry {
    /// The instrument's name in the kit.
    pub instrument: String,
    /// Uses since the last entry.
    #[serde(default, skip_serializing_if = "is_zero")]
    pub uses: u32,
    /// Its largest diameter as measured, mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub diameter_mm: Option<f64>,
    /// The diameter of its tip as measured, mm. Wear is taken as even along the head where only one of the two is given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tip_diameter_mm: Option<f64>,
    /// When: a date in quotes, as "2026-11-25"; it is shown, not reckoned with.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub on: Option<String>,
}

#[derive(Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Log {
    #[serde(default)]
    entry: Vec<LogEntry>,
}

/// The diameters of a head as last measured.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Measured {
    /// The largest, mm.
    pub diameter_mm: Option<f64>,
    /// That of the tip, mm.
    pub tip_diameter_mm: Option<f64>,
}

impl Measured {
    /// What is taken for granted of the rest of the head, in words; `None` where both ends were measured.
    pub fn assumed(&self) -> Option<&'static str> {
        match (self.diameter_mm, self.tip_diameter_mm) {
            (Some(_), None) => {
                Some("taken as worn evenly along the head: measure the tip where much depends on it")
            }
            (None, Some(_)) => Some("taken as worn evenly along the head: measure the largest diameter too"),
            _ => None,
        }
    }
}

impl std::fmt::Display for Measured {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match (self.diameter_mm, self.tip_diameter_mm) {
            (Some(mm), Some(tip_mm)) => write!(f, "{mm:.2} mm and {tip_mm:.2} mm at its tip"),
            (None, Some(tip_mm)) => write!(f, "{tip_mm:.2} mm at its tip"),
            (Some(mm), None) => write!(f, "{mm:.2} mm"),
            (None, None) => write!(f, "nothing"),
        }
    }
}

/// Why a log cannot be used.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum LogError {
    /// No TOML of this form.
    #[error(
        "line {line}: {what}; an entry is [[entry]] with instrument, uses, diameter_mm, tip_diameter_mm, on"
    )]
    Toml {
        /// From 1.
        line: usize,
        /// What the parser says.
        what: String,
    },
    /// No JSON of this form.
    #[error(
        "{0}; a log is {{\"entry\": [{{\"instrument\": \"NAME\", \"uses\": 1, \"diameter_mm\": 1.58, \"on\": \"DATE\"}}]}}"
    )]
    Json(String),
    /// An impossible diameter.
    #[error("entry {entry}: a diameter of {diameter_mm} mm is impossible: give mm, above 0")]
    Diameter {
        /// From 1.
        entry: usize,
        /// As given.
        diameter_mm: f64,
    },
}

/// Where an instrument stands.
#[derive(Debug, Clone, PartialEq)]
pub struct State {
    /// All uses recorded.
    pub uses: u32,
    /// The largest diameter last measured, if ever.
    pub diameter_mm: Option<f64>,
    /// The tip's diameter last measured, if ever.
    pub tip_diameter_mm: Option<f64>,
    /// The most it has lost of a nominal diameter where it was measured; never negative.
    pub lost_mm: Option<f64>,
    /// Uses left until the limit, if there is one.
    pub uses_left: Option<u32>,
    /// Why it is retired, each in a sentence; empty if it is not.
    pub retired: Vec<String>,
    /// What somebody should look at.
    pub doubts: Vec<String>,
}

/// A log from TOML, entries as `[[entry]]`.
///
/// # Errors
/// [`LogError`] for what is no such file and for impossible diameters.
pub fn log_from_toml(text: &str) -> Result<Vec<LogEntry>, LogError> {
    let log: Log = toml::from_str(text).map_err(|error| {
        let before = error.span().and_then(|span| text.get(..span.start)).unwrap_or_default();
        LogError::Toml { line: 1 + before.matches('\n').count(), what: error.message().to_owned() }
    })?;
    possible(log.entry)
}

/// A log from JSON, the same under `entry`.
///
/// # Errors
/// [`LogError`] for what is no such file and for impossible diameters.
pub fn log_from_json(text: &str) -> Result<Vec<LogEntry>, LogError> {
    let log: Log = serde_json::from_str(text).map_err(|error| LogError::Json(error.to_string()))?;
    possible(log.entry)
}

/// Where an instrument stands by a log, in whose order later measurements replace earlier ones.
///
/// It is retired once its uses or the loss of its diameter reach the limit of its kit. The loss is taken from the nominal diameter
/// at the place that was measured: the largest, or the tip.
pub fn state(instrument: &Instrument, log: &[LogEntry]) -> State {
    let own = || log.iter().filter(|entry| entry.instrument == instrument.name);
    let uses = own().fold(0_u32, |uses, entry| uses.saturating_add(entry.uses));
    let diameter_mm = own().filter_map(|entry| entry.diameter_mm).next_back();
    let tip_diameter_mm = own().filter_map(|entry| entry.tip_diameter_mm).next_back();
    let places = [
        ("", instrument.head.diameter_mm(), diameter_mm),
        (" at its tip", instrument.head.tip_diameter_mm(), tip_diameter_mm),
    ];
    let measured = places.into_iter().filter_map(|(at, nominal_mm, now_mm)| Some((at, nominal_mm, now_mm?)));
    let losses = measured.clone().map(|(_, nominal_mm, now_mm)| (nominal_mm - now_mm).max(0.0));
    let lost_mm = losses.reduce(f64::max);
    let (mut retired, mut doubts) = (Vec::new(), Vec::new());
    if let Some(most) = instrument.retire.after_uses.filter(|most| uses >= *most) {
        retired.push(format!("used {uses} times; the kit retires it after {most}"));
    }
    if let (Some(lost_mm), Some(most_mm)) = (lost_mm, instrument.retire.loss_of_diameter_mm)
        && lost_mm >= most_mm - 1e-9
    {
        retired.push(format!("lost {lost_mm:.2} mm of its diameter; the kit retires it at {most_mm:.2} mm"));
    }
    for (at, nominal_mm, now_mm) in measured {
        if now_mm > nominal_mm + ABOVE_NOMINAL_MM {
            doubts.push(format!(
                "measured {now_mm:.2} mm{at}, more than its nominal {nominal_mm:.2} mm: is it this instrument?"
            ));
        }
    }
    let uses_left = instrument.retire.after_uses.map(|most| most.saturating_sub(uses));
    State { uses, diameter_mm, tip_diameter_mm, lost_mm, uses_left, retired, doubts }
}

/// The kit as a log finds it: heads by their measured diameters, and what is retired marked as such.
///
/// Where a diameter leaves no head of that form the instrument is retired, with the reason.
pub fn in_hand(kit: &Kit, log: &[LogEntry]) -> Kit {
    let mut kit = kit.clone();
    for instrument in &mut kit.instruments {
        let now = state(instrument, log);
        instrument.retired = now.retired;
        let measured = Measured { diameter_mm: now.diameter_mm, tip_diameter_mm: now.tip_diameter_mm };
        if measured == Measured::default() {
            continue;
        }
        match instrument.head.worn_to(&measured) {
            Ok(head) => (instrument.head, instrument.measured) = (head, Some(measured)),
            Err(error) => instrument.retired.push(format!(
                "measured {measured}, which leaves no such head ({}): measure again or discard it",
                error.message
            )),
        }
    }
    kit
}

/// Names in a log that the kit does not have, each once.
pub fn strangers<'a>(kit: &Kit, log: &'a [LogEntry]) -> Vec<&'a str> {
    let mut names: Vec<&str> = Vec::new();
    for entry in log {
        let name = entry.instrument.as_str();
        if kit.instrument(name).is_none() && !names.contains(&name) {
            names.push(name);
        }
    }
    names
}

fn possible(log: Vec<LogEntry>) -> Result<Vec<LogEntry>, LogError> {
    for (entry, line) in (1..).zip(&log) {
        let given = [line.diameter_mm, line.tip_diameter_mm].into_iter().flatten();
        if let Some(diameter_mm) = given.into_iter().find(|mm| !(*mm > 0.0 && *mm <= 20.0)) {
            return Err(LogError::Diameter { entry, diameter_mm });
        }
    }
    Ok(log)
}

// The form of the argument is serde's.
#[allow(clippy::trivially_copy_pass_by_ref)]
fn is_zero(uses: &u32) -> bool {
    *uses == 0
}
