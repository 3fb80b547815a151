//! What was asked of an attempt, as the core takes it: the same as from the options of the command line.

use kerfwright_jaw::{JawSettings, read_recording};
use kerfwright_measure::{JawWishes, PathChoice, Request};
use kerfwright_mesh::Extent;
use kerfwright_tooth::{Numbered, System};
use nalgebra::{Point3, Vector3};

use crate::error::ApiError;
use crate::wire::{AttemptRequest, ExtentName, PathName, PathWish, SystemName};

impl From<ExtentName> for Extent {
    fn from(name: ExtentName) -> Self {
        match name {
            ExtentName::Arch => Self::Arch,
            ExtentName::Die => Self::Die,
        }
    }
}

/// One request a tooth: all that were named together, else the one.
pub fn requests_for(asked: &AttemptRequest) -> Result<Vec<Request>, ApiError> {
    let (path, jaw) = (path_of(asked)?, jaw_of(asked)?);
    let request = |number: &String| {
        Ok(Request {
            tooth: number_of(number, asked.system)?,
            mesial_point: asked.mesial_point.map(Point3::from),
            path,
            jaw: jaw.clone(),
        })
    };
    match &asked.together {
        Some(together) => together.iter().map(request).collect(),
        None => Ok(vec![request(&asked.tooth)?]),
    }
}

/// Whether a request is for the attempt's own tooth, not for one that was named beside it.
pub fn is_own(asked: &AttemptRequest, request: &Request) -> bool {
    number_of(&asked.tooth, asked.system).is_ok_and(|own| own.tooth == request.tooth.tooth)
}

/// One request a tooth that is named, each knowing the others; the request itself where it names one.
pub fn each_tooth(asked: AttemptRequest) -> Result<Vec<AttemptRequest>, ApiError> {
    if asked.together.is_some() {
        return Err(ApiError::wrong(
            "tooth",
            "name several teeth in `tooth`, as 35,37, and leave `together` out",
        ));
    }
    let numbers: Vec<String> = asked.tooth.split(',').map(|number| number.trim().to_owned()).collect();
    if numbers.len() < 2 {
        return Ok(vec![asked]);
    }
    let one = |number: &String| AttemptRequest {
        tooth: number.clone(),
        together: Some(numbers.clone()),
        ..asked.clone()
    };
    Ok(numbers.iter().map(one).collect())
}

/// The tooth that was asked for.
pub fn tooth_of(asked: &AttemptRequest) -> Result<Numbered, ApiError> {
    number_of(&asked.tooth, asked.system)
}

fn number_of(number: &str, system: Option<SystemName>) -> Result<Numbered, ApiError> {
    let system = system.map(|system| match system {
        SystemName::Fdi => System::Fdi,
        SystemName::Universal => System::Universal,
        SystemName::Palmer => System::Palmer,
    });
    kerfwright_tooth::parse(number, system).map_err(|error| ApiError::wrong("tooth", error.to_string()))
}

fn path_of(asked: &AttemptRequest) -> Result<PathChoice, ApiError> {
    match asked.path {
        None | Some(PathWish::Named(PathName::Best)) => Ok(PathChoice::Best),
        Some(PathWish::Named(PathName::Axis)) => Ok(PathChoice::Axis),
        Some(PathWish::Fixed(along)) => {
            let direction =
                Vector3::from(along).try_normalize(1e-9).filter(|unit| unit.iter().all(|x| x.is_finite()));
            let direction = direction.ok_or_else(|| {
                ApiError::wrong(
                    "path",
                    "the path is no direction; give best, axis, or three numbers that are not all 0",
                )
            })?;
            Ok(PathChoice::Fixed(direction))
        }
    }
}

fn jaw_of(asked: &AttemptRequest) -> Result<JawWishes, ApiError> {
    let mut jaw = JawWishes::default();
    if let Some(settings) = &asked.jaw {
        // The reader of the command line's files checks keys and ranges.
        let line = |(key, value): (&String, &f64)| format!("{key:?} = {value:?}\n");
        let text: String = settings.iter().map(line).collect();
        jaw.settings =
            JawSettings::from_toml(&text).map_err(|error| ApiError::wrong("jaw", error.to_string()))?;
    }
    if let Some(motion) = &asked.motion {
        jaw.recordings =
            read_recording(motion).map_err(|error| ApiError::wrong("motion", error.to_string()))?;
    }
    Ok(jaw)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn asked(json: &str) -> AttemptRequest {
        serde_json::from_str(json).unwrap()
    }

    #[test]
    fn what_is_left_out_is_the_usual() {
        let requests = requests_for(&asked(r#"{"after":"a","tooth":"26"}"#)).unwrap();
        assert!(
            requests.len() == 1 && requests[0].path == PathChoice::Best && !requests[0].jaw.settings.is_own
        );
    }

    #[test]
    fn several_teeth_become_an_attempt_each_that_knows_the_others() {
        let each = each_tooth(asked(r#"{"after":"a","tooth":"35, 37"}"#)).unwrap();
        assert_eq!(each.iter().map(|one| one.tooth.as_str()).collect::<Vec<_>>(), ["35", "37"]);
        let requests = requests_for(&each[1]).unwrap();
        assert_eq!(requests.iter().position(|request| is_own(&each[1], request)), Some(1));
    }

    #[test]
    fn path_and_jaw_are_taken_or_refused_with_a_reason() {
        let path = |json: &str| path_of(&asked(&format!(r#"{{"after":"a","tooth":"26","path":{json}}}"#)));
        assert_eq!(path(r#""axis""#).unwrap(), PathChoice::Axis);
        assert_eq!(path("[0,0,2]").unwrap(), PathChoice::Fixed(Vector3::z()));
        assert!(path("[0,0,0]").unwrap_err().message.contains("no direction"));
        let jaw = |json: &str| jaw_of(&asked(&format!(r#"{{"after":"a","tooth":"26","jaw":{json}}}"#)));
        assert!(jaw(r#"{"condylar_inclination_right_deg":35}"#).unwrap().settings.is_own);
        assert!(jaw(r#"{"condylar_inclination_right_deg":900}"#).unwrap_err().message.contains("900"));
        assert!(jaw(r#"{"no_such_key":1}"#).unwrap_err().message.contains("no_such_key"));
        assert!(jaw_of(&asked(r#"{"after":"a","tooth":"26","motion":"x"}"#)).is_err());
    }
}
