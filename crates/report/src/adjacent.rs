//! Pictures of damaged adjacent teeth, seen from where the prepared tooth stands.

use kerfwright_measure::document::Reading;
use kerfwright_measure::{Document, Preparation};
use nalgebra::Point3;

use crate::camera::{Axes, Camera};
use crate::encode;
use crate::gallery::scale;
use crate::layer::Layer;
use crate::picture::bare;
use crate::svg;
use crate::text::{escape, fixed};

/// Size of a picture, px, and its scale.
const SIZE: [usize; 2] = [420, 320];
const PX_PER_MM: f64 = 42.0;
/// Before the damaged place, mm: the prepared tooth is cut away there.
const NEAR_MM: f64 = 0.6;

/// A picture for each side with damage; empty if there is none.
pub fn pictures(preparation: &Preparation<'_>, axes: &Axes, document: &Document) -> String {
    let damaged: Vec<(&str, &Reading)> = ["mesial", "distal"]
        .into_iter()
        .filter_map(|side| Some((side, document.readings.get(&format!("neighbour.{side}.depth_mm"))?)))
        .filter(|(_, reading)| reading.number().is_some_and(|mm| mm > 0.0))
        .collect();
    let Some(layer) = (!damaged.is_empty()).then(|| Layer::of_neighbours(preparation)).flatten() else {
        return String::new();
    };
    let figures = damaged.iter().filter_map(|(side, reading)| {
        let area_mm2 = document.readings.get(&format!("neighbour.{side}.area_mm2"))?.number()?;
        figure(preparation, axes, &layer, side, reading, area_mm2)
    });
    let title = "Lower than before, mm";
    format!(
        "<div class=\"adjacent\">{}<div class=\"legend\"><h3>{title}</h3>{}<p>Shown for all that is not the prepared \
         tooth; below three times the scatter nothing counts as damage.</p></div></div>",
        figures.collect::<String>(),
        scale(&layer, title)
    )
}

fn figure(
    preparation: &Preparation<'_>,
    axes: &Axes,
    layer: &Layer,
    side: &str,
    reading: &Reading,
    area_mm2: f64,
) -> Option<String> {
    let [x, y, z] = reading.place.as_ref()?.point;
    let at = Point3::new(x, y, z);
    let toward = if side == "mesial" { -axes.mesial } else { axes.mesial };
    let [width, height] = SIZE;
    let camera = Camera {
        centre: at,
        right: axes.path.cross(&toward),
        up: axes.path,
        toward,
        px_per_mm: PX_PER_MM,
        width,
        height,
        near_mm: NEAR_MM,
    };
    let is_shown = |corners: &[u32; 3]| corners.iter().all(|&vertex| !preparation.inside[vertex as usize]);
    let png = bare(preparation.scene.after, layer, &camera, is_shown);
    let (wide, high) = (width as f64, height as f64);
    let mut drawn =
        format!("<image href=\"{}\" width=\"{wide}\" height=\"{high}\"/>", encode::data_uri(&png));
    drawn += &svg::text("toward start", [8.0, high - 12.0], axes.word(&-camera.right));
    drawn += &svg::text("toward end", [wide - 8.0, high - 12.0], axes.word(&camera.right));
    let depth_mm = fixed(reading.number()?, 2);
    let words = format!(
        "The {side} neighbour seen from the prepared tooth: damaged over {} mm², at most {depth_mm} mm deep.",
        fixed(area_mm2, 2)
    );
    Some(format!(
        "<figure class=\"view\">{}<figcaption><strong>{} neighbour</strong> {}</figcaption></figure>",
        svg::image("picture", "", [0.0, 0.0, wide, high], &words, &drawn),
        if side == "mesial" { "Mesial" } else { "Distal" },
        escape(&words)
    ))
}
