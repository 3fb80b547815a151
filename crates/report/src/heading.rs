//! What was measured, from which files, and how well.

use kerfwright_measure::Document;
use kerfwright_tooth::Tooth;

use crate::glance::figure;
use crate::text::{escape, fixed, sentence};

/// Title, cautions in short, and facts.
pub fn heading(document: &Document) -> String {
    let tooth = Tooth::from_fdi(document.tooth.fdi).ok();
    let name = tooth.map_or_else(|| "Tooth".into(), |tooth| sentence(&tooth.name()));
    let other = tooth.map_or_else(String::new, |tooth| {
        format!(
            "Universal {} <span aria-hidden=\"true\">·</span> Palmer {}",
            tooth.universal(),
            tooth.palmer()
        )
    });
    format!(
        "<header><div class=\"number-plate\"><span class=\"system\">FDI</span><span class=\"fdi\">{}</span></div>\
         <div class=\"title\"><p class=\"kind\">Crown preparation, measured from scans</p><h1>{}</h1><p class=\"other\">{other}</p></div>\
         <p class=\"caution\">Teaching and decision support, not a diagnosis. The licensed clinician and local rules decide. \
         Keep learners' and patients' data private.</p>{}</header>",
        document.tooth.fdi,
        escape(&name),
        facts(document)
    )
}

/// The facts under the title.
fn facts(document: &Document) -> String {
    let mut facts = vec![("Number taken for", escape(&sentence(&document.tooth.taken_for)))];
    facts.push(("Scans", scans(document)));
    facts.push(("Path of placement", path(document)));
    if let Some(alignment) = alignment(document) {
        facts.push(("Alignment", alignment));
    }
    facts.push(("After scan", scan(document)));
    facts.push(("Made by", format!("{} {}", escape(&document.tool.name), escape(&document.tool.version))));
    let items = facts.iter().map(|(term, text)| format!("<div><dt>{term}</dt><dd>{text}</dd></div>"));
    format!("<dl class=\"facts\">{}</dl>", items.collect::<String>())
}

fn scans(document: &Document) -> String {
    let scans = roles(document).map(|role| {
        let input = &document.inputs[role];
        let short: String = input.sha256.chars().take(12).collect();
        format!("<li>{}: {} <code>{}…</code></li>", escape(role), escape(&input.file), escape(&short))
    });
    format!(
        "<ul>{}</ul><p>The codes are the beginnings of the files' SHA-256; <a href=\"#files\">in full below</a>.</p>",
        scans.collect::<String>()
    )
}

/// After, before, opposing, then whatever else there is.
fn roles(document: &Document) -> impl Iterator<Item = &str> {
    let known = ["after", "before", "opposing"];
    let others = document.inputs.keys().map(String::as_str).filter(move |role| !known.contains(role));
    known.into_iter().filter(|role| document.inputs.contains_key(*role)).chain(others)
}

fn path(document: &Document) -> String {
    let choice = match document.path.choice.as_str() {
        "best" => {
            "best: the direction that leaves the least undercut and shares the draft evenly between opposing walls"
        }
        "axis" => "the tooth's axis, as asked for",
        "fixed" => "given by the user",
        other => other,
    };
    let tilt = document.readings.get("path.tilt_deg").map(|reading| {
        format!(
            ", tilted {} against the tooth's axis, which is known to {}° (k = 1)",
            figure(reading),
            fixed(document.frame.axis_sigma_deg, 1)
        )
    });
    format!("{}{}.", escape(&sentence(choice)), tilt.unwrap_or_default())
}

fn alignment(document: &Document) -> Option<String> {
    let residual = document.readings.get("registration.residual_um")?;
    let pose = document.readings.get("registration.error");
    let pose = pose.and_then(|pose| {
        let turn = match pose.extras.get("deg")? {
            kerfwright_measure::document::Value::Number(deg) => fixed(*deg, 3),
            kerfwright_measure::document::Value::Text(text) => escape(text),
        };
        Some(format!("; pose at the tooth known to {}\u{a0}µm and {turn}° (k = 1)", fixed(pose.number()?, 1)))
    });
    Some(format!("Residual {} on held-out unchanged surface{}.", figure(residual), pose.unwrap_or_default()))
}

fn scan(document: &Document) -> String {
    let parts =
        [("scan.noise_um", "noise"), ("scan.edge_mm", "triangle edges"), ("scan.void_pct", "missing data")];
    let known = parts
        .iter()
        .filter_map(|(id, words)| Some(format!("{words} {}", figure(document.readings.get(*id)?))));
    let known: Vec<String> = known.collect();
    if known.is_empty() { "Quality not known.".into() } else { format!("{}.", sentence(&known.join(", "))) }
}

/// The files in full, and what the frame rests on.
pub fn provenance(document: &Document) -> String {
    let rows = roles(document).map(|role| {
        let input = &document.inputs[role];
        let findings = input.findings.iter().map(|finding| format!("<li>{}</li>", escape(finding)));
        let findings: String = findings.collect();
        let findings = if findings.is_empty() { "nothing to repair".into() } else { format!("<ul>{findings}</ul>") };
        format!(
            "<tr role=\"row\"><th role=\"rowheader\" scope=\"row\">{}: {}</th><td role=\"cell\"><code class=\"hash\">{}</code></td>\
             <td role=\"cell\">{}, {} triangles. {findings}</td></tr>",
            escape(role),
            escape(&input.file),
            escape(&input.sha256),
            escape(&input.format),
            input.n_triangles
        )
    });
    let [x, y, z] = document.path.direction.map(|part| fixed(part, 4));
    let evidence =
        document.frame.axis_evidence.iter().map(|line| format!("<li>{}</li>", escape(&sentence(line))));
    format!(
        "<table role=\"table\" class=\"files\"><caption>Scans as they were read</caption><thead role=\"rowgroup\"><tr role=\"row\">\
         <th role=\"columnheader\" scope=\"col\">File</th><th role=\"columnheader\" scope=\"col\">SHA-256</th>\
         <th role=\"columnheader\" scope=\"col\">Format, and what was found</th></tr></thead><tbody role=\"rowgroup\">{}</tbody></table>\
         <h3>Directions</h3><p>Mesial was told from distal because {}. The path of placement is ({x}, {y}, {z}) in the after \
         scan's frame. The tooth's axis was agreed from:</p><ul>{}</ul>\
         <h3>Numbers</h3><p>Uncertainties are expanded (U<sub>95</sub>, k = 2): the true value lies within them in about 95 of 100 \
         cases. They are rounded up, and each value has the digits that its uncertainty leaves. The finish line is {}\u{a0}mm long \
         and was read at {} stations.</p>",
        rows.collect::<String>(),
        escape(&document.tooth.mesial_because),
        evidence.collect::<String>(),
        fixed(document.finish_line.length_mm, 1),
        document.finish_line.stations.len()
    )
}
