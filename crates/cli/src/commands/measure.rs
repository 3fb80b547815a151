//! `kerf measure`: reads scans, measures, prints, writes.

use std::fs;
use std::path::Path;

use anyhow::{Context, bail};
use kerfwright_jaw::{JawSettings, read_recording};
use kerfwright_measure::{Attempt, Document, JawWishes, OpposingFrame, Preparation, Request, ScanFile};
use rayon::prelude::*;

use crate::args::{Measure, Output};
use crate::table;
use crate::timings::Timings;

/// Measures what the arguments name.
pub fn run(arguments: &Measure) -> anyhow::Result<()> {
    if arguments.exercise.is_some() {
        bail!(
            "--exercise: this version measures but does not yet hold readings against an exercise; leave it out"
        );
    }
    let tooth =
        kerfwright_tooth::parse(&arguments.tooth, arguments.system.map(Into::into)).context("--tooth")?;
    let request = Request {
        tooth,
        mesial_point: arguments.mesial_point(),
        path: arguments.path,
        jaw: read_jaw(arguments)?,
    };
    let paths = [Some(&arguments.after), arguments.before.as_ref(), arguments.opposing.as_ref()];
    let mut timings = Timings::start();
    let scans = timings.stage("read", || read_all(paths))?;
    let [Some(after), before, opposing] = &scans else { bail!("no after scan was read") };
    let attempt = Attempt {
        after,
        before: before.as_ref(),
        opposing: opposing.as_ref(),
        opposing_frame: OpposingFrame::from(arguments.opposing_frame),
    };
    measure(&attempt, &request, &arguments.output, &mut timings)?;
    if arguments.output.timings {
        timings.print();
    }
    Ok(())
}

/// Aligns, finds, measures, and writes what `output` asks for.
pub fn measure(
    attempt: &Attempt<'_>,
    request: &Request,
    output: &Output,
    timings: &mut Timings,
) -> anyhow::Result<Document> {
    let aligned = timings.stage("align", || attempt.align())?;
    let file = &attempt.after.file;
    let found = timings.stage("find", || attempt.find(aligned.as_ref(), request));
    let preparation = match found {
        Ok(preparation) => preparation,
        Err(error) => {
            // The alignment is worth knowing even when there is nothing to measure.
            let residual = aligned.as_ref().map(|aligned| aligned.summary());
            bail!("{file}: {error}{}", residual.map_or(String::new(), |text| format!(" ({text})")));
        }
    };
    let document = timings.stage("measure", || attempt.document(&preparation, request));
    timings.stage("write", || write(&preparation, &document, output))?;
    if !output.quiet {
        print!("{}", table::render(&document));
    }
    Ok(document)
}

fn write(preparation: &Preparation<'_>, document: &Document, output: &Output) -> anyhow::Result<()> {
    if let Some(path) = &output.json {
        let mut json = serde_json::to_string_pretty(document)?;
        json.push('\n');
        save(path, json.as_bytes())?;
    }
    if let Some(path) = &output.report {
        save(path, kerfwright_report::html(preparation, document).as_bytes())?;
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

/// Reads the given scans side by side.
pub fn read_all<P: AsRef<Path> + Sync>(paths: [Option<&P>; 3]) -> anyhow::Result<[Option<ScanFile>; 3]> {
    let read: Vec<anyhow::Result<Option<ScanFile>>> =
        paths.par_iter().map(|path| path.map(|path| read(path.as_ref())).transpose()).collect();
    let scans: Vec<Option<ScanFile>> = read.into_iter().collect::<anyhow::Result<_>>()?;
    <[Option<ScanFile>; 3]>::try_from(scans).map_err(|_| anyhow::anyhow!("three scans were expected"))
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

fn read(path: &Path) -> anyhow::Result<ScanFile> {
    let name =
        path.file_name().map_or_else(|| path.display().to_string(), |name| name.to_string_lossy().into());
    let bytes = fs::read(path)
        .with_context(|| format!("{}: cannot be read; check the name and the rights", path.display()))?;
    Ok(ScanFile::read(&name, &bytes)?)
}
