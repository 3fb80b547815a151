//! An attempt: the scans of one preparation, from bytes to the document. Each step is a call of its own, so that a
//! caller can time it, show progress, or keep what does not change (before and opposing) for the next attempt.

use std::collections::BTreeMap;

use kerfwright_geometry::Surface;
use kerfwright_mesh::{Extent, Format, Scan, check_extent, read_scan};
use kerfwright_registration::{Memory, register_again};
use kerfwright_tooth::Numbered;
use nalgebra::{Isometry3, Point3};
use sha2::{Digest, Sha256};

use crate::document::{
    Document, FinishLineEntry, Frames, Input, PathEntry, SCHEMA, StationEntry, Tool, ToothEntry, rounded,
    rounded_point, rows,
};
use crate::excursion::JawWishes;
use crate::measures::take_all;
use crate::path::PathChoice;
use crate::preparation::{Pose, Preparation, Wishes};
use crate::scene::{Placed, Scene};
use crate::{InputError, MeasureError, displaced, early, extent, hidden, partial};

/// Shown with every result.
const CAUTIONS: [&str; 3] = [
    "Teaching and decision support, not a diagnosis: the licensed clinician and local rules decide.",
    "Each reading holds within its stated uncertainty, for what the scans show.",
    "Learners' and patients' data are private: pass this on only to those who may see it.",
];

/// A scan file that was read and made ready to be measured.
#[derive(Debug)]
pub struct ScanFile {
    /// File name without its folder.
    pub file: String,
    /// Of the bytes as given, hexadecimal.
    pub sha256: String,
    /// Format, in words.
    pub format: String,
    /// What was found and repaired.
    pub findings: Vec<String>,
    /// How much of the mouth it shows.
    pub extent: Extent,
    /// The surface.
    pub surface: Surface,
    /// What aligning found out about it, for the next attempt with the same before scan.
    pub alignment: Memory,
}

/// Whose frame the opposing scan shares.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum OpposingFrame {
    /// That of the before scan, or of the after scan where there is no before scan.
    #[default]
    Before,
    /// That of the after scan.
    After,
}

/// The scans of one attempt.
#[derive(Debug)]
pub struct Attempt<'scan> {
    /// The prepared tooth with its neighbours.
    pub after: &'scan ScanFile,
    /// The same arch before cutting.
    pub before: Option<&'scan ScanFile>,
    /// The opposing arch.
    pub opposing: Option<&'scan ScanFile>,
    /// Whose frame `opposing` shares.
    pub opposing_frame: OpposingFrame,
}

/// What the user asked for.
#[derive(Debug, Clone)]
pub struct Request {
    /// The tooth and what its number was taken for.
    pub tooth: Numbered,
    /// A point on the mesial side, in the frame of the before scan (of the after scan where there is none).
    pub mesial_point: Option<Point3<f64>>,
    /// Which path the readings refer to.
    pub path: PathChoice,
    /// How the lower jaw moves.
    pub jaw: JawWishes,
}

impl ScanFile {
    /// Reads a scan: checks and repairs the mesh, refuses other units than millimetres, indexes the surface.
    ///
    /// # Errors
    /// [`InputError`] names the file, the fault and the next step.
    pub fn read(file: &str, bytes: &[u8]) -> Result<Self, InputError> {
        Self::read_as(file, bytes, None)
    }

    /// The same for a scan of which the user said how much it shows; `None` where nothing was said.
    ///
    /// # Errors
    /// As for [`read`](Self::read).
    pub fn read_as(file: &str, bytes: &[u8], stated: Option<Extent>) -> Result<Self, InputError> {
        let (scan, sha256) = rayon::join(|| Self::parse_as(file, bytes, stated), || sha256(bytes));
        let (scan, extent) = scan?;
        let mut read = Self::index(file, scan, sha256);
        if extent == Extent::Die {
            let length_mm = read.surface.mesh.bounds().map_or(0.0, |(low, high)| (high - low).max());
            read.findings.push(format!("taken for {extent}, {length_mm:.1} mm long"));
        }
        read.extent = extent;
        Ok(read)
    }

    /// The first half of [`read`](Self::read): from bytes to a checked mesh.
    ///
    /// # Errors
    /// As for [`read`](Self::read).
    pub fn parse(file: &str, bytes: &[u8]) -> Result<Scan, InputError> {
        Self::parse_as(file, bytes, None).map(|(scan, _)| scan)
    }

    fn parse_as(file: &str, bytes: &[u8], stated: Option<Extent>) -> Result<(Scan, Extent), InputError> {
        let fail = |fault: String| InputError { file: file.into(), fault };
        let scan = read_scan(bytes).map_err(|error| fail(error.to_string()))?;
        let extent = check_extent(&scan.mesh, stated).map_err(|error| fail(error.to_string()))?;
        Ok((scan.without_debris(), extent))
    }

    /// The second half: tree, neighbours and normals.
    pub fn index(file: &str, scan: Scan, sha256: String) -> Self {
        Self {
            file: file.into(),
            sha256,
            format: format_name(scan.format).into(),
            findings: scan.audit.findings.iter().map(ToString::to_string).collect(),
            extent: Extent::Arch,
            surface: Surface::new(scan.mesh),
            alignment: Memory::default(),
        }
    }

    fn entry(&self) -> Input {
        Input {
            file: self.file.clone(),
            sha256: self.sha256.clone(),
            format: self.format.clone(),
            n_triangles: self.surface.mesh.triangles.len(),
            findings: self.findings.clone(),
        }
    }
}

fn format_name(format: Format) -> &'static str {
    match format {
        Format::StlBinary => "STL, binary",
        Format::StlText => "STL, text",
        Format::PlyText => "PLY, text",
        Format::PlyLittleEndian | Format::PlyBigEndian => "PLY, binary",
        Format::Obj => "OBJ",
    }
}

/// SHA-256 of some bytes, hexadecimal.
pub fn sha256(bytes: &[u8]) -> String {
    use std::fmt::Write;
    Sha256::digest(bytes).iter().fold(String::new(), |mut text, byte| {
        // Writing to a string cannot fail.
        let _ = write!(text, "{byte:02x}");
        text
    })
}

impl<'scan> Attempt<'scan> {
    /// Aligns before and after; `None` without a before scan.
    ///
    /// # Errors
    /// [`MeasureError::Registration`] if no pose is certain enough.
    pub fn align(&self) -> Result<Option<Aligned>, MeasureError> {
        let Some(before) = self.before else { return Ok(None) };
        let registration =
            register_again(&before.surface, &before.alignment, &self.after.surface).map_err(|error| {
                let told = error
                    .to_string()
                    .replace("the moving scan", &self.after.file)
                    .replace("the fixed scan", &before.file);
                MeasureError::Registration(format!("{} against {}: {told}", self.after.file, before.file))
            })?;
        Ok(Some(Aligned(registration)))
    }

    /// Finds the prepared tooth.
    ///
    /// # Errors
    /// See [`MeasureError`].
    pub fn find(
        &self,
        aligned: Option<&Aligned>,
        request: &Request,
    ) -> Result<Preparation<'scan>, MeasureError> {
        let setting = self.setting(aligned);
        let wishes = setting.wishes(request);
        let found = Preparation::find(setting.scene, setting.pose.clone(), &wishes, &|point| {
            setting.write_point(point)
        });
        found.map(|preparation| self.settled(preparation, aligned))
    }

    /// The scans in one frame.
    pub(crate) fn setting(&self, aligned: Option<&Aligned>) -> Setting<'scan> {
        let pose = aligned.map(|aligned| aligned.pose(self.after));
        let after_from_before =
            pose.as_ref().map_or(Isometry3::identity(), |pose| pose.before_from_after.inverse());
        let opposing_shares_after = self.opposing_frame == OpposingFrame::After || self.before.is_none();
        let after_from_opposing =
            if opposing_shares_after { Isometry3::identity() } else { after_from_before };
        let placed =
            |scan: &'scan ScanFile, after_from_scan| Placed { surface: &scan.surface, after_from_scan };
        let scene = Scene {
            after: &self.after.surface,
            before: self.before.map(|before| placed(before, after_from_before)),
            opposing: self.opposing.map(|opposing| placed(opposing, after_from_opposing)),
        };
        Setting { scene, pose, after_from_before, opposing_shares_after }
    }

    /// The pose's uncertainty at the tooth, and what the extent of the scan leaves to say.
    pub(crate) fn settled(
        &self,
        mut preparation: Preparation<'scan>,
        aligned: Option<&Aligned>,
    ) -> Preparation<'scan> {
        if let Some(aligned) = aligned {
            aligned.settle(&mut preparation);
            note_displacement(&mut preparation);
        }
        if !preparation.is_early {
            preparation.warnings.extend(hidden::warning(&preparation));
            preparation.warnings.extend(partial::warning(&preparation.uncovered));
        }
        if self.after.extent == Extent::Die {
            preparation.warnings.push(extent::DIE_WARNING.into());
        }
        preparation
    }

    /// Takes all readings and writes the document.
    pub fn document(&self, preparation: &Preparation<'_>, request: &Request) -> Document {
        let mut sheet = take_all(preparation);
        if preparation.is_early {
            early::refuse_beyond_top(&mut sheet, preparation.tooth.is_front());
        } else {
            hidden::refuse_hidden(preparation, &mut sheet);
        }
        if self.after.extent == Extent::Die {
            extent::refuse_beyond_die(&mut sheet, self.before.is_some());
        }
        Document {
            schema: SCHEMA.into(),
            tool: tool(),
            inputs: self.inputs(),
            tooth: ToothEntry {
                fdi: request.tooth.tooth.fdi(),
                taken_for: request.tooth.to_string(),
                mesial_because: preparation.mesial.because.clone(),
            },
            frame: frames(preparation),
            path: path_entry(preparation),
            finish_line: finish_line(preparation),
            readings: sheet.readings,
            refused: sheet.refused,
            warnings: preparation.warnings.clone(),
            cautions: cautions(),
        }
    }

    /// The scans by role, as a document names them.
    pub(crate) fn inputs(&self) -> BTreeMap<String, Input> {
        let mut inputs = BTreeMap::from([("after".to_owned(), self.after.entry())]);
        inputs.extend(self.before.map(|scan| ("before".to_owned(), scan.entry())));
        inputs.extend(self.opposing.map(|scan| ("opposing".to_owned(), scan.entry())));
        inputs
    }
}

/// What makes documents.
pub(crate) fn tool() -> Tool {
    Tool { name: "kerf".into(), version: env!("CARGO_PKG_VERSION").into() }
}

/// What every document says of itself.
pub(crate) fn cautions() -> Vec<String> {
    CAUTIONS.map(str::to_owned).to_vec()
}

/// The scans of an attempt in one frame.
pub(crate) struct Setting<'scan> {
    pub(crate) scene: Scene<'scan>,
    pub(crate) pose: Option<Pose>,
    after_from_before: Isometry3<f64>,
    opposing_shares_after: bool,
}

impl Setting<'_> {
    /// A request, its points in the after frame.
    pub(crate) fn wishes(&self, request: &Request) -> Wishes {
        Wishes {
            tooth: request.tooth.tooth,
            mesial_point: request.mesial_point.map(|point| self.after_from_before * point),
            path: request.path,
            opposing_shares_after: self.opposing_shares_after,
            jaw: request.jaw.clone(),
        }
    }

    /// A point of the after frame as `--mesial-point` wants it.
    pub(crate) fn write_point(&self, point: &Point3<f64>) -> String {
        let own = self.after_from_before.inverse() * point;
        format!("{:.1},{:.1},{:.1}", own.x, own.y, own.z)
    }
}

/// The alignment of before and after.
#[derive(Debug)]
pub struct Aligned(kerfwright_registration::Registration);

impl Aligned {
    /// The pose with its uncertainty at the middle of the after scan; [`settle`](Self::settle) moves it to the tooth.
    fn pose(&self, after: &ScanFile) -> Pose {
        let vertices = &after.surface.mesh.vertices;
        let middle = vertices.iter().map(|vertex| vertex.coords).sum::<nalgebra::Vector3<f64>>();
        let middle = Point3::from(middle / vertices.len().max(1) as f64);
        self.pose_at(&middle)
    }

    fn pose_at(&self, point_in_after: &Point3<f64>) -> Pose {
        let registration = &self.0;
        let point = registration.fixed_from_moving * point_in_after;
        // Along one axis: readings are distances along one direction each.
        let variance_mm2 = registration.uncertainty.covariance_at_mm2(&point).trace().max(0.0) / 3.0;
        Pose {
            before_from_after: registration.fixed_from_moving,
            residual_um: registration.residual_um,
            sigma_mm: variance_mm2.sqrt(),
            sigma_deg: registration.uncertainty.turn_deg(),
            explained_pct: registration.moving.explained_pct,
        }
    }

    /// The alignment in a few words.
    pub fn summary(&self) -> String {
        format!(
            "the scans align within {:.0} um, {:.0} % of the common surface explained",
            self.0.residual_um, self.0.moving.explained_pct
        )
    }

    fn settle(&self, preparation: &mut Preparation<'_>) {
        preparation.pose = Some(self.pose_at(&preparation.frame.origin));
    }
}

/// A tooth that sits differently than before makes every reading against the before scan uncertain by as much.
fn note_displacement(preparation: &mut Preparation<'_>) {
    let Some(displacement) = displaced::find(preparation) else { return };
    preparation.warnings.push(displacement.warning());
    if let Some(pose) = &mut preparation.pose {
        // Twice this, the expanded uncertainty, covers the shift.
        pose.sigma_mm = pose.sigma_mm.hypot(0.6 * displacement.shift_mm);
    }
}

fn frames(preparation: &Preparation<'_>) -> Frames {
    Frames {
        tooth_from_after: rows(&preparation.frame.tooth_from_after()),
        before_from_after: preparation
            .pose
            .as_ref()
            .map(|pose| rows(&pose.before_from_after.to_homogeneous())),
        axis_sigma_deg: rounded(preparation.axis.sigma_deg),
        axis_evidence: preparation
            .axis
            .opinions
            .iter()
            .map(|opinion| {
                let off_deg = opinion.direction.angle(&preparation.axis.direction).to_degrees();
                format!("{}: {off_deg:.1} deg off", opinion.from)
            })
            .collect(),
    }
}

fn path_entry(preparation: &Preparation<'_>) -> PathEntry {
    PathEntry {
        direction: [preparation.path.x, preparation.path.y, preparation.path.z]
            .map(|value| (value * 1e6).round() / 1e6),
        choice: match preparation.path_choice {
            PathChoice::Best => "best",
            PathChoice::Axis => "axis",
            PathChoice::Fixed(_) => "fixed",
        }
        .into(),
    }
}

fn finish_line(preparation: &Preparation<'_>) -> FinishLineEntry {
    let stations = preparation.stations.iter().map(|station| {
        let wall = station.wall.as_ref();
        StationEntry {
            angle_deg: rounded(station.angle_deg),
            point: rounded_point(&station.edge()),
            seen: station.seen,
            taper_deg: station.sound_wall().map(|wall| rounded(wall.taper_deg)),
            width_mm: station.sound_wall().map(|wall| rounded(wall.width_mm)),
            wall_height_mm: wall.and_then(|wall| wall.top).map(|top| rounded(top.y)),
            declination_deg: station.declination_deg.map(rounded),
            above_gingiva_mm: station.above_gingiva_mm(&preparation.frame.occlusal).map(rounded),
        }
    });
    FinishLineEntry {
        length_mm: rounded(preparation.ring.length_mm()),
        points: preparation.ring.points.iter().map(rounded_point).collect(),
        stations: stations.collect(),
    }
}
