//! From a movement to poses of the prepared arch against the opposing one.

use kerfwright_jaw::{
    Ball, JawModel, JawSettings, Motion, Movement, Parameter, Recording, Seat, jaw_from_scan,
};
use nalgebra::{Isometry3, Point3, Vector3};

use super::guidance::{Among, Guidance, Lever, Nearby};
use crate::measures::NO_OPPOSING;
use crate::preparation::Preparation;
use crate::scene::Placed;

/// Steps of a model's path: about an eighth of a millimetre each.
const N_STEPS: usize = 32;
/// The neighbours' cusps within this of the tooth tell the height of the occlusal plane, mm.
const LEVEL_WITHIN_MM: f64 = 14.0;

/// One movement of the lower jaw, as far as the teeth let it.
#[derive(Debug, Clone)]
pub struct JawMotion {
    /// Its name.
    pub name: String,
    /// The lower jaw against its closed place, in the after frame.
    pub lower: Motion,
    /// The arch of the prepared tooth against the opposing one, which rests; in the after frame.
    pub relative: Motion,
    /// How far the teeth opened the jaw at each stop, mm at the prepared tooth.
    pub opened_mm: Vec<f64>,
    /// How far the lower incisal point has gone at each stop, mm; how far the tooth has, for a recording.
    pub travel_mm: Vec<f64>,
    /// Whether it was recorded.
    pub is_recorded: bool,
}

impl JawMotion {
    /// The pose of the lower jaw at a share of the movement, 0 closed and 1 at its end, in the after frame.
    pub fn lower_pose(&self, share: f64) -> Isometry3<f64> {
        self.lower.pose(share)
    }

    /// Opening by the teeth at a share, mm at the prepared tooth.
    pub fn opened_mm(&self, share: f64) -> f64 {
        between(&self.opened_mm, share)
    }

    /// Way of the lower incisal point at a share, mm.
    pub fn travel_mm(&self, share: f64) -> f64 {
        between(&self.travel_mm, share)
    }
}

fn between(values: &[f64], share: f64) -> f64 {
    let n_steps = values.len() - 1;
    let at = share.clamp(0.0, 1.0) * n_steps as f64;
    let step = at as usize;
    let next = values[(step + 1).min(n_steps)];
    values[step] + (next - values[step]) * (at - step as f64)
}

/// Where the movement takes place: the prepared tooth, its opponents and the jaw around them.
#[derive(Debug, Clone)]
pub struct Site<'scan> {
    /// The opposing scan.
    pub opposing: Placed<'scan>,
    /// A ball around the prepared occlusal surface, after frame.
    pub ball: Ball,
    /// Towards the opposing teeth.
    pub occlusal: Vector3<f64>,
    /// The jaw's settings; the spread of the occlusal plane holds that of the tooth's axis.
    pub settings: JawSettings,
    tooth: kerfwright_tooth::Tooth,
    seat: Seat,
}

impl<'scan> Site<'scan> {
    /// The site of a preparation.
    ///
    /// # Errors
    /// In words, if there is no opposing scan, it is no bite, or there is no occlusal surface.
    pub fn of(preparation: &Preparation<'scan>) -> Result<Self, String> {
        let Some(opposing) = preparation.scene.opposing else { return Err(NO_OPPOSING.into()) };
        if let Some(fault) = &preparation.opposing_fault {
            return Err(fault.clone());
        }
        let mesh = &preparation.scene.after.mesh;
        let vertices = &preparation.bite;
        if vertices.len() < 20 {
            return Err("the prepared occlusal surface is too small".into());
        }
        let sum: Vector3<f64> = vertices.iter().map(|v| mesh.vertices[v.vertex as usize].coords).sum();
        let centre = Point3::from(sum / vertices.len() as f64);
        let radii = vertices.iter().map(|v| (mesh.vertices[v.vertex as usize] - centre).norm());
        let radius_mm = radii.fold(0.0, f64::max);
        let frame = &preparation.frame;
        let mut settings = preparation.jaw.settings.clone();
        for tilt in [Parameter::PlanePitch, Parameter::PlaneRoll] {
            settings.add_spread(tilt, preparation.axis.sigma_deg);
        }
        let seat = Seat {
            origin: frame.origin + frame.occlusal * level_mm(preparation),
            mesial: frame.mesial,
            facial: frame.facial,
            occlusal: frame.occlusal,
        };
        let ball = Ball { centre, radius_mm };
        Ok(Self { opposing, ball, occlusal: frame.occlusal, settings, tooth: preparation.tooth, seat })
    }

    /// One movement, recorded or by the model, guided by the teeth.
    ///
    /// # Errors
    /// In words: a recording that does not fit, teeth that lock.
    pub fn motion(
        &self,
        preparation: &Preparation<'_>,
        name: &str,
        guidance: &Guidance<'_>,
    ) -> Result<JawMotion, String> {
        if let Some(recording) = preparation.jaw.recording(name) {
            return self.recorded(recording);
        }
        let movement = Movement::from_id(name).ok_or_else(|| format!("no movement is called {name}"))?;
        self.guided(&self.model_path(&self.settings, movement)?, guidance)
    }

    /// A movement by the model alone.
    ///
    /// # Errors
    /// In words, if the tooth frame does not fit the side of the jaw.
    pub fn model_path(&self, settings: &JawSettings, movement: Movement) -> Result<ModelPath, String> {
        let jaw_from_after =
            jaw_from_scan(self.tooth, &self.seat, settings).map_err(|error| error.to_string())?;
        Ok(ModelPath {
            model: JawModel::new(settings),
            movement,
            jaw_from_after,
            after_from_jaw: jaw_from_after.inverse(),
            is_upper: self.tooth.is_upper(),
            occlusal: self.occlusal,
        })
    }

    fn guided(&self, path: &ModelPath, guidance: &Guidance<'_>) -> Result<JawMotion, String> {
        let stops_mm = path.model.stops_mm(path.movement, N_STEPS);
        let (mut lower, mut relative, mut opened_mm, mut travel_mm) = (vec![], vec![], vec![], vec![]);
        let (mut opening_rad, mut nearby) = (0.0, Nearby::default());
        for &stop_mm in &stops_mm {
            // The jaws are closed at the start, whatever the scans say of their contacts.
            if stop_mm > 0.0 {
                opening_rad = guidance
                    .opening_rad(&path.at(stop_mm), opening_rad, Among::All(&mut nearby))
                    .ok_or("the teeth lock: no opening up to 10 mm lets them pass; check the bite and the jaw settings")?;
            }
            let at = path.at(stop_mm);
            let pose = at.lower(opening_rad);
            lower.push(pose);
            relative.push(if path.is_upper { pose.inverse() } else { pose });
            opened_mm.push(opening_rad * at.lever(&self.ball.centre));
            travel_mm.push(path.model.incisal_travel_mm(path.movement, stop_mm));
        }
        Ok(JawMotion {
            name: path.movement.id().into(),
            lower: Motion::new(self.ball.centre, lower),
            relative: Motion::new(self.ball.centre, relative),
            opened_mm,
            travel_mm,
            is_recorded: false,
        })
    }

    fn recorded(&self, recording: &Recording) -> Result<JawMotion, String> {
        let after_from_opposing = self.opposing.after_from_scan;
        let opposing_from_after = after_from_opposing.inverse();
        let own_ball =
            Ball { centre: opposing_from_after * self.ball.centre, radius_mm: self.ball.radius_mm };
        let motion = recording.motion(&own_ball).map_err(|error| error.to_string())?;
        let lower = motion.framed(&after_from_opposing, &opposing_from_after).about(self.ball.centre);
        let relative = if self.tooth.is_upper() { lower.inverse(self.ball.centre) } else { lower.clone() };
        let centre = self.ball.centre;
        let travel_mm = lower.stops().iter().map(|stop| (stop * centre - centre).norm()).collect();
        let opened_mm = vec![0.0; lower.stops().len()];
        Ok(JawMotion {
            name: recording.movement.clone(),
            lower,
            relative,
            opened_mm,
            travel_mm,
            is_recorded: true,
        })
    }
}

/// Height of the neighbours' cusps over the centre of the finish line, mm.
fn level_mm(preparation: &Preparation<'_>) -> f64 {
    let frame = &preparation.frame;
    let places = preparation.scene.after.mesh.vertices.iter().map(|point| frame.coordinates(point));
    let near = places.filter(|place| place.xy().norm() < LEVEL_WITHIN_MM).map(|place| place.z);
    // A handful of strays over the cusps would hardly matter: the hinge is ten times as far away.
    kerfwright_geometry::fit::percentile(&near.collect::<Vec<_>>(), 99.5).unwrap_or(0.0).max(0.0)
}

/// A movement by the model, placed in the after frame.
#[derive(Debug, Clone)]
pub struct ModelPath {
    /// The jaw.
    pub model: JawModel,
    /// The movement.
    pub movement: Movement,
    jaw_from_after: Isometry3<f64>,
    after_from_jaw: Isometry3<f64>,
    is_upper: bool,
    occlusal: Vector3<f64>,
}

impl ModelPath {
    /// One moment of it, by the travel of the condyles.
    pub fn at(&self, travel_mm: f64) -> Moment<'_> {
        Moment { path: self, pose_in_jaw: self.model.pose(self.movement, travel_mm) }
    }
}

/// One moment of a movement, at which the jaw can still be opened.
#[derive(Debug, Clone)]
pub struct Moment<'path> {
    path: &'path ModelPath,
    pose_in_jaw: Isometry3<f64>,
}

impl Moment<'_> {
    /// The lower jaw, opened about the hinge axis, in the after frame.
    pub fn lower(&self, opening_rad: f64) -> Isometry3<f64> {
        let path = self.path;
        let opened = path.model.opened(&self.pose_in_jaw, opening_rad);
        path.after_from_jaw * opened * path.jaw_from_after
    }

    /// The prepared arch against the opposing one.
    pub fn relative(&self, opening_rad: f64) -> Isometry3<f64> {
        let lower = self.lower(opening_rad);
        if self.path.is_upper { lower.inverse() } else { lower }
    }

    /// How fast points of the prepared arch leave the opposing one per radian of opening: a plane of the after frame.
    pub fn lever_plane(&self) -> Lever {
        let path = self.path;
        let turn = Vector3::x();
        let (axis, hinge, sign) = if path.is_upper {
            // Seen from the lower jaw the upper one turns back about the hinge in its closed place.
            (turn, path.model.hinge(), 1.0)
        } else {
            (self.pose_in_jaw * turn, self.pose_in_jaw * path.model.hinge(), -1.0)
        };
        let (axis, hinge) = (path.after_from_jaw * axis, path.after_from_jaw * hinge);
        // w · (axis × (q − hinge)) = (w × axis) · (q − hinge)
        Lever { slope: path.occlusal.cross(&axis) * sign, hinge }
    }

    /// How far the points of the teeth run per radian of opening at most, mm.
    pub fn arm_mm(&self) -> f64 {
        self.path.model.hinge().coords.norm() + 5.0
    }

    fn lever(&self, point: &Point3<f64>) -> f64 {
        self.lever_plane().at(point)
    }
}
