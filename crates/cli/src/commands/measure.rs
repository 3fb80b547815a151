//! `kerf measure`: reads scans, measures, prints, writes.

use std::fs;
use std::path::Path;
use std::process::ExitCode;

use anyhow::{Context, anyhow, bail};
use kerfwright_jaw::{JawSettings, read_recording};
use kerfwright_measure::{
    Aligned, Attempt, Document, JawWishes, MeasureError, OpposingFrame, Request, ScanFile,
};
use kerfwright_mesh::Extent;
use rayon::prelude::*;
use serde::Serialize;

use crate::args::{Measure, Output};
use crate::commands::grade::Ready;
use crate::table;
use crate::timings::Timings;

/// Measures what the arguments name.
pub fn run(arguments: &Measure) -> anyhow::Result<ExitCode> {
    let requests = requests(arguments)?;
    // A slip in the exercise is told before the scans take their time.
    let held = arguments.held.read(requests[0].tooth.tooth)?;
    if held.is_some() && requests.len() > 1 {
        bail!("--exercise holds one tooth at a time: measure each with its own --tooth and --mesial-point");
    }
    let paths = [Some(&arguments.after), arguments.before.as_ref(), arguments.opposing.as_ref()];
    let mut timings = Timings::start();
    let scans = timings.stage("read", || read_all(paths, arguments.extent.map(Extent::from)))?;
    let [Some(after), before, opposing] = &scans else { bail!("no after scan was read") };
    let attempt = Attempt {
        after,
        before: before.as_ref(),
        opposing: opposing.as_ref(),
        opposing_frame: OpposingFrame::from(arguments.opposing_frame),
    };
    let mut status = ExitCode::SUCCESS;
    match &requests[..] {
        [request] => {
            let is_early = held.as_ref().is_some_and(Ready::needs_no_finish_line);
            let document = measure(&attempt, request, is_early, &arguments.output, &mut timings)?;
            if let Some(held) = held {
                status = held.grade(&document, arguments.output.quiet)?;
            }
        }
        several => measure_several(&attempt, several, &arguments.output, &mut timings)?,
    }
    if arguments.output.timings {
        timings.print();
    }
    Ok(status)
}

/// One request a tooth.
fn requests(arguments: &Measure) -> anyhow::Result<Vec<Request>> {
    let system = arguments.system.map(Into::into);
    let jaw = read_jaw(arguments)?;
    let request = |number: &String| {
        let tooth = kerfwright_tooth::parse(number, system).context("--tooth")?;
        let (mesial_point, path) = (arguments.mesial_point(), arguments.path);
        Ok(Request { tooth, mesial_point, path, jaw: jaw.clone() })
    };
    arguments.tooth.iter().map(request).collect()
}

/// Aligns, finds, measures, and writes what `output` asks for. `is_early` where the stage asks for no finish line yet.
pub fn measure(
    attempt: &Attempt<'_>,
    request: &Request,
    is_early: bool,
    output: &Output,
    timings: &mut Timings,
) -> anyhow::Result<Document> {
    let aligned = timings.stage("align", || attempt.align())?;
    let found = timings.stage("find", || match is_early {
        true => attempt.find_early(aligned.as_ref(), request),
        false => attempt.find(aligned.as_ref(), request),
    });
    let preparation = found.map_err(|error| unfound(attempt, &error, is_early, aligned.as_ref()))?;
    let document = timings.stage("measure", || attempt.document(&preparation, request));
    timings
        .stage("write", || write(&document, output, || kerfwright_report::html(&preparation, &document)))?;
    if !output.quiet {
        print!("{}", table::render(&document));
    }
    Ok(document)
}

/// The same for several teeth of one scan.
fn measure_several(
    attempt: &Attempt<'_>,
    requests: &[Request],
    output: &Output,
    timings: &mut Timings,
) -> anyhow::Result<()> {
    let aligned = timings.stage("align", || attempt.align())?;
    let found = timings.stage("find", || attempt.find_each(aligned.as_ref(), requests));
    let preparations = found.map_err(|error| unfound(attempt, &error, false, aligned.as_ref()))?;
    let joint = timings.stage("measure", || attempt.joint_document(&preparations, requests));
    timings
        .stage("write", || write(&joint, output, || kerfwright_report::joint_html(&preparations, &joint)))?;
    if !output.quiet {
        print!("{}", table::render_joint(&joint));
    }
    Ok(())
}

/// The alignment is worth knowing even when there is nothing to measure, and an early stage, unless it was named, need not have a
/// finish line.
fn unfound(
    attempt: &Attempt<'_>,
    error: &MeasureError,
    is_early: bool,
    aligned: Option<&Aligned>,
) -> anyhow::Error {
    let alignment = aligned.map_or(String::new(), |aligned| format!(" ({})", aligned.summary()));
    let may_be_early = attempt.before.is_some() && error.is_of_finish_line() && !is_early;
    let early = if may_be_early {
        "; if only the top is cut so far, say after which stage the scan was taken: --exercise NAME --stage ID"
    } else {
        ""
    };
    anyhow!("{}: {error}{early}{alignment}", attempt.after.file)
}

fn write(document: &impl Serialize, output: &Output, report: impl FnOnce() -> String) -> anyhow::Result<()> {
    if let Some(path) = &output.json {
        let mut json = serde_json::to_string_pretty(document)?;
        json.push('\n');
        save(path, json.as_bytes())?;
    }
    if let Some(path) = &output.report {
        save(path, report().as_bytes())?;
    }
    Ok(())
}

/// Writes a file whole or not at all: a broken-off write must not leave half a result behind.
pub fn save(path: &Path, bytes: &[u8]) -> anyhow::Result<()> {
    let failed = || format!("{}: cannot be written; check the folder and the free space", path.display());
    let part = path.with_file_name(format!(
        "{}.part",
        path.file_name().with_context(|| format!("{}: is no file name", path.display()))?.to_string_lossy()
    ));
    fs::write(&part, bytes).with_context(failed)?;
    fs::rename(&part, path).with_context(failed)
}

/// Makes a folder with all above it, unless it is there.
pub fn make_folder(folder: &Path) -> anyhow::Result<()> {
    fs::create_dir_all(folder)
        .with_context(|| format!("{}: cannot be made; check the name and the rights", folder.display()))
}

/// Reads the given scans, the after scan first, side by side. `extent` is what the user said of the after scan; the others
/// may show the arch even where that one shows a die.
pub fn read_all<P: AsRef<Path> + Sync>(
    paths: [Option<&P>; 3],
    extent: Option<Extent>,
) -> anyhow::Result<[Option<ScanFile>; 3]> {
    let read: Vec<anyhow::Result<Option<ScanFile>>> = paths
        .par_iter()
        .enumerate()
        .map(|(k, path)| path.map(|path| read(path.as_ref(), extent, k == 0)).transpose())
        .collect();
    let scans: Vec<Option<ScanFile>> = read.into_iter().collect::<anyhow::Result<_>>()?;
    <[Option<ScanFile>; 3]>::try_from(scans).map_err(|_| anyhow!("three scans were expected"))
}

/// Jaw settings and recorded motion, where they are given.
fn read_jaw(arguments: &Measure) -> anyhow::Result<JawWishes> {
    let text = |path: &Path| {
        fs::read_to_string(path).with_context(|| {
            format!("{}: cannot be read as text; check the name and the rights", path.display())
        })
    };
    let mut jaw = JawWishes::default();
    if let Some(path) = &arguments.jaw {
        jaw.settings = JawSettings::from_toml(&text(path)?).with_context(|| path.display().to_string())?;
    }
    if let Some(path) = &arguments.motion {
        jaw.recordings = read_recording(&text(path)?).with_context(|| path.display().to_string())?;
    }
    Ok(jaw)
}

fn read(path: &Path, extent: Option<Extent>, is_after: bool) -> anyhow::Result<ScanFile> {
    let name =
        path.file_name().map_or_else(|| path.display().to_string(), |name| name.to_string_lossy().into());
    let bytes = fs::read(path)
        .with_context(|| format!("{}: cannot be read; check the name and the rights", path.display()))?;
    let read = ScanFile::read_as(&name, &bytes, extent);
    Ok(if is_after { read } else { read.or_else(|_| ScanFile::read(&name, &bytes)) }?)
}
