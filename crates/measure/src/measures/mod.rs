//! The measures: one module each, all of the same shape, `fn take(&Preparation, &mut Sheet)`.
//!
//! To add one: write its module, add a line to [`ALL`], define it in `docs/measures.md`. The command line, the
//! document and the report show whatever stands on the sheet.

mod above_gingiva;
pub mod abutments;
mod axial;
mod by_station;
mod channel;
mod clearance;
mod contact;
mod continuity;
pub mod cusp_line;
mod damage;
mod edge;
pub mod excursion;
mod facial;
mod finish_line;
mod floor_shape;
mod front;
mod incline;
mod kind;
mod neighbour;
mod occlusal;
mod path;
mod points;
mod profile;
mod registration;
mod resistance;
mod retention;
mod scan;
mod shoulder;
mod smoothness;
mod space;
mod surface;
mod taper;
pub mod undercut;
mod volume;
mod wall;

use crate::frame::Aspect;
use crate::preparation::Preparation;
use crate::sheet::Sheet;

/// Takes readings from a preparation.
pub type Measure = fn(&Preparation<'_>, &mut Sheet);

/// Every measure, in the order in which they are taken.
pub const ALL: &[Measure] = &[
    registration::take,
    scan::take,
    occlusal::take,
    points::take,
    front::take,
    incline::take,
    cusp_line::take,
    space::take,
    axial::take,
    volume::take,
    clearance::take,
    excursion::take,
    taper::take,
    path::take,
    undercut::take,
    finish_line::take,
    kind::take,
    above_gingiva::take,
    wall::take,
    resistance::take,
    retention::take,
    facial::take,
    neighbour::take,
    damage::take,
    floor_shape::take,
    shoulder::take,
    channel::take,
    continuity::take,
    contact::take,
    edge::take,
    surface::take,
];

/// Takes all readings. Measures run in parallel and are written in order.
pub fn take_all(preparation: &Preparation<'_>) -> Sheet {
    use rayon::prelude::*;
    let sheets: Vec<Sheet> = ALL
        .par_iter()
        // Some take a hundred times as long as others: each waits for itself alone.
        .with_max_len(1)
        .map(|measure| {
            let mut sheet = Sheet::default();
            measure(preparation, &mut sheet);
            sheet
        })
        .collect();
    let mut all = Sheet::default();
    for sheet in sheets {
        all.readings.extend(sheet.readings);
        all.refused.extend(sheet.refused);
    }
    all
}

/// Why a reading that compares with the uncut tooth is missing.
const NO_BEFORE: &str = "needs the scan before cutting: give it with --before";
/// Why a reading on the wall line is missing.
const NO_WALL: &str = "no axial wall, or less than 0.5 mm of straight wall over a round floor, was found in the middle of this aspect";
/// Why a reading against the opposing teeth is missing.
pub(crate) const NO_OPPOSING: &str = "needs the opposing teeth: give their scan with --opposing";

/// The aspect on the other side of the tooth.
fn opposite(aspect: Aspect) -> Aspect {
    Aspect::at(aspect.centre_deg() + 180.0)
}

/// Values of the stations in the middle half of an aspect.
struct Middle {
    values: Vec<f64>,
    places: Vec<usize>,
}

impl Middle {
    /// Collects `value` over the stations in the middle half of `aspect`; places index `preparation.stations`.
    fn of(
        preparation: &Preparation<'_>,
        aspect: Aspect,
        value: impl Fn(&crate::station::Station) -> Option<f64>,
    ) -> Self {
        let (mut values, mut places) = (Vec::new(), Vec::new());
        for (place, station) in preparation.stations.iter().enumerate() {
            if aspect.holds_in_middle(station.angle_deg)
                && let Some(value) = value(station).filter(|value| value.is_finite())
            {
                values.push(value);
                places.push(place);
            }
        }
        Self { values, places }
    }

    /// The same over the stations at which the finish line was seen, for what hangs on it.
    fn of_seen(
        preparation: &Preparation<'_>,
        aspect: Aspect,
        value: impl Fn(&crate::station::Station) -> Option<f64>,
    ) -> Self {
        Self::of(preparation, aspect, |station| value(station).filter(|_| station.seen))
    }

    fn median(&self) -> Option<f64> {
        // Fewer than four stations (half a millimetre) are no aspect.
        (self.values.len() >= 4).then(|| crate::stats::median(&self.values)).flatten()
    }

    fn mean(&self) -> Option<f64> {
        (!self.values.is_empty()).then(|| self.values.iter().sum::<f64>() / self.values.len() as f64)
    }

    /// Standard error of the median. Neighbouring stations share triangles, so about every third is independent.
    fn standard_error(&self) -> f64 {
        const STATIONS_A_SAMPLE: f64 = 3.0;
        let n = (self.values.len() as f64 / STATIONS_A_SAMPLE).max(1.0);
        let sigma = crate::stats::robust_sigma(&self.values).unwrap_or(0.0);
        1.2533 * sigma / n.sqrt()
    }

    fn least(&self) -> f64 {
        self.values.iter().copied().fold(f64::INFINITY, f64::min)
    }

    fn greatest(&self) -> f64 {
        self.values.iter().copied().fold(f64::NEG_INFINITY, f64::max)
    }

    /// The station in the middle of the list.
    fn middle_place(&self) -> Option<usize> {
        self.places.get(self.places.len() / 2).copied()
    }
}
