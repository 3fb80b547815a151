//! What the model needs to know, each value with its spread.

use std::collections::BTreeMap;

use serde::Deserialize;

use crate::JawError;

/// The defaults with their sources.
const AVERAGE: &str = include_str!("../data/average_jaw.toml");

/// One thing that is set. The names are the keys of the file.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Parameter {
    /// Side of the Bonwill triangle, which also is the distance of the condyles.
    BonwillSide,
    /// Angle of the Bonwill triangle to the occlusal plane.
    Balkwill,
    /// Slope of the right condyle's path to the occlusal plane.
    CondylarInclinationRight,
    /// Slope of the left condyle's path.
    CondylarInclinationLeft,
    /// Inward angle of the right condyle's path when it orbits.
    BennettRight,
    /// Inward angle of the left condyle's path when it orbits.
    BennettLeft,
    /// Bodily shift to the working side before the orbiting condyle moves forward.
    ImmediateSideShift,
    /// Slope of the table along which the lower incisal point runs.
    IncisalGuidance,
    /// How far protrusion goes.
    Protrusion,
    /// How far laterotrusion goes.
    Laterotrusion,
    /// Curvature of the upper arch.
    ArchBendUpper,
    /// Curvature of the lower arch.
    ArchBendLower,
    /// How far the upper incisal point lies before the lower one.
    Overjet,
    /// Shift of the incisal point to the left.
    MidlineAside,
    /// Shift of the incisal point to the rear.
    IncisalBehind,
    /// Turn of the jaw about the vertical.
    Heading,
    /// Tilt of the occlusal plane, front down.
    PlanePitch,
    /// Tilt of the occlusal plane, left side down.
    PlaneRoll,
}

impl Parameter {
    /// All, in the order of the file.
    pub const ALL: [Self; 18] = [
        Self::BonwillSide,
        Self::Balkwill,
        Self::CondylarInclinationRight,
        Self::CondylarInclinationLeft,
        Self::BennettRight,
        Self::BennettLeft,
        Self::ImmediateSideShift,
        Self::IncisalGuidance,
        Self::Protrusion,
        Self::Laterotrusion,
        Self::ArchBendUpper,
        Self::ArchBendLower,
        Self::Overjet,
        Self::MidlineAside,
        Self::IncisalBehind,
        Self::Heading,
        Self::PlanePitch,
        Self::PlaneRoll,
    ];

    /// The key in the file.
    pub fn key(self) -> &'static str {
        match self {
            Self::BonwillSide => "bonwill_side_mm",
            Self::Balkwill => "balkwill_deg",
            Self::CondylarInclinationRight => "condylar_inclination_right_deg",
            Self::CondylarInclinationLeft => "condylar_inclination_left_deg",
            Self::BennettRight => "bennett_right_deg",
            Self::BennettLeft => "bennett_left_deg",
            Self::ImmediateSideShift => "immediate_side_shift_mm",
            Self::IncisalGuidance => "incisal_guidance_deg",
            Self::Protrusion => "protrusion_mm",
            Self::Laterotrusion => "laterotrusion_mm",
            Self::ArchBendUpper => "arch_bend_upper_per_mm",
            Self::ArchBendLower => "arch_bend_lower_per_mm",
            Self::Overjet => "overjet_mm",
            Self::MidlineAside => "midline_aside_mm",
            Self::IncisalBehind => "incisal_behind_mm",
            Self::Heading => "heading_deg",
            Self::PlanePitch => "plane_pitch_deg",
            Self::PlaneRoll => "plane_roll_deg",
        }
    }
}

/// A value with its spread, in the unit that its key names.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Setting {
    /// What is used.
    pub value: f64,
    /// Standard deviation of what one person's value may be.
    pub sd: f64,
    /// Least value accepted.
    pub low: f64,
    /// Greatest value accepted.
    pub high: f64,
}

/// All settings.
#[derive(Debug, Clone, PartialEq)]
pub struct JawSettings {
    settings: [Setting; Parameter::ALL.len()],
    /// Whether a file of the user's changed anything.
    pub is_own: bool,
}

impl Default for JawSettings {
    fn default() -> Self {
        Self::average()
    }
}

/// What a file may say of one key.
#[derive(Debug, Deserialize)]
#[serde(untagged)]
enum Entry {
    Value(f64),
    Table(Table),
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Table {
    value: f64,
    sd: Option<f64>,
    #[serde(default)]
    low: Option<f64>,
    #[serde(default)]
    high: Option<f64>,
    #[serde(default, rename = "source")]
    _source: Option<String>,
}

impl JawSettings {
    /// The average jaw.
    ///
    /// # Source
    /// `data/average_jaw.toml` names one for each value.
    pub fn average() -> Self {
        let none = Setting { value: f64::NAN, sd: 0.0, low: f64::NEG_INFINITY, high: f64::INFINITY };
        let mut settings = Self { settings: [none; Parameter::ALL.len()], is_own: false };
        for (key, entry) in read(AVERAGE).unwrap_or_default() {
            let place = Parameter::ALL.iter().find(|parameter| parameter.key() == key);
            if let (Some(&parameter), Entry::Table(table)) = (place, entry) {
                settings.settings[parameter as usize] = Setting {
                    value: table.value,
                    sd: table.sd.unwrap_or(0.0),
                    low: table.low.unwrap_or(none.low),
                    high: table.high.unwrap_or(none.high),
                };
            }
        }
        settings
    }

    /// The average jaw with what a TOML file sets otherwise: a number, or a table of `value` and `sd`.
    ///
    /// # Errors
    /// [`JawError::Settings`] for what is no such file, [`JawError::OutOfRange`] for what no jaw has.
    pub fn from_toml(text: &str) -> Result<Self, JawError> {
        let mut settings = Self { is_own: true, ..Self::average() };
        for (key, entry) in read(text)? {
            let Some(&parameter) = Parameter::ALL.iter().find(|parameter| parameter.key() == key) else {
                return Err(fault(format!("there is no key {key}")));
            };
            let (value, sd) = match entry {
                Entry::Value(value) => (value, None),
                Entry::Table(table) => (table.value, table.sd),
            };
            settings.set(parameter, value)?;
            if let Some(sd) = sd {
                if !(sd >= 0.0 && sd.is_finite()) {
                    return Err(fault(format!("{key}: sd = {sd} is no standard deviation")));
                }
                settings.settings[parameter as usize].sd = sd;
            }
        }
        Ok(settings)
    }

    /// One setting.
    pub fn get(&self, parameter: Parameter) -> Setting {
        self.settings[parameter as usize]
    }

    /// The value of one setting, in the unit that its key names.
    pub fn value(&self, parameter: Parameter) -> f64 {
        self.get(parameter).value
    }

    /// Sets a value.
    ///
    /// # Errors
    /// [`JawError::OutOfRange`]
    pub fn set(&mut self, parameter: Parameter, value: f64) -> Result<(), JawError> {
        let setting = &mut self.settings[parameter as usize];
        let (key, low, high) = (parameter.key(), setting.low, setting.high);
        if !(low <= value && value <= high) {
            return Err(JawError::OutOfRange { key, value, low, high });
        }
        setting.value = value;
        Ok(())
    }

    /// Widens a spread by one that is independent of it.
    pub fn add_spread(&mut self, parameter: Parameter, sd: f64) {
        let setting = &mut self.settings[parameter as usize];
        setting.sd = setting.sd.hypot(sd);
    }

    /// The settings with one value moved by `sds` standard deviations, kept within its range.
    pub fn varied(&self, parameter: Parameter, sds: f64) -> Self {
        let mut varied = self.clone();
        let setting = &mut varied.settings[parameter as usize];
        setting.value = (setting.value + sds * setting.sd).clamp(setting.low, setting.high);
        varied
    }
}

/// The Bennett angle that goes with a condylar inclination, `H / 8 + 12`, both in degrees.
///
/// # Source
/// Hanau 1930: `docs/sources.md#bennett-angle`.
pub fn bennett_from_inclination_deg(inclination_deg: f64) -> f64 {
    inclination_deg / 8.0 + 12.0
}

fn read(text: &str) -> Result<BTreeMap<String, Entry>, JawError> {
    toml::from_str(text).map_err(|error| fault(error.message().trim().replace('\n', " ")))
}

fn fault(fault: String) -> JawError {
    JawError::Settings { fault, keys: Parameter::ALL.map(Parameter::key).join(", ") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_average_jaw_sets_everything_within_its_range() {
        let average = JawSettings::average();
        for (place, parameter) in Parameter::ALL.into_iter().enumerate() {
            assert_eq!(parameter as usize, place, "{parameter:?}");
            let Setting { value, sd, low, high } = average.get(parameter);
            assert!(low <= value && value <= high && sd >= 0.0, "{parameter:?}");
            assert!(low.is_finite() && high.is_finite(), "{parameter:?}");
        }
        assert_eq!(read(AVERAGE).unwrap().len(), Parameter::ALL.len());
    }

    #[test]
    fn a_file_of_ones_own_changes_what_it_names() {
        let own = JawSettings::from_toml(
            "condylar_inclination_left_deg = 38\nbennett_left_deg = { value = 12, sd = 2 }",
        );
        let own = own.unwrap();
        assert_eq!(own.value(Parameter::CondylarInclinationLeft), 38.0);
        assert_eq!(own.value(Parameter::CondylarInclinationRight), 32.0);
        assert_eq!((own.get(Parameter::BennettLeft).value, own.get(Parameter::BennettLeft).sd), (12.0, 2.0));
        assert_eq!(JawSettings::from_toml(AVERAGE).unwrap().settings, JawSettings::average().settings);
    }

    #[test]
    fn what_is_no_jaw_is_refused() {
        let refused = |text| JawSettings::from_toml(text).unwrap_err().to_string();
        assert!(refused("balkwil_deg = 22").contains("there is no key balkwil_deg"));
        assert!(refused("bonwill_side_mm = 10.5").contains("outside 70 to 130"));
        assert!(refused("bonwill_side_mm = nan").contains("outside"));
        assert!(refused("bennett_left_deg = { value = 12, sd = -2 }").contains("no standard deviation"));
        assert!(refused("bennett_left_deg = { valu = 12 }").contains("bonwill_side_mm, balkwill_deg"));
        assert!(refused("][").contains("jaw settings"));
    }

    /// `docs/sources.md#bennett-angle`: the formula's own values; some texts print 15 for 33, which it does not give.
    #[test]
    fn the_bennett_angle_by_formula() {
        let table =
            [(20.0, 14.50), (25.0, 15.125), (30.0, 15.75), (33.0, 16.125), (35.0, 16.375), (40.0, 17.00)];
        for (inclination_deg, bennett_deg) in table {
            assert_eq!(bennett_from_inclination_deg(inclination_deg), bennett_deg);
        }
    }
}
