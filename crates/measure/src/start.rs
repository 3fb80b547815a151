//! Where the prepared teeth are: a rough outline each, from the change between the scans or from the shape alone.

use kerfwright_geometry::Surface;
use nalgebra::{Point3, Vector3};

use crate::region::{Change, Region};
use crate::{MeasureError, finish_line, locate};

/// A prepared tooth as first found.
#[derive(Debug, Clone)]
pub struct Start {
    /// First guess of the finish line.
    pub outline: Vec<Point3<f64>>,
    /// Roughly the direction in which the tooth points. Unit.
    pub up: Vector3<f64>,
}

/// The prepared teeth that a scan shows.
#[derive(Debug, Clone)]
pub struct Starts {
    /// One each; the one that stands out most comes first.
    pub teeth: Vec<Start>,
    /// Cut regions that are no prepared tooth.
    pub n_others: usize,
}

impl Start {
    /// Middle of the outline's points.
    pub fn centre(&self) -> Point3<f64> {
        let sum: Vector3<f64> = self.outline.iter().map(|point| point.coords).sum();
        Point3::from(sum / self.outline.len().max(1) as f64)
    }

    fn of_region(after: &Surface, change: &Change, region: &Region) -> Option<Self> {
        let outline = finish_line::from_change(after, change, region)?;
        Some(Self { outline, up: region.facing })
    }
}

/// All prepared teeth.
///
/// # Errors
/// None is found, or the scans are swapped.
pub fn find_all(after: &Surface, change: Option<&Change>) -> Result<Starts, MeasureError> {
    match change {
        Some(change) => {
            let (regions, n_others) = change.prepared_regions(after)?;
            let starts: Vec<Option<Start>> =
                regions.iter().map(|region| Start::of_region(after, change, region)).collect();
            // A smaller region without an outline is no tooth: ragged gingiva, the rim of a hole. The largest must have one, or
            // another would be measured in its place.
            if starts.first().is_none_or(Option::is_none) {
                return Err(without_line(&regions));
            }
            let teeth: Vec<Start> = starts.into_iter().flatten().collect();
            Ok(Starts { n_others: n_others + regions.len() - teeth.len(), teeth })
        }
        None => Ok(Starts { teeth: locate::from_shape(after)?, n_others: 0 }),
    }
}

/// That something was cut, and no finish line runs round it.
pub fn without_line(cut: &[Region]) -> MeasureError {
    MeasureError::CutWithoutLine { area_mm2: cut.first().map_or(0.0, |largest| largest.area_mm2) }
}

/// The one prepared tooth, or the one nearest to `hint`, and how many cut regions are left out.
///
/// # Errors
/// As for [`find_all`], and several teeth were cut without a hint. Without a before scan the tooth that looks most like a
/// preparation is taken: an uncut one may look a little like it.
pub fn find_one(
    after: &Surface,
    change: Option<&Change>,
    hint: Option<&Point3<f64>>,
) -> Result<(Start, usize), MeasureError> {
    let Starts { mut teeth, n_others } = find_all(after, change)?;
    let n_teeth = teeth.len();
    let chosen = match hint {
        Some(hint) => {
            let distance = |k: usize| (teeth[k].centre() - hint).norm();
            (0..n_teeth).min_by(|&a, &b| distance(a).total_cmp(&distance(b))).unwrap_or(0)
        }
        None if change.is_some() && n_teeth > 1 => return Err(MeasureError::SeveralTeeth { n_teeth }),
        None => 0,
    };
    let n_left_out = if change.is_some() { n_others + n_teeth - 1 } else { 0 };
    Ok((teeth.swap_remove(chosen), n_left_out))
}
