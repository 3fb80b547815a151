//! The page: its parts in order.

use kerfwright_measure::{Document, Preparation};

use crate::camera::Axes;
use crate::text::escape;
use crate::{adjacent, gallery, glance, heading, marks, sections, table, unrolled};

const STYLE: &str = include_str!("style.css");
/// Nothing may be loaded from anywhere, and nothing may run.
const POLICY: &str =
    "default-src 'none'; img-src data:; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'";

/// A part of the page.
struct Part {
    anchor: &'static str,
    heading: &'static str,
    lead: &'static str,
    body: String,
}

/// The whole page.
pub fn page(preparation: &Preparation<'_>, document: &Document) -> String {
    whole(&title(document), "glance", &body(preparation, document))
}

/// A page around its body; `first` is the anchor of what matters most.
pub fn whole(title: &str, first: &str, body: &str) -> String {
    format!(
        "<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
         <meta http-equiv=\"Content-Security-Policy\" content=\"{POLICY}\">\n\
         <meta name=\"color-scheme\" content=\"light dark\">\n<title>{title}</title>\n<style>\n{STYLE}</style>\n</head>\n<body>\n\
         <a class=\"skip\" href=\"#{first}\">Skip to the key figures</a>\n{body}\n</body>\n</html>\n"
    )
}

/// Heading and parts of one tooth.
pub fn body(preparation: &Preparation<'_>, document: &Document) -> String {
    let frame = &preparation.frame;
    let axes = Axes::new(frame.origin, &frame.mesial, &frame.facial, &preparation.path);
    let parts = parts(preparation, &axes, document);
    let links =
        parts.iter().map(|part| format!("<li><a href=\"#{}\">{}</a></li>", part.anchor, part.heading));
    let sections = parts.iter().map(|part| {
        let lead = if part.lead.is_empty() { String::new() } else { format!("<p class=\"lead\">{}</p>", part.lead) };
        format!(
            "<section id=\"{0}\" aria-labelledby=\"{0}-heading\"><h2 id=\"{0}-heading\">{1}</h2>{lead}{2}</section>\n",
            part.anchor, part.heading, part.body
        )
    });
    format!(
        "{}\n<nav aria-label=\"On this page\"><ul>{}</ul></nav>\n<main>\n{}</main>",
        heading::heading(document),
        links.collect::<String>(),
        sections.collect::<String>()
    )
}

fn title(document: &Document) -> String {
    let file = document.inputs.get("after").map_or("", |input| input.file.as_str());
    format!("Crown preparation on FDI {}, {}", document.tooth.fdi, escape(file))
}

fn parts(preparation: &Preparation<'_>, axes: &Axes, document: &Document) -> Vec<Part> {
    let marks = marks::marks(document);
    let cautions = document.cautions.iter().map(|caution| format!("<li>{}</li>", escape(caution)));
    let adjacent = adjacent::pictures(preparation, axes, document);
    let mut parts = vec![
        Part {
            anchor: "glance",
            heading: "At a glance",
            lead: "Each figure with its expanded uncertainty (k = 2). No limits are applied here: what counts as good is for \
                   the exercise or the clinician to say.",
            body: glance::glance(document),
        },
        Part {
            anchor: "pictures",
            heading: "From five sides",
            lead: "",
            body: gallery::gallery(preparation, axes, &marks),
        },
        Part {
            anchor: "sections",
            heading: "In section",
            lead: "Two planes through the centre of the finish line that hold the path of placement, true to scale.",
            body: sections::sections(preparation, axes, document),
        },
        Part {
            anchor: "around",
            heading: "Around the finish line",
            lead: "Every section around the tooth. The shaded stretches are what the aspects' readings are taken from; dots with \
                   bars are the readings with their uncertainty. Dotted curve: the finish line was bridged there, not seen.",
            body: unrolled::chart(document),
        },
        Part { anchor: "readings", heading: "All readings", lead: "", body: table::readings(document) },
        Part {
            anchor: "missing",
            heading: "Warnings, and what was not taken",
            lead: "",
            body: table::refused_and_warnings(document),
        },
        Part { anchor: "files", heading: "Files and method", lead: "", body: heading::provenance(document) },
        Part {
            anchor: "cautions",
            heading: "Cautions",
            lead: "",
            body: format!(
                "<ul>{}</ul><p class=\"credit\">Colours: batlow, from the Scientific colour maps of F. Crameri.</p>",
                cautions.collect::<String>()
            ),
        },
    ];
    if !adjacent.is_empty() {
        let damage = Part {
            anchor: "adjacent",
            heading: "Damage to the adjacent teeth",
            lead: "What the bur took from a neighbour, seen from where the prepared tooth stands, which is cut away.",
            body: adjacent,
        };
        parts.insert(2, damage);
    }
    parts
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::colour::{luminance, parse};

    /// The colour of a name in one theme of the style sheet.
    fn colour(theme: &str, name: &str) -> f64 {
        let value = theme.split(&format!("--{name}: ")).nth(1).and_then(|rest| rest.split(';').next());
        luminance(value.and_then(parse).unwrap_or_else(|| panic!("no colour {name}")))
    }

    /// WCAG 2.2, 1.4.3 and 1.4.11: 4.5 to 1 for text, 3 to 1 for lines that carry meaning.
    #[test]
    fn text_and_lines_stand_out_in_both_themes() {
        let themes: Vec<&str> = STYLE.split(":root {").skip(1).take(2).collect();
        assert_eq!(themes.len(), 2);
        let texts = ["ink", "quiet", "deep", "measure"].map(|name| (name, 4.5));
        let lines = ["before", "opposing"].map(|name| (name, 3.0));
        for theme in themes {
            for (name, least) in texts.into_iter().chain(lines) {
                for ground in ["paper", "raised", "tooth", "opposing-fill", "band"] {
                    let (a, b) = (colour(theme, name), colour(theme, ground));
                    let contrast = (a.max(b) + 0.05) / (a.min(b) + 0.05);
                    assert!(contrast >= least, "{name} on {ground}: {contrast:.2}");
                }
            }
        }
    }
}
