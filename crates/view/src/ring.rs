//! The finish line, unrolled.

use kerfwright_measure::document::rounded;
use kerfwright_measure::frame::Aspect;
use kerfwright_measure::preparation::Preparation;
use kerfwright_measure::sheet::expanded;
use kerfwright_measure::station::Station;
use kerfwright_measure::{Document, document::Value};
use serde::{Deserialize, Serialize};

use crate::frame::ScreenFrame;
use crate::view::{ShownStation, ShownWall, View, coordinates};

/// The finish line round the tooth.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS, utoipa::ToSchema))]
pub struct RingAnswer {
    /// Length, mm.
    pub length_mm: f64,
    /// In order round the tooth; the last is followed by the first.
    pub stations: Vec<RingStation>,
}

/// A value with its expanded uncertainty, k = 2, in the same unit.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS, utoipa::ToSchema))]
pub struct Uncertain {
    /// The value.
    pub value: f64,
    /// Its uncertainty at this one place.
    pub u95: f64,
}

/// One station.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS, utoipa::ToSchema))]
pub struct RingStation {
    /// On the finish line, screen frame, mm.
    pub point: [f64; 3],
    /// Way along the finish line from the first station, mm.
    pub along_mm: f64,
    /// Around the tooth: 0 mesial, 90 facial, 180 distal, 270 lingual.
    pub angle_deg: f64,
    /// The aspect.
    pub aspect: String,
    /// Whether the finish line was seen here or bridged.
    pub seen: bool,
    /// Kind of the finish line, as the reading of this aspect has it.
    pub kind: Option<String>,
    /// From the edge to the wall line, mm.
    pub width_mm: Option<Uncertain>,
    /// Over the gingiva, mm.
    pub above_gingiva_mm: Option<Uncertain>,
    /// Angle of the wall to the path, degrees.
    pub taper_deg: Option<Uncertain>,
    /// From the finish line to the occlusal line angle, mm.
    pub wall_height_mm: Option<f64>,
    /// Slope of the floor, degrees.
    pub declination_deg: Option<f64>,
}

/// The ring of a view; kinds come from the document.
pub fn ring(view: &View, document: &Document) -> RingAnswer {
    let kind = |aspect: Aspect| match document.readings.get(&format!("finish_line.kind.{}", aspect.id())) {
        Some(reading) => match &reading.value {
            Value::Text(word) => Some(word.clone()),
            Value::Number(_) => None,
        },
        None => None,
    };
    let kinds = Aspect::ALL.map(|aspect| (aspect, kind(aspect)));
    let mut along_mm = 0.0;
    let mut last = view.stations.first().map(|station| station.point);
    let stations = view.stations.iter().map(|station| {
        along_mm += last.map_or(0.0, |last| (station.point - last).norm());
        last = Some(station.point);
        let [width_u95, above_u95] = station.u95_mm;
        let uncertain = |value: f64, u95: f64| Uncertain { value: rounded(value), u95: rounded(u95) };
        let wall = station.wall.as_ref();
        RingStation {
            point: coordinates(&station.point),
            along_mm: rounded(along_mm),
            angle_deg: rounded(station.angle_deg),
            aspect: station.aspect.id().into(),
            seen: station.seen,
            kind: kinds
                .iter()
                .find(|(aspect, _)| *aspect == station.aspect)
                .and_then(|(_, kind)| kind.clone()),
            width_mm: wall.map(|wall| uncertain(wall.width_mm, width_u95)),
            above_gingiva_mm: station.above_gingiva_mm.map(|mm| uncertain(mm, above_u95)),
            taper_deg: wall.map(|wall| uncertain(wall.taper_deg, wall.taper_u95_deg)),
            wall_height_mm: wall.and_then(|wall| wall.height_mm).map(rounded),
            declination_deg: station.declination_deg.map(rounded),
        }
    });
    RingAnswer { stations: stations.collect(), length_mm: document.finish_line.length_mm }
}

/// The stations as a view keeps them.
pub(crate) fn stations(preparation: &Preparation<'_>, frame: &ScreenFrame) -> Vec<ShownStation> {
    preparation.stations.iter().map(|station| shown(preparation, frame, station)).collect()
}

fn shown(preparation: &Preparation<'_>, frame: &ScreenFrame, station: &Station) -> ShownStation {
    // As for the readings of an aspect, but of one section alone.
    const FLOOR_DEG: f64 = 0.12;
    const EDGE_MM: f64 = 0.008;
    let to_screen = frame.screen_from_after;
    let flat = &station.section.frame;
    let wall = station.wall.as_ref().map(|wall| {
        // The line between the arc lengths that carry it, seen along itself.
        let along = |arc_mm: f64| {
            let at = station.section.at_arc(arc_mm).unwrap_or(wall.line.point);
            wall.line.point + wall.line.direction * (at - wall.line.point).dot(&wall.line.direction)
        };
        ShownWall {
            ends: wall.fitted_mm.map(|arc_mm| to_screen * flat.solid(&along(arc_mm))),
            taper_deg: wall.taper_deg,
            taper_u95_deg: expanded(&[wall.angle_sigma_deg, FLOOR_DEG]),
            width_mm: wall.width_mm,
            height_mm: wall.top.map(|top| top.y),
        }
    });
    let sine = station.cavosurface_deg.map_or(1.0, |deg| deg.to_radians().sin().abs().max(0.15));
    let pose_mm = if preparation.pose.is_some() {
        preparation.pose_sigma_mm() / sine
    } else {
        0.2 * preparation.edge_mm
    };
    // One section crosses the edge somewhere on a triangle: its own scatter is the noise seen under the angle of the edge.
    let edge_mm = preparation.noise_mm / sine;
    let width_u95 = expanded(&[edge_mm, pose_mm, preparation.noise_mm, EDGE_MM]);
    let crease_mm = match Aspect::at(station.angle_deg) {
        Aspect::Mesial | Aspect::Distal => 0.065,
        _ => 0.03,
    };
    ShownStation {
        point: to_screen * station.edge(),
        normal: to_screen * flat.plane().normal,
        angle_deg: station.angle_deg,
        aspect: Aspect::at(station.angle_deg),
        seen: station.seen,
        wall,
        declination_deg: station.declination_deg,
        above_gingiva_mm: station.above_gingiva_mm(&preparation.frame.occlusal),
        u95_mm: [width_u95, expanded(&[edge_mm, crease_mm])],
    }
}
