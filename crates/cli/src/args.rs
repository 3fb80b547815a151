//! The command line.

use std::path::PathBuf;

use clap::{Args, Parser, Subcommand, ValueEnum};
use kerfwright_exchange::{NoCode, person_code};
use kerfwright_measure::{OpposingFrame, PathChoice};
use kerfwright_mesh::Extent;
use kerfwright_plan::index::Split;
use kerfwright_tooth::System;
use nalgebra::{Point3, Vector3};

use crate::commands::{account, class, exercise, grade, kit, serve};

/// Measures crown preparations from scans before and after cutting.
///
/// Teaching and decision support, not a diagnosis: the licensed clinician and local rules decide.
#[derive(Debug, Parser)]
#[command(name = "kerf", version, arg_required_else_help = true)]
pub struct Arguments {
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
}

/// What to do.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Measure one preparation.
    Measure(Box<Measure>),
    /// Measure a preparation that the program makes itself, with exactly known geometry.
    Demo(Demo),
    /// List, show, check and copy exercises.
    Exercise(exercise::Arguments),
    /// Hold a measurement against an exercise.
    Grade(Box<grade::Arguments>),
    /// List, show, check and copy kits of instruments.
    Kit(kit::Arguments),
    /// Keep, measure and explain a whole class: rosters, many scans at once, reports, agreement of examiners.
    Class(class::Arguments),
    /// Measure, grade and keep scans as they arrive in a folder.
    Watch(Box<class::run::Watch>),
    /// Pick instruments for an exercise; lay its target into the scan of a tooth that is not yet cut.
    ///
    /// With --kit it holds a kit of instruments against each stage of the exercise: which instrument for which cut, and why not the
    /// others; no scan is needed. With --before it lays the target preparation into the scan of the uncut tooth. Exit status 1 if a cut
    /// has no suitable instrument, 2 if it could not be planned.
    Plan(Box<Plan>),
    /// Open the app in the browser: drop scans, turn the preparation, cut through it.
    Serve(serve::Arguments),
    /// Say who may sign in to the app, which asks for it as soon as there are accounts.
    Account(account::Arguments),
}

/// Scans in STL, PLY or OBJ, plain or gzip-compressed, in millimetres.
#[derive(Debug, Args)]
pub struct Measure {
    /// Scan of the prepared tooth with its neighbours.
    pub after: PathBuf,
    /// Scan of the same arch before cutting.
    #[arg(long, value_name = "FILE")]
    pub before: Option<PathBuf>,
    /// Scan of the opposing arch, jaws closed.
    #[arg(long, value_name = "FILE")]
    pub opposing: Option<PathBuf>,
    /// Number of the prepared tooth, for example 26; FDI unless --system says otherwise. UL6 names its system itself.
    /// Several prepared teeth of one scan, as a bridge's abutments: 35,37.
    #[arg(long, value_name = "NUMBER[,NUMBER…]", required = true, value_delimiter = ',')]
    pub tooth: Vec<String>,
    /// Numbering system of --tooth.
    #[arg(long, value_enum)]
    pub system: Option<SystemName>,
    /// How much of the mouth the after scan shows; without a word it is taken for an arch or a part of one.
    #[arg(long, value_enum)]
    pub extent: Option<ExtentName>,
    /// A point on the mesial side of the tooth, in the frame of the before scan (of the after scan without one); of several
    /// teeth, on the mesial side of the one nearest to the point.
    #[arg(long, value_name = "X,Y,Z", value_parser = triple, allow_hyphen_values = true)]
    pub mesial_point: Option<[f64; 3]>,
    /// Whose frame the opposing scan shares.
    #[arg(long, value_enum, default_value = "before")]
    pub opposing_frame: FrameName,
    /// Path of placement: `best`, `axis` (the tooth's), or a direction X,Y,Z in the after scan's frame.
    #[arg(long, value_name = "best|axis|X,Y,Z", default_value = "best", value_parser = path, allow_hyphen_values = true)]
    pub path: PathChoice,
    /// Jaw settings that differ from the average jaw: condylar inclination, Bennett angle and so on.
    #[arg(long, value_name = "FILE.toml")]
    pub jaw: Option<PathBuf>,
    /// Recorded jaw motion, in place of the model: a 4x4 pose of the lower jaw a line, in the opposing scan's frame.
    #[arg(long, value_name = "FILE.csv")]
    pub motion: Option<PathBuf>,
    /// What to hold the readings against.
    #[command(flatten)]
    pub held: grade::Held,
    /// Where the results go.
    #[command(flatten)]
    pub output: Output,
}

/// Where results go.
#[derive(Debug, Args)]
pub struct Output {
    /// Write all readings as JSON.
    #[arg(long, value_name = "FILE")]
    pub json: Option<PathBuf>,
    /// Write a report to open in a browser: one file, works offline.
    #[arg(long, value_name = "FILE.html")]
    pub report: Option<PathBuf>,
    /// Print how long each stage took, to standard error.
    #[arg(long)]
    pub timings: bool,
    /// Print no table.
    #[arg(long, short)]
    pub quiet: bool,
}

/// The demo's options.
#[derive(Debug, Args)]
pub struct Demo {
    /// Folder for the scans, the JSON and the report.
    #[arg(long, value_name = "FOLDER", default_value = "out/demo")]
    pub out: PathBuf,
    /// Make a class of so many learners instead, with several attempts each: scans, roster, manifest.
    #[arg(long, value_name = "LEARNERS", value_parser = clap::value_parser!(u32).range(1..=99))]
    pub class: Option<u32>,
    /// Print how long each stage took, to standard error.
    #[arg(long)]
    pub timings: bool,
}

/// The plan's options.
#[derive(Debug, Args)]
pub struct Plan {
    /// What is asked: the name of a shipped exercise (see kerf exercise list), or a file. Without one --before takes a complete cast
    /// crown, on front teeth a metal-ceramic one.
    #[arg(value_name = "EXERCISE|FILE.toml")]
    pub exercise: Option<String>,
    /// Kit to pick instruments from: the name of a shipped one (see kerf kit list), or a file.
    #[arg(long, value_name = "NAME|FILE")]
    pub kit: Option<String>,
    /// Record of uses and measured diameters, TOML or JSON: measured diameters are taken, and what is retired is not picked.
    #[arg(long, value_name = "FILE", requires = "kit")]
    pub log: Option<PathBuf>,
    /// Write what the kit has for each stage as JSON.
    #[arg(long, value_name = "FILE", requires = "kit")]
    pub json: Option<PathBuf>,
    /// Scan of the arch before cutting: the target is laid into it.
    #[arg(long, value_name = "FILE", requires_all = ["tooth", "at"])]
    pub before: Option<PathBuf>,
    /// Number of the tooth to be prepared, for example 26; FDI unless --system says otherwise.
    #[arg(long, value_name = "NUMBER", requires = "before")]
    pub tooth: Option<String>,
    /// Numbering system of --tooth.
    #[arg(long, value_enum)]
    pub system: Option<SystemName>,
    /// A point on the occlusal surface of the tooth (of a front tooth, its incisal edge), in the scan's frame.
    #[arg(long, value_name = "X,Y,Z", value_parser = triple, allow_hyphen_values = true, requires = "before")]
    pub at: Option<[f64; 3]>,
    /// A point on the mesial side of the tooth, where the arch does not tell.
    #[arg(long, value_name = "X,Y,Z", value_parser = triple, allow_hyphen_values = true, requires = "before")]
    pub mesial_point: Option<[f64; 3]>,
    /// Scan of the opposing arch, jaws closed, in the same frame.
    #[arg(long, value_name = "FILE", requires = "before")]
    pub opposing: Option<PathBuf>,
    /// Numbers of the target itself, in place of an exercise's.
    #[arg(long, value_name = "FILE.toml", requires = "before", conflicts_with = "exercise")]
    pub targets: Option<PathBuf>,
    /// An attempt to hold against the target.
    #[arg(long, value_name = "FILE", requires = "before")]
    pub after: Option<PathBuf>,
    /// Gap between reduction index and uncut tooth, 0 to 3 mm.
    #[arg(long, value_name = "MM", default_value_t = 0.0)]
    pub index_gap: f64,
    /// Least wall of the index, mm.
    #[arg(long, value_name = "MM", default_value_t = 2.0)]
    pub index_wall: f64,
    /// What the printer adds on each surface, mm.
    #[arg(long, value_name = "MM", default_value_t = 0.05)]
    pub printer_tolerance: f64,
    /// Where the index is cut in two.
    #[arg(long, value_enum, default_value = "faciolingual")]
    pub index_split: SplitName,
    /// Folder for the target, the depths, the index and the plan.
    #[arg(long, value_name = "FOLDER", default_value = "out/plan")]
    pub out: PathBuf,
}

/// Cuts of the index by name.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub enum SplitName {
    /// In one piece.
    Whole,
    /// From facial to lingual through the middle of the tooth.
    Faciolingual,
    /// From mesial to distal through the middle of the tooth.
    Mesiodistal,
}

/// Numbering systems by name.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub enum SystemName {
    /// Two digits, ISO 3950.
    Fdi,
    /// 1 to 32.
    Universal,
    /// Quadrant and 1 to 8, as UL6.
    Palmer,
}

/// Extents by name.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum ExtentName {
    /// An arch, a quadrant, or a few teeth.
    Arch,
    /// One tooth alone.
    Die,
}

/// Frames by name.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub enum FrameName {
    /// The before scan's.
    Before,
    /// The after scan's.
    After,
}

impl From<SplitName> for Split {
    fn from(name: SplitName) -> Self {
        match name {
            SplitName::Whole => Self::Whole,
            SplitName::Faciolingual => Self::Faciolingual,
            SplitName::Mesiodistal => Self::Mesiodistal,
        }
    }
}

impl From<SystemName> for System {
    fn from(name: SystemName) -> Self {
        match name {
            SystemName::Fdi => Self::Fdi,
            SystemName::Universal => Self::Universal,
            SystemName::Palmer => Self::Palmer,
        }
    }
}

impl From<ExtentName> for Extent {
    fn from(name: ExtentName) -> Self {
        match name {
            ExtentName::Arch => Self::Arch,
            ExtentName::Die => Self::Die,
        }
    }
}

impl From<FrameName> for OpposingFrame {
    fn from(name: FrameName) -> Self {
        match name {
            FrameName::Before => Self::Before,
            FrameName::After => Self::After,
        }
    }
}

impl Measure {
    /// The given point, if any.
    pub fn mesial_point(&self) -> Option<Point3<f64>> {
        self.mesial_point.map(Point3::from)
    }
}

fn triple(text: &str) -> Result<[f64; 3], String> {
    let numbers: Vec<f64> = text
        .split(',')
        .map(|part| part.trim().parse::<f64>().map_err(|_| format!("`{part}` is no number")))
        .collect::<Result<_, _>>()?;
    match numbers[..] {
        [x, y, z] if numbers.iter().all(|number| number.is_finite()) => Ok([x, y, z]),
        _ => Err("give three numbers in mm, as 1.5,-20,3".into()),
    }
}

/// A person's code, where a name does not belong.
pub fn person(text: &str) -> Result<String, NoCode> {
    person_code(text).map(str::to_owned)
}

fn path(text: &str) -> Result<PathChoice, String> {
    match text {
        "best" => Ok(PathChoice::Best),
        "axis" => Ok(PathChoice::Axis),
        _ => {
            let direction = Vector3::from(triple(text).map_err(|_| "give best, axis or a direction X,Y,Z")?);
            let length = direction.norm();
            if length > 0.0 {
                Ok(PathChoice::Fixed(direction / length))
            } else {
                Err("0,0,0 is no direction".into())
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::CommandFactory;

    #[test]
    fn the_command_line_is_consistent() {
        Arguments::command().debug_assert();
    }

    #[test]
    fn points_and_paths_are_read_or_refused() {
        assert_eq!(triple("-1,2.5, 3"), Ok([-1.0, 2.5, 3.0]));
        assert!(triple("1,2").is_err());
        assert!(triple("1,2,nan").is_err());
        assert_eq!(path("0,0,2"), Ok(PathChoice::Fixed(Vector3::z())));
        assert!(path("0,0,0").is_err());
        assert!(path("steepest").is_err());
    }
}
