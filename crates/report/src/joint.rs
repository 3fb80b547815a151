//! Several prepared teeth on one page.

use kerfwright_measure::{JointDocument, Preparation};

use crate::text::escape;
use crate::{page, table};

/// The whole page: what the teeth have in common, then each tooth with the parts of its own page.
pub fn page(preparations: &[Preparation<'_>], joint: &JointDocument) -> String {
    let numbers: Vec<String> = joint.teeth.iter().map(|document| document.tooth.fdi.to_string()).collect();
    let file = joint.inputs.get("after").map_or("", |input| input.file.as_str());
    let links = numbers.iter().map(|number| format!("<li><a href=\"#tooth-{number}\">FDI {number}</a></li>"));
    let teeth =
        preparations.iter().zip(&joint.teeth).zip(&numbers).map(|((preparation, document), number)| {
            let body = own_anchors(&page::body(preparation, document), number);
            format!("<article id=\"tooth-{number}\">{body}</article>\n")
        });
    let title = format!("Crown preparations on FDI {}, {}", numbers.join(", "), escape(file));
    page::whole(
        &title,
        "together",
        &format!(
            "<nav aria-label=\"Teeth\"><ul><li><a href=\"#together\">Together</a></li>{}</ul></nav>\n\
             <main>\n<section id=\"together\" aria-labelledby=\"together-heading\"><h2 id=\"together-heading\">The abutments \
             together</h2>{}</section>\n{}</main>",
            links.collect::<String>(),
            together(joint),
            teeth.collect::<String>()
        ),
    )
}

fn together(joint: &JointDocument) -> String {
    let refused = joint
        .abutments
        .refused
        .iter()
        .map(|(id, reason)| format!("<li><code>{}</code>: {}</li>", escape(id), escape(reason)));
    let refused = refused.collect::<String>();
    let missing = if refused.is_empty() { refused } else { format!("<h3>Not taken</h3><ul>{refused}</ul>") };
    format!("{}{missing}", table::of(&joint.abutments.readings))
}

/// Anchors and the links to them, made the tooth's own. Text from outside is escaped and holds no such attribute.
fn own_anchors(html: &str, number: &str) -> String {
    let starts = ["id=\"", "href=\"#", "aria-labelledby=\"", "url(#"];
    starts.iter().fold(html.replace("<main>", "<div>").replace("</main>", "</div>"), |html, start| {
        html.replace(start, &format!("{start}t{number}-"))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn anchors_and_links_stay_together() {
        let html = "<section id=\"files\" aria-labelledby=\"files-heading\"><a href=\"#files\">x</a>\
                    <g clip-path=\"url(#window-a)\"/></section>";
        let own = own_anchors(html, "35");
        assert!(own.contains("id=\"t35-files\"") && own.contains("href=\"#t35-files\""), "{own}");
        assert!(own.contains("aria-labelledby=\"t35-files-heading\""), "{own}");
        assert!(own.contains("url(#t35-window-a)"), "{own}");
    }
}
