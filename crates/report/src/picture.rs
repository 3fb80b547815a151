//! Pictures of the prepared tooth, drawn by the program itself.

use kerfwright_geometry::Surface;
use kerfwright_measure::preparation::Preparation;
use nalgebra::{Point3, Vector3};
use rayon::prelude::*;

use crate::camera::{Axes, Camera, View};
use crate::colour::{Rgb, line_on};
use crate::encode;
use crate::layer::{self, Layer, Paint};
use crate::raster::Raster;

/// Width of a picture, px.
const WIDTH: usize = 480;
/// Greatest height of a picture, px.
const HEIGHT: usize = 400;
/// Samples a pixel, each way: smooth edges.
const OVER: usize = 2;
/// What is shown around the finish line, mm.
const AROUND_MM: f64 = 1.8;
/// How far past the finish line a neighbour is cut away, mm.
const PAST_FINISH_LINE_MM: f64 = 0.15;
/// How far past the finish line things before the tooth are cut away seen from facial and lingual, mm.
const PAST_ARCH_MM: f64 = 4.0;
/// A neighbour is looked for this far behind the plane at which it is cut away, mm.
const LEANING_MM: f64 = 2.0;
/// A line on the surface may lie this far behind it, mm: half a triangle at an edge.
const LINE_DEPTH_MM: f64 = 0.15;

/// One picture with what is drawn over it.
#[derive(Debug)]
pub struct Picture {
    /// From where.
    pub view: View,
    /// How.
    pub camera: Camera,
    /// The image.
    pub png: Vec<u8>,
    /// The finish line in image coordinates: pieces that are seen and pieces that are hidden.
    pub finish_line: Vec<Piece>,
    /// Which of the marked places are seen, and where.
    pub marks: Vec<(usize, [f64; 2])>,
    /// Numbers seen in this picture: 5th percentile, median, 95th percentile.
    pub spread: Option<[f64; 3]>,
}

/// A piece of a line.
#[derive(Debug, Clone, PartialEq)]
pub struct Piece {
    /// Whether it lies on the viewer's side.
    pub is_seen: bool,
    /// Image coordinates, px.
    pub points: Vec<[f64; 2]>,
}

/// The five pictures. `marks` are places to be marked where they are seen.
pub fn pictures(
    preparation: &Preparation<'_>,
    layer: &Layer,
    axes: &Axes,
    marks: &[Point3<f64>],
) -> Vec<Picture> {
    let cameras = cameras(preparation, axes);
    let all = View::ALL.par_iter().zip(&cameras);
    all.map(|(&view, camera)| picture(preparation, layer, view, camera, marks)).collect()
}

/// A bare picture of those triangles that `is_shown`, as PNG.
pub fn bare(
    after: &Surface,
    layer: &Layer,
    camera: &Camera,
    is_shown: impl Fn(&[u32; 3]) -> bool,
) -> Vec<u8> {
    let fine = camera.enlarged(OVER);
    let raster = Raster::draw(&after.mesh.vertices, &after.mesh.triangles, &fine, is_shown);
    encode::png(camera.width, camera.height, &Canvas::paint(after, layer, &raster, &fine).averaged())
}

fn picture(
    preparation: &Preparation<'_>,
    layer: &Layer,
    view: View,
    camera: &Camera,
    marks: &[Point3<f64>],
) -> Picture {
    let after = preparation.scene.after;
    let fine = camera.enlarged(OVER);
    // A neighbour that leans over the finish line would hide the wall behind it.
    let leans_over = |vertex: u32| {
        let vertex = vertex as usize;
        let toward_mm = (after.mesh.vertices[vertex] - fine.centre).dot(&fine.toward);
        layer.inset_mm[vertex] <= 0.0 && layer.above_mm[vertex] > 0.2 && toward_mm > fine.near_mm - LEANING_MM
    };
    let is_shown =
        |corners: &[u32; 3]| !(view.is_proximal() && corners.iter().all(|&vertex| leans_over(vertex)));
    let raster = Raster::draw(&after.mesh.vertices, &after.mesh.triangles, &fine, is_shown);
    let canvas = Canvas::paint(after, layer, &raster, &fine);
    let shows = |point: &Point3<f64>, allowed_mm: f64| {
        let at = fine.project(point);
        at.z <= fine.near_mm + allowed_mm
            && raster.shows(&at, allowed_mm)
            && raster.at(&at).is_none_or(|triangle| !is_back(after, triangle, &fine))
    };
    let flat = |point: &Point3<f64>| {
        let at = camera.project(point);
        [at.x, at.y]
    };
    let ring = &preparation.ring.points;
    let is_seen: Vec<bool> = ring.iter().map(|point| shows(point, LINE_DEPTH_MM)).collect();
    let seen_marks = marks.iter().enumerate().filter(|(_, point)| shows(point, 2.0 * LINE_DEPTH_MM));
    Picture {
        view,
        camera: *camera,
        png: encode::png(camera.width, camera.height, &canvas.averaged()),
        finish_line: pieces(&ring.iter().map(flat).collect::<Vec<_>>(), &is_seen),
        marks: seen_marks.map(|(index, point)| (index, flat(point))).collect(),
        spread: canvas.spread(),
    }
}

/// Five cameras at one scale that hold the preparation and a little around it.
fn cameras(preparation: &Preparation<'_>, axes: &Axes) -> Vec<Camera> {
    let after = preparation.scene.after;
    let prepared = after.mesh.vertices.iter().zip(&preparation.inside).filter(|(_, inside)| **inside);
    let held: Vec<&Point3<f64>> = prepared.map(|(point, _)| point).chain(&preparation.ring.points).collect();
    let extent = |direction: &Vector3<f64>| {
        let along = held.iter().map(|point| (*point - axes.origin).dot(direction));
        along.fold((0.0f64, 0.0f64), |(low, high), mm| (low.min(mm), high.max(mm)))
    };
    let fits = |view: View| {
        let (left, right) = extent(&axes.right(view));
        let (low, high) = extent(&axes.up(view));
        let wide = WIDTH as f64 / (right - left + 2.0 * AROUND_MM);
        wide.min(HEIGHT as f64 / (high - low + 2.0 * AROUND_MM))
    };
    let px_per_mm = View::ALL.iter().map(|&view| fits(view)).fold(60.0, f64::min);
    let camera = |view: View| {
        let (right, up, toward) = (axes.right(view), axes.up(view), axes.toward(view));
        let middle = |direction: &Vector3<f64>| {
            let (low, high) = extent(direction);
            direction * (0.5 * (low + high))
        };
        let past_mm = match view {
            View::Mesial | View::Distal => PAST_FINISH_LINE_MM,
            View::Facial | View::Lingual => PAST_ARCH_MM,
            View::Occlusal => f64::INFINITY,
        };
        let (low, high) = extent(&up);
        let height = ((high - low + 2.0 * AROUND_MM) * px_per_mm).round() as usize;
        Camera {
            centre: axes.origin + middle(&right) + middle(&up),
            right,
            up,
            toward,
            px_per_mm,
            width: WIDTH,
            height: height.clamp(120, HEIGHT),
            near_mm: extent(&toward).1 + past_mm,
        }
    };
    View::ALL.map(camera).into()
}

/// Cuts a closed line where it passes out of sight; pieces of one or two points join their surroundings.
fn pieces(points: &[[f64; 2]], is_seen: &[bool]) -> Vec<Piece> {
    let n = points.len();
    let calm = |k: usize| {
        let near = (0..5).filter(|offset| is_seen[(k + n + offset - 2) % n]).count();
        near >= 3
    };
    let seen: Vec<bool> = (0..n).map(calm).collect();
    let start = (0..n).find(|&k| seen[k] != seen[(k + n - 1) % n]).unwrap_or(0);
    let mut pieces: Vec<Piece> = Vec::new();
    for step in 0..=n {
        let k = (start + step) % n;
        match pieces.last_mut() {
            Some(piece) => {
                piece.points.push(points[k]);
                if step < n && piece.is_seen != seen[k] {
                    pieces.push(Piece { is_seen: seen[k], points: vec![points[k]] });
                }
            }
            None => pieces.push(Piece { is_seen: seen[k], points: vec![points[k]] }),
        }
    }
    pieces
}

/// The samples of a picture while it is painted.
struct Canvas {
    width: usize,
    height: usize,
    colours: Vec<[u8; 4]>,
    /// The number at each sample that is painted in its colour, else NaN.
    values: Vec<f32>,
}

impl Canvas {
    fn paint(after: &Surface, layer: &Layer, raster: &Raster, camera: &Camera) -> Self {
        let mut canvas = Self::shade(after, layer, raster, camera);
        canvas.draw_isolines(layer);
        canvas
    }

    fn shade(after: &Surface, layer: &Layer, raster: &Raster, camera: &Camera) -> Self {
        let n_samples = raster.width * raster.height;
        let mut canvas = Self {
            width: raster.width,
            height: raster.height,
            colours: vec![[0; 4]; n_samples],
            values: vec![f32::NAN; n_samples],
        };
        let light = Light::of(camera);
        for row in 0..raster.height {
            for column in 0..raster.width {
                let Some((triangle, weights)) = raster.seen(column, row, &after.mesh.triangles) else {
                    continue;
                };
                let place = row * raster.width + column;
                let corners = after.mesh.triangles[triangle as usize];
                let blend =
                    |values: &[f32]| (0..3).map(|k| weights[k] * values[corners[k] as usize]).sum::<f32>();
                let normal =
                    (0..3).map(|k| layer.normals[corners[k] as usize] * weights[k]).sum::<Vector3<f32>>();
                canvas.colours[place] = if is_back(after, triangle, camera) {
                    light.cut_face(raster.depth_mm[place])
                } else if blend(&layer.inset_mm) > 0.0 {
                    let value = blend(&layer.values);
                    let paint = layer.paint(value);
                    if matches!(paint, Paint::Colour(_)) {
                        canvas.values[place] = value;
                    }
                    light.prepared(ink(paint, layer, column, row), &normal)
                } else {
                    light.neutral(&normal, raster.depth_mm[place])
                };
            }
        }
        canvas
    }

    /// Draws a line wherever the number of a neighbouring sample lies in another band.
    fn draw_isolines(&mut self, layer: &Layer) {
        for row in 0..self.height - 1 {
            for column in 0..self.width - 1 {
                let place = row * self.width + column;
                let own = self.values[place];
                let crosses = [place + 1, place + self.width].iter().any(|&other| {
                    let (own_band, band) =
                        (layer.scale.band(f64::from(own)), layer.scale.band(f64::from(self.values[other])));
                    !own.is_nan() && !self.values[other].is_nan() && own_band != band
                });
                if crosses {
                    let [red, green, blue, alpha] = self.colours[place];
                    let [red, green, blue] = line_on([red, green, blue]);
                    self.colours[place] = [red, green, blue, alpha];
                }
            }
        }
    }

    /// The pixels: means of the samples, weighted by their alpha.
    fn averaged(&self) -> Vec<u8> {
        let mut rgba = Vec::with_capacity(self.colours.len() / (OVER * OVER) * 4);
        for row in 0..self.height / OVER {
            for column in 0..self.width / OVER {
                let mut sums = [0u32; 4];
                for k in 0..OVER * OVER {
                    let place = (row * OVER + k / OVER) * self.width + column * OVER + k % OVER;
                    let sample = self.colours[place].map(u32::from);
                    for channel in 0..3 {
                        sums[channel] += sample[channel] * sample[3];
                    }
                    sums[3] += sample[3];
                }
                let weight = sums[3].max(1);
                rgba.extend([0, 1, 2].map(|channel| ((sums[channel] + weight / 2) / weight) as u8));
                rgba.push((sums[3] / (OVER * OVER) as u32) as u8);
            }
        }
        rgba
    }

    fn spread(&self) -> Option<[f64; 3]> {
        let mut values: Vec<f32> = self.values.iter().copied().filter(|value| !value.is_nan()).collect();
        values.sort_by(f32::total_cmp);
        let at = |share: f64| f64::from(values[((values.len() - 1) as f64 * share) as usize]);
        (!values.is_empty()).then(|| [at(0.05), at(0.5), at(0.95)])
    }
}

/// Whether a triangle is seen from inside the tooth, where something before it was cut away.
fn is_back(after: &Surface, triangle: u32, camera: &Camera) -> bool {
    after.triangle_normals[triangle as usize].dot(&camera.toward) < 0.0
}

fn ink(paint: Paint, layer: &Layer, column: usize, row: usize) -> Rgb {
    match paint {
        Paint::Colour(colour) => colour,
        Paint::NoData => layer::no_data(column, row),
        Paint::Undercut => layer::undercut(column, row, &layer.scale),
        Paint::Plain => [226, 222, 212],
    }
}

/// Mild light from above left of the viewer: enough to show the form, too little to change what a colour says.
struct Light {
    direction: Vector3<f32>,
}

impl Light {
    fn of(camera: &Camera) -> Self {
        let direction = camera.toward - camera.right * 0.45 + camera.up * 0.55;
        Self { direction: direction.normalize().cast() }
    }

    fn lambert(&self, normal: &Vector3<f32>) -> f32 {
        normal.dot(&self.direction).max(0.0)
    }

    fn prepared(&self, colour: Rgb, normal: &Vector3<f32>) -> [u8; 4] {
        let [red, green, blue] = scaled(colour, 0.76 + 0.24 * self.lambert(normal));
        [red, green, blue, 255]
    }

    /// Farther things fade, so that the prepared tooth stands out.
    fn neutral(&self, normal: &Vector3<f32>, depth_mm: f32) -> [u8; 4] {
        let [red, green, blue] = scaled(layer::NEUTRAL, 0.55 + 0.5 * self.lambert(normal));
        [red, green, blue, faded(depth_mm)]
    }

    /// The inside of the scan, seen where something before it was cut away.
    fn cut_face(&self, depth_mm: f32) -> [u8; 4] {
        [150, 152, 152, faded(depth_mm)]
    }
}

fn faded(depth_mm: f32) -> u8 {
    (255.0 * (1.0 - ((-4.0 - depth_mm) / 14.0).clamp(0.0, 0.7))) as u8
}

fn scaled(colour: Rgb, factor: f32) -> Rgb {
    colour.map(|part| (f32::from(part) * factor).round().min(255.0) as u8)
}
