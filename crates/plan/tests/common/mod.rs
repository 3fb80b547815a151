//! Uncut teeth to plan on.

use kerfwright_geometry::Surface;
use kerfwright_measure::{Attempt, Document, JawWishes, OpposingFrame, PathChoice, Request, ScanFile};
use kerfwright_mesh::{Mesh, write_stl_binary};
use kerfwright_phantom::{Phantom, ScanOptions, Spec};
use kerfwright_plan::Wish;
use kerfwright_tooth::Tooth;
use nalgebra::{Point3, Vector3};

/// A quadrant scanned before cutting, with a point on the occlusal surface of the tooth and one on its mesial side.
pub struct Uncut {
    pub before: Surface,
    pub opposing: Surface,
    pub wish: Wish,
    /// Where the gingiva meets the tooth, exactly.
    pub gingiva: Vec<Point3<f64>>,
}

pub fn uncut(fdi: u8, seed: u64) -> Uncut {
    let spec = if fdi % 10 < 4 { Spec::front(fdi) } else { Spec { fdi, ..Spec::default() } };
    uncut_of(&Phantom::new(&spec), fdi, &ScanOptions { seed, ..ScanOptions::default() })
}

/// The same of a phantom whose preparation does not matter.
pub fn uncut_of(phantom: &Phantom, fdi: u8, options: &ScanOptions) -> Uncut {
    let scans = phantom.scan(options);
    let placed = |p: Point3<f64>| scans.before_from_tooth.transform_point(&p);
    let before = Surface::new(scans.before.clone());
    let down = (placed(Point3::origin()) - placed(Point3::new(0.0, 0.0, 1.0))).normalize();
    let at = before.tree.ray(&placed(Point3::new(0.3, 0.4, 15.0)), &down, 25.0).unwrap().point;
    let mesial_point = Some(placed(Point3::from(Vector3::new(4.0, 0.0, 3.0))));
    let wish = Wish { tooth: Tooth::from_fdi(fdi).unwrap(), at, mesial_point };
    let gingiva = phantom.truth().gingiva_line.iter().map(|&at| placed(Point3::from(at))).collect();
    Uncut { before, opposing: Surface::new(scans.opposing), wish, gingiva }
}

/// The readings on a target that is taken for a scan after cutting.
pub fn measured(uncut: &Uncut, target: &Mesh, path: &Vector3<f64>) -> Document {
    let file = |name: &str, mesh: &Mesh| ScanFile::read(name, &write_stl_binary(mesh)).unwrap();
    let (after, before) = (file("target", target), file("before", &uncut.before.mesh));
    let opposing = file("opposing", &uncut.opposing.mesh);
    let attempt = Attempt {
        after: &after,
        before: Some(&before),
        opposing: Some(&opposing),
        opposing_frame: OpposingFrame::Before,
    };
    let request = Request {
        tooth: kerfwright_tooth::parse(&uncut.wish.tooth.fdi().to_string(), None).unwrap(),
        mesial_point: uncut.wish.mesial_point,
        path: PathChoice::Fixed(*path),
        jaw: JawWishes::default(),
    };
    let aligned = attempt.align().unwrap();
    let preparation = attempt.find(aligned.as_ref(), &request).unwrap();
    attempt.document(&preparation, &request)
}
