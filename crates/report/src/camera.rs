//! Five parallel views of a tooth, all at one scale, so that lengths can be compared and measured.

use nalgebra::{Point3, Vector3};

/// From where a tooth is looked at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum View {
    /// From cheek or lip.
    Facial,
    /// From tongue or palate.
    Lingual,
    /// From the neighbour towards the midline.
    Mesial,
    /// From the neighbour away from the midline.
    Distal,
    /// Along the path of placement.
    Occlusal,
}

impl View {
    /// All five, in the order in which they are shown.
    pub const ALL: [Self; 5] = [Self::Occlusal, Self::Facial, Self::Lingual, Self::Mesial, Self::Distal];

    /// The name in text.
    pub fn name(self) -> &'static str {
        match self {
            Self::Facial => "facial",
            Self::Lingual => "lingual",
            Self::Mesial => "mesial",
            Self::Distal => "distal",
            Self::Occlusal => "occlusal",
        }
    }

    /// Whether a neighbour stands between this view and the tooth.
    pub fn is_proximal(self) -> bool {
        matches!(self, Self::Mesial | Self::Distal)
    }
}

/// Unit axes square on the path: what the pictures and the sections are lined up with.
#[derive(Debug, Clone, Copy)]
pub struct Axes {
    /// Centre of the finish line.
    pub origin: Point3<f64>,
    /// Towards the midline.
    pub mesial: Vector3<f64>,
    /// Towards cheek or lip.
    pub facial: Vector3<f64>,
    /// The path of placement.
    pub path: Vector3<f64>,
}

impl Axes {
    /// The axes nearest to the given directions that are square on `path` and on each other.
    pub fn new(
        origin: Point3<f64>,
        mesial: &Vector3<f64>,
        facial: &Vector3<f64>,
        path: &Vector3<f64>,
    ) -> Self {
        let path = path.normalize();
        let mesial = (mesial - path * mesial.dot(&path)).normalize();
        let across = path.cross(&mesial);
        let facial = if across.dot(facial) < 0.0 { -across } else { across };
        Self { origin, mesial, facial, path }
    }

    /// From the tooth to the viewer.
    pub fn toward(&self, view: View) -> Vector3<f64> {
        match view {
            View::Facial => self.facial,
            View::Lingual => -self.facial,
            View::Mesial => self.mesial,
            View::Distal => -self.mesial,
            View::Occlusal => self.path,
        }
    }

    /// Upwards in the picture: occlusal seen from the sides, facial seen from the occlusal.
    pub fn up(&self, view: View) -> Vector3<f64> {
        if view == View::Occlusal { self.facial } else { self.path }
    }

    /// To the right in the picture.
    pub fn right(&self, view: View) -> Vector3<f64> {
        self.up(view).cross(&self.toward(view))
    }

    /// What lies in a direction, in words.
    pub fn word(&self, direction: &Vector3<f64>) -> &'static str {
        let candidates = [
            ("mesial", self.mesial),
            ("distal", -self.mesial),
            ("facial", self.facial),
            ("lingual", -self.facial),
            ("occlusal", self.path),
            ("cervical", -self.path),
        ];
        let nearest = candidates.iter().max_by(|a, b| a.1.dot(direction).total_cmp(&b.1.dot(direction)));
        nearest.map_or("", |candidate| candidate.0)
    }
}

/// A parallel projection onto an image.
#[derive(Debug, Clone, Copy)]
pub struct Camera {
    /// What lies in the middle of the image.
    pub centre: Point3<f64>,
    /// Unit, to the right in the image.
    pub right: Vector3<f64>,
    /// Unit, upwards in the image.
    pub up: Vector3<f64>,
    /// Unit, to the viewer.
    pub toward: Vector3<f64>,
    /// Scale.
    pub px_per_mm: f64,
    /// Image width, px.
    pub width: usize,
    /// Image height, px.
    pub height: usize,
    /// What lies nearer to the viewer than this, measured from the centre, is cut away, mm.
    pub near_mm: f64,
}

impl Camera {
    /// Image coordinates in px, y downwards, and the distance from the centre towards the viewer in mm.
    pub fn project(&self, point: &Point3<f64>) -> Vector3<f64> {
        let at = point - self.centre;
        Vector3::new(
            0.5 * self.width as f64 + self.px_per_mm * at.dot(&self.right),
            0.5 * self.height as f64 - self.px_per_mm * at.dot(&self.up),
            at.dot(&self.toward),
        )
    }

    /// The same view with `factor` times as many pixels each way.
    pub fn enlarged(&self, factor: usize) -> Self {
        Self {
            px_per_mm: self.px_per_mm * factor as f64,
            width: self.width * factor,
            height: self.height * factor,
            ..*self
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A right-handed frame: mesial × facial = occlusal, as in quadrants 1 and 3.
    fn axes(facial: Vector3<f64>) -> Axes {
        Axes::new(Point3::origin(), &Vector3::x(), &facial, &Vector3::z())
    }

    #[test]
    fn pictures_are_never_mirrored() {
        for facial in [Vector3::y(), -Vector3::y()] {
            for view in View::ALL {
                let axes = axes(facial);
                let turned = axes.right(view).cross(&axes.up(view));
                assert!((turned - axes.toward(view)).norm() < 1e-15, "{view:?}");
            }
        }
    }

    #[test]
    fn mesial_lies_where_it_lies_on_the_tooth() {
        assert_eq!(axes(Vector3::y()).word(&axes(Vector3::y()).right(View::Facial)), "distal");
        assert_eq!(axes(-Vector3::y()).word(&axes(-Vector3::y()).right(View::Facial)), "mesial");
    }

    #[test]
    fn projection_is_to_scale() {
        let camera = Camera {
            centre: Point3::new(1.0, 2.0, 3.0),
            right: Vector3::x(),
            up: Vector3::y(),
            toward: Vector3::z(),
            px_per_mm: 10.0,
            width: 200,
            height: 100,
            near_mm: f64::INFINITY,
        };
        assert_eq!(camera.project(&Point3::new(2.0, 4.0, 7.0)), Vector3::new(110.0, 30.0, 4.0));
        assert_eq!(camera.enlarged(2).project(&Point3::new(2.0, 4.0, 7.0)), Vector3::new(220.0, 60.0, 4.0));
    }
}
