//! The prepared tooth seen along its axis: a soft relief with marks over it.

use kerfwright_measure::preparation::Preparation;
use kerfwright_measure::scene::Placed;
use nalgebra::{Point3, Vector3};

use super::canvas::{short, stroke};
use crate::encode;
use crate::svg;

/// A part of the view and where it stands in the figure.
#[derive(Debug, Clone)]
pub struct Plan {
    origin: Point3<f64>,
    right: Vector3<f64>,
    up: Vector3<f64>,
    toward: Vector3<f64>,
    /// Left, right, bottom and top in mm.
    pub window: [f64; 4],
    /// Top left corner in the figure, px.
    pub corner: [f64; 2],
    /// px a mm.
    pub scale: f64,
    /// −1 where mesial lies to the left.
    mesial_sign: f64,
}

impl Plan {
    /// Facial is up; mesial lies where it lies on the tooth. The window is (mesial, facial) with mesial towards the right
    /// end, turned round where mesial lies to the left.
    pub fn of(preparation: &Preparation<'_>, window: [f64; 4], corner: [f64; 2], scale: f64) -> Self {
        let frame = &preparation.frame;
        let right = frame.facial.cross(&frame.occlusal);
        let mesial_sign = right.dot(&frame.mesial).signum();
        let window = if mesial_sign > 0.0 { window } else { [-window[1], -window[0], window[2], window[3]] };
        Self {
            origin: frame.origin,
            right,
            up: frame.facial,
            toward: frame.occlusal,
            window,
            corner,
            scale,
            mesial_sign,
        }
    }

    /// Where coordinates of the tooth frame (mesial, facial) lie in the figure.
    pub fn px(&self, mesial_mm: f64, facial_mm: f64) -> [f64; 2] {
        let x = mesial_mm * self.mesial_sign;
        short([
            self.corner[0] + (x - self.window[0]) * self.scale,
            self.corner[1] + (self.window[3] - facial_mm) * self.scale,
        ])
    }

    /// Where a point lies in the figure.
    pub fn solid(&self, point: &Point3<f64>) -> [f64; 2] {
        let at = point - self.origin;
        self.px(at.dot(&self.right) * self.mesial_sign, at.dot(&self.up))
    }

    /// Bottom of the panel, px.
    pub fn bottom(&self) -> f64 {
        self.corner[1] + (self.window[3] - self.window[2]) * self.scale
    }

    /// Right end of the panel, px.
    pub fn right_px(&self) -> f64 {
        self.corner[0] + (self.window[1] - self.window[0]) * self.scale
    }

    /// The surface as a grey relief, light from the upper left.
    pub fn relief(&self, scan: &Placed<'_>) -> String {
        const STEP_MM: f64 = 0.075;
        const ABOVE_MM: f64 = 20.0;
        let [left, right, bottom, top] = self.window;
        let width = ((right - left) / STEP_MM) as usize;
        let height = ((top - bottom) / STEP_MM) as usize;
        let own = scan.after_from_scan.inverse();
        let direction = own * -self.toward;
        let rays: Vec<(Point3<f64>, Vector3<f64>)> = (0..width * height)
            .map(|k| {
                let x = left + STEP_MM * ((k % width) as f64 + 0.5);
                let y = top - STEP_MM * ((k / width) as f64 + 0.5);
                (own * (self.origin + self.right * x + self.up * y + self.toward * ABOVE_MM), direction)
            })
            .collect();
        let light = own * (self.toward - self.right * 0.55 + self.up * 0.65).normalize();
        let hits = scan.surface.tree.ray_many(&rays, 2.0 * ABOVE_MM);
        let shades = hits.iter().flat_map(|hit| {
            let Some(hit) = hit else { return [251, 250, 246, 0] };
            let corners = scan.surface.mesh.triangles[hit.triangle as usize];
            let normal: Vector3<f64> =
                corners.iter().map(|&vertex| scan.surface.vertex_normals[vertex as usize]).sum();
            let lambert = normal.normalize().dot(&light).max(0.0);
            // Few steps: the file stays small, and a last digit does not change the picture.
            let shade = (150.0 + 100.0 * (lambert * 20.0).round() / 20.0) as u8;
            [shade, shade, shade.saturating_sub(6), 255]
        });
        let png = encode::png(width, height, &shades.collect::<Vec<u8>>());
        let size = short([self.right_px() - self.corner[0], self.bottom() - self.corner[1]]);
        format!(
            "<image x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" href=\"{}\"/>",
            self.corner[0],
            self.corner[1],
            size[0],
            size[1],
            encode::data_uri(&png)
        )
    }

    /// The finish line.
    pub fn finish_line(&self, preparation: &Preparation<'_>) -> String {
        let points = &preparation.ring.points;
        let around = || points.iter().chain(points.first()).map(|point| self.solid(point));
        stroke("line-case", around()) + &stroke("line", around())
    }

    /// Where the four sides are.
    pub fn sides(&self) -> String {
        let middle = 0.5 * (self.corner[0] + self.right_px());
        let half = 0.5 * (self.corner[1] + self.bottom());
        let [left, right] = if self.mesial_sign > 0.0 { ["distal", "mesial"] } else { ["mesial", "distal"] };
        [
            svg::text("side middle", short([middle, self.corner[1] + 16.0]), "facial"),
            svg::text("side middle", short([middle, self.bottom() - 8.0]), "lingual"),
            svg::text("side start", short([self.corner[0] + 6.0, half]), left),
            svg::text("side end", short([self.right_px() - 6.0, half]), right),
        ]
        .concat()
    }
}
