//! Wear: what was recorded of an instrument, and whether it is retired.

use serde::{Deserialize, Serialize};

use crate::kit::{Instrument, Kit};

/// A new instrument may measure more than its nominal diameter by this, mm: half a step of the ISO size.
const ABOVE_NOMINAL_MM: f64 = 0.05;

/// One line of a log: uses, a measured diameter, or both. It names no person.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
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

/// Why a log cannot be used.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum LogError {
    /// No TOML of this form.
    #[error("line {line}: {what}; an entry is [[entry]] with instrument, uses, diameter_mm, on")]
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
    /// The diameter last measured, if ever.
    pub diameter_mm: Option<f64>,
    /// What it has lost of its nominal diameter; never negative.
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
/// It is retired once its uses or the loss of its diameter reach the limit of its kit. The loss is taken from the nominal diameter.
pub fn state(instrument: &Instrument, log: &[LogEntry]) -> State {
    let own = || log.iter().filter(|entry| entry.instrument == instrument.name);
    let uses = own().fold(0_u32, |uses, entry| uses.saturating_add(entry.uses));
    let diameter_mm = own().filter_map(|entry| entry.diameter_mm).next_back();
    let nominal_mm = instrument.head.diameter_mm();
    let lost_mm = diameter_mm.map(|diameter_mm| (nominal_mm - diameter_mm).max(0.0));
    let (mut retired, mut doubts) = (Vec::new(), Vec::new());
    if let Some(most) = instrument.retire.after_uses.filter(|most| uses >= *most) {
        retired.push(format!("used {uses} times; the kit retires it after {most}"));
    }
    if let (Some(lost_mm), Some(most_mm)) = (lost_mm, instrument.retire.loss_of_diameter_mm)
        && lost_mm >= most_mm - 1e-9
    {
        retired.push(format!("lost {lost_mm:.2} mm of its diameter; the kit retires it at {most_mm:.2} mm"));
    }
    if let Some(diameter_mm) = diameter_mm.filter(|diameter_mm| *diameter_mm > nominal_mm + ABOVE_NOMINAL_MM)
    {
        doubts.push(format!(
            "measured {diameter_mm:.2} mm, more than its nominal {nominal_mm:.2} mm: is it this instrument?"
        ));
    }
    let uses_left = instrument.retire.after_uses.map(|most| most.saturating_sub(uses));
    State { uses, diameter_mm, lost_mm, uses_left, retired, doubts }
}

/// The kit as a log finds it: heads by their measured diameters, and what is retired marked as such.
///
/// Where a diameter leaves no head of that form the instrument is retired, with the reason.
pub fn in_hand(kit: &Kit, log: &[LogEntry]) -> Kit {
    let mut kit = kit.clone();
    for instrument in &mut kit.instruments {
        let now = state(instrument, log);
        instrument.retired = now.retired;
        let Some(diameter_mm) = now.diameter_mm else { continue };
        match instrument.head.worn_to(diameter_mm) {
            Ok(head) => (instrument.head, instrument.measured_mm) = (head, Some(diameter_mm)),
            Err(error) => instrument.retired.push(format!(
                "measured {diameter_mm:.2} mm, which leaves no such head ({}): measure again or discard it",
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
        if let Some(diameter_mm) =
            line.diameter_mm.filter(|diameter_mm| !(*diameter_mm > 0.0 && *diameter_mm <= 20.0))
        {
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
