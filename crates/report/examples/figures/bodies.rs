//! The phantoms of the figures, scanned and measured as any scan is.

use kerfwright_measure::document::Document;
use kerfwright_measure::{
    Aligned, Attempt, JawWishes, JointDocument, OpposingFrame, PathChoice, Preparation, Request, ScanFile,
};
use kerfwright_mesh::write_stl_binary;
use kerfwright_phantom::{
    ByAspect, Coverage, Finish, Flaws, Ledge, LineStep, Lip, OcclusalReduction, Onlay, PartShoulder, Phantom,
    ScanOptions, SecondPlane, Spec, Stretch, Tilt,
};
use kerfwright_report::figures::{Figure, Subject, Subjects, all};
use nalgebra::Point3;

/// An upper molar with a chamfer, as a good learner leaves it, but for a nick in the mesial neighbour.
fn chamfer() -> Spec {
    Spec {
        fdi: 26,
        taper_deg: ByAspect { mesial: 5.0, facial: 6.0, distal: 7.0, lingual: 6.0 },
        nick_mesial_mm: 0.22,
        line_angle_radius_mm: 0.4,
        ..Spec::default()
    }
}

/// A lower premolar with a shoulder, its facial wall in two planes.
fn shoulder() -> Spec {
    Spec {
        fdi: 35,
        taper_deg: ByAspect::all(7.0),
        width_mm: ByAspect::all(1.0),
        finish: ByAspect::all(Finish::SlopedShoulder { declination_deg: 12.0, internal_radius_mm: 0.35 }),
        above_gingiva_mm: ByAspect::all(0.6),
        occlusal: OcclusalReduction { functional_mm: 1.8, nonfunctional_mm: 1.5, groove_mm: 1.5 },
        second_plane: Some(SecondPlane { angle_deg: 12.0, break_mm: 2.4 }),
        ..Spec::default()
    }
}

/// An upper molar with an undercut mesial wall and another finish line on each side.
fn undercut() -> Spec {
    Spec {
        fdi: 16,
        taper_deg: ByAspect { mesial: -6.0, facial: 7.0, distal: 2.0, lingual: 6.0 },
        width_mm: ByAspect { mesial: 0.9, facial: 1.1, distal: 0.7, lingual: 0.0 },
        finish: ByAspect {
            mesial: Finish::SlopedShoulder { declination_deg: 28.0, internal_radius_mm: 0.2 },
            facial: Finish::SHOULDER,
            distal: Finish::CHAMFER,
            lingual: Finish::KnifeEdge,
        },
        ..Spec::default()
    }
}

/// An upper molar with the flaws of a hand.
fn flaws() -> Spec {
    let flaws = Flaws {
        shoulder: Some(PartShoulder {
            stretch: Stretch::new(25.0, 155.0),
            width_mm: 1.2,
            internal_radius_mm: 0.2,
            end_deg: 4.0,
        }),
        lip: Some(Lip { stretch: Stretch::new(185.0, 225.0), height_mm: 0.16 }),
        ledge: Some(Ledge { stretch: Stretch::new(235.0, 305.0), height_mm: 1.8, depth_mm: 0.25 }),
        line_step: Some(LineStep { stretch: Stretch::new(335.0, 375.0), height_mm: 0.4, width_mm: 0.0 }),
        ..Flaws::default()
    };
    Spec { fdi: 26, width_mm: ByAspect::all(0.7), flaws, ..Spec::default() }
}

/// A lower molar with the channel and boxes of an onlay, its cusps covered.
fn onlay() -> Spec {
    let form = Onlay { depth_mm: 4.4, box_depth_mm: 5.9, covers_nonfunctional: true, ..Onlay::default() };
    let occlusal = OcclusalReduction { functional_mm: 1.5, nonfunctional_mm: 1.2, groove_mm: 1.2 };
    Spec { fdi: 36, coverage: Coverage::Onlay(form), occlusal, ..Spec::default() }
}

/// Two abutments, the second leaning mesially, the tooth between them missing.
fn bridge() -> Spec {
    let leaning = Tilt { angle_deg: 9.0, toward_deg: 0.0 };
    Spec {
        fdi: 35,
        missing: vec![36],
        abutments: vec![Spec { fdi: 37, tilt: Some(leaning), ..Spec::default() }],
        teeth_distally: 2,
        ..Spec::default()
    }
}

/// The scans of one phantom with what stands in them.
struct Body {
    files: [ScanFile; 3],
    requests: Vec<Request>,
}

impl Body {
    /// Scanned at 0.15 mm edges with 8 µm noise, in poses of their own.
    fn scanned(spec: &Spec, seed: u64) -> Self {
        let scans = Phantom::new(spec).scan(&ScanOptions { seed, ..ScanOptions::default() });
        let named =
            [("after.stl", &scans.after), ("before.stl", &scans.before), ("opposing.stl", &scans.opposing)];
        // A scan of a phantom reads back.
        let files = named.map(|(name, mesh)| ScanFile::read(name, &write_stl_binary(mesh)).unwrap());
        let mesial = scans.before_from_tooth.transform_point(&Point3::new(6.0, 0.0, 3.0));
        let teeth = std::iter::once(spec.fdi).chain(spec.abutments.iter().map(|other| other.fdi));
        let requests = teeth.map(|fdi| Request {
            tooth: kerfwright_tooth::parse(&fdi.to_string(), None).unwrap(),
            mesial_point: Some(mesial),
            path: PathChoice::Best,
            jaw: JawWishes::default(),
        });
        Self { files, requests: requests.collect() }
    }

    fn attempt(&self) -> Attempt<'_> {
        let [after, before, opposing] = &self.files;
        Attempt {
            after,
            before: Some(before),
            opposing: Some(opposing),
            opposing_frame: OpposingFrame::Before,
        }
    }

    fn measured(&self) -> (Preparation<'_>, Document) {
        let attempt = self.attempt();
        let aligned: Option<Aligned> = attempt.align().unwrap();
        let preparation = attempt.find(aligned.as_ref(), &self.requests[0]).unwrap();
        let document = attempt.document(&preparation, &self.requests[0]);
        (preparation, document)
    }

    fn measured_together(&self) -> (Vec<Preparation<'_>>, JointDocument) {
        let attempt = self.attempt();
        let aligned = attempt.align().unwrap();
        let preparations = attempt.find_each(aligned.as_ref(), &self.requests).unwrap();
        let joint = attempt.joint_document(&preparations, &self.requests);
        (preparations, joint)
    }
}

/// Makes, scans and measures the phantoms and draws everything.
pub fn figures() -> Vec<Figure> {
    let bodies = [chamfer(), shoulder(), undercut(), flaws(), bridge(), onlay()];
    let scanned: Vec<Body> = (61..).zip(&bodies).map(|(seed, spec)| Body::scanned(spec, seed)).collect();
    let single: Vec<(Preparation<'_>, Document)> = [0, 1, 2, 3, 5].map(|k| scanned[k].measured()).into();
    let (bridge, joint) = scanned[4].measured_together();
    let subject = |k: usize| Subject { preparation: &single[k].0, document: &single[k].1 };
    all(&Subjects {
        chamfer: subject(0),
        shoulder: subject(1),
        undercut: subject(2),
        flaws: subject(3),
        onlay: subject(4),
        bridge: &bridge,
        joint: &joint,
    })
}
