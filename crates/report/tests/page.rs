//! The page of a made-up preparation whose geometry is known.

use std::sync::LazyLock;

use kerfwright_geometry::Surface;
use kerfwright_measure::preparation::{Pose, Wishes};
use kerfwright_measure::scene::{Placed, Scene};
use kerfwright_measure::{
    Attempt, Document, JawWishes, OpposingFrame, PathChoice, Preparation, Request, ScanFile,
};
use kerfwright_mesh::Extent;
use kerfwright_phantom::{ByAspect, Finish, Phantom, ScanOptions, Spec};
use nalgebra::{Isometry3, Point3};

/// A file name that would break out of a page that trusts it.
const WICKED: &str = "\"><img src='http://example.org/x' onerror=\"alert(1)\"> & a.stl";
const WIDTH_MM: f64 = 1.0;
const TAPER_DEG: f64 = 8.0;

struct Scanned {
    after: ScanFile,
    before: ScanFile,
    opposing: ScanFile,
    before_from_after: Isometry3<f64>,
    mesial_point: Point3<f64>,
}

/// Made once for all tests: it takes seconds.
static SCANNED: LazyLock<Scanned> = LazyLock::new(scanned);

fn scanned() -> Scanned {
    let spec = Spec {
        fdi: 35,
        taper_deg: ByAspect::all(TAPER_DEG),
        width_mm: ByAspect::all(WIDTH_MM),
        finish: ByAspect::all(Finish::SHOULDER),
        ..Spec::default()
    };
    let scans = Phantom::new(&spec).scan(&ScanOptions::exact());
    let after_from_tooth = scans.after_from_tooth;
    let file = |name: &str, mesh| ScanFile {
        file: name.into(),
        sha256: "0123456789abcdef".repeat(4),
        format: "made for this test".into(),
        findings: Vec::new(),
        extent: Extent::Arch,
        surface: Surface::new(mesh),
        alignment: Default::default(),
    };
    Scanned {
        after: file(WICKED, scans.after),
        before: file("before.stl", scans.before),
        opposing: file("opposing.stl", scans.opposing),
        before_from_after: scans.before_from_after,
        mesial_point: after_from_tooth.transform_point(&Point3::new(8.0, 0.0, 5.0)),
    }
}

/// The page with or without the before and the opposing scan.
fn page(scanned: &Scanned, is_alone: bool) -> (String, Document) {
    let after_from_before = scanned.before_from_after.inverse();
    let placed = |scan: &'static str| {
        let file = if scan == "before" { &scanned.before } else { &scanned.opposing };
        (!is_alone).then_some(Placed { surface: &file.surface, after_from_scan: after_from_before })
    };
    let scene =
        Scene { after: &scanned.after.surface, before: placed("before"), opposing: placed("opposing") };
    let pose = Pose {
        before_from_after: scanned.before_from_after,
        residual_um: 5.0,
        sigma_mm: 0.002,
        sigma_deg: 0.01,
        explained_pct: 90.0,
    };
    let request = Request {
        tooth: kerfwright_tooth::parse("35", None).unwrap(),
        mesial_point: None,
        path: PathChoice::Best,
        jaw: JawWishes::default(),
    };
    let wishes = Wishes {
        tooth: request.tooth.tooth,
        mesial_point: Some(scanned.mesial_point),
        path: PathChoice::Best,
        opposing_shares_after: is_alone,
        jaw: JawWishes::default(),
    };
    let pose = (!is_alone).then_some(pose);
    let preparation = Preparation::find(scene, pose, &wishes, &|point| point.to_string()).unwrap();
    let attempt = Attempt {
        after: &scanned.after,
        before: (!is_alone).then_some(&scanned.before),
        opposing: (!is_alone).then_some(&scanned.opposing),
        opposing_frame: OpposingFrame::Before,
    };
    let document = attempt.document(&preparation, &request);
    (kerfwright_report::html(&preparation, &document), document)
}

/// Walks through the tags; every one that opens must close in order, and attributes must be quoted.
fn check_balance(html: &str) {
    const VOID: &[&str] = &["meta", "br", "img", "hr", "link", "input"];
    let mut open: Vec<&str> = Vec::new();
    let mut rest = &html[html.find("<html").unwrap()..];
    while let Some(start) = rest.find('<') {
        let tag = &rest[start + 1..];
        let end = tag.find('>').unwrap();
        let (inner, after) = (&tag[..end], &tag[end + 1..]);
        assert_eq!(inner.matches('"').count() % 2, 0, "a > inside an attribute of <{inner}>");
        let name = inner.trim_start_matches('/').split([' ', '/']).next().unwrap();
        if let Some(closed) = inner.strip_prefix('/') {
            assert_eq!(open.pop(), Some(closed), "before: {}", &html[..html.len() - after.len()]);
        } else if name == "style" {
            rest = &after[after.find("</style>").unwrap()..];
            open.push(name);
            continue;
        } else if !inner.ends_with('/') && !VOID.contains(&name) {
            open.push(name);
        }
        rest = after;
    }
    assert!(open.is_empty(), "left open: {open:?}");
}

/// Every value of an attribute.
fn attributes<'a>(html: &'a str, name: &str) -> Vec<&'a str> {
    let start = format!(" {name}=\"");
    html.split(&start).skip(1).map(|rest| &rest[..rest.find('"').unwrap()]).collect()
}

#[test]
fn the_page_holds_together_and_loads_nothing() {
    let (html, document) = page(&SCANNED, false);
    check_balance(&html);

    // Nothing from outside: addresses are anchors of the page or pictures inside it, styles name no address.
    let anchors = attributes(&html, "id");
    for address in attributes(&html, "href").into_iter().chain(attributes(&html, "src")) {
        let inside = address.strip_prefix('#').is_some_and(|anchor| anchors.contains(&anchor));
        assert!(
            inside || address.starts_with("data:image/png;base64,"),
            "{}",
            &address[..address.len().min(80)]
        );
    }
    let style = &html[html.find("<style>").unwrap()..html.find("</style>").unwrap()];
    assert!(!style.contains("url(") && !style.contains("@import"));
    assert!(!html.contains("<script") && !html.contains("<img") && !html.contains(" onerror=\""));
    assert!(html.contains(
        "&quot;&gt;&lt;img src=&#39;http://example.org/x&#39; onerror=&quot;alert(1)&quot;&gt; &amp; a.stl"
    ));
    assert!(html.len() < 1_500_000, "{} bytes", html.len());

    // Anchors are unique; every drawing says in words what it shows, or is hidden from those who listen.
    let mut unique = anchors.clone();
    unique.sort_unstable();
    unique.dedup();
    assert_eq!(unique.len(), anchors.len());
    for drawing in html.split("<svg ").skip(1).map(|rest| &rest[..rest.find('>').unwrap()]) {
        assert!(drawing.contains("aria-hidden=\"true\"") || drawing.contains("role=\"img\" aria-label=\""));
    }
    assert_eq!(html.matches("data:image/png").count(), 5);

    // Every reading stands in the tables with its id, every hash in full.
    for id in document.readings.keys().chain(document.refused.keys()) {
        assert!(html.contains(&format!("<code>{id}</code>")), "{id}");
    }
    assert!(html.contains(&"0123456789abcdef".repeat(4)));
}

#[test]
fn the_same_input_gives_the_same_page() {
    let (one, _) = page(&SCANNED, false);
    let single = rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap();
    let (other, _) = single.install(|| page(&SCANNED, false));
    assert!(one == other);
}

#[test]
fn the_sections_are_true_to_scale() {
    let (html, _) = page(&SCANNED, false);
    let sections: Vec<&str> = html
        .split("<svg class=\"section\"")
        .skip(1)
        .map(|rest| &rest[..rest.find("</svg>").unwrap()])
        .collect();
    assert_eq!(sections.len(), 2);
    for section in sections {
        // The print width is the width of the view box, which is in millimetres of tooth.
        let view_box: Vec<f64> =
            attributes(section, "viewBox")[0].split(' ').map(|part| part.parse().unwrap()).collect();
        let style = attributes(section, "style")[0];
        let wide: f64 = style.split("--mm-wide:").nth(1).unwrap().split(';').next().unwrap().parse().unwrap();
        assert_eq!(wide, view_box[2]);

        // What is drawn is as long and as steep as the numbers beside it say, and as steep as the solid was cut.
        let edges = after_each(section, "<circle class=\"edge\" cx=\"", '"');
        let numbers = after_each(section, "<text class=\"number middle\"", '/');
        let (walls, number) = (wall_lines(section), |unit: &str| -> Vec<f64> {
            let labels = numbers
                .iter()
                .filter_map(|text| text.split_once('>')?.1.strip_suffix('<')?.strip_suffix(unit));
            labels.filter_map(|label| label.parse().ok()).collect()
        });
        assert_eq!((edges.len(), walls.len()), (2, 2));
        let (widths_mm, tapers_deg) = (number(" mm"), number("°"));
        for side in 0..2 {
            let [foot, end] = walls[side];
            let width_mm = (foot[0] - edges[side].parse::<f64>().unwrap()).abs();
            assert!((width_mm - widths_mm[side]).abs() <= 0.0055, "{width_mm} {widths_mm:?}");
            let taper_deg = ((end[0] - foot[0]).abs() / (end[1] - foot[1]).abs()).atan().to_degrees();
            assert!((taper_deg - tapers_deg[side]).abs() <= 0.07, "{taper_deg} {tapers_deg:?}");
            assert!((taper_deg - TAPER_DEG).abs() < 0.6, "{taper_deg}");
        }
    }
}

/// The text after each occurrence of `start`, up to `end`.
fn after_each<'a>(text: &'a str, start: &str, end: char) -> Vec<&'a str> {
    text.split(start).skip(1).map(|rest| &rest[..rest.find(end).unwrap()]).collect()
}

/// The first measured line of each side: from the foot of the wall line to its upper end.
fn wall_lines(section: &str) -> Vec<[[f64; 2]; 2]> {
    let data =
        section.split("<path class=\"measure\" d=\"M").skip(1).map(|rest| &rest[..rest.find('"').unwrap()]);
    let lines = data.filter_map(|data| {
        let points: Vec<[f64; 2]> = data
            .split('L')
            .map(|point| {
                let (x, y) = point.split_once(' ').unwrap();
                [x.parse().unwrap(), y.parse().unwrap()]
            })
            .collect();
        <[[f64; 2]; 2]>::try_from(points).ok()
    });
    lines.filter(|[from, to]| (to[1] - from[1]).abs() > 2.0 && (to[0] - from[0]).abs() > 0.1).collect()
}

#[test]
fn without_a_before_scan_the_page_says_so() {
    let (html, document) = page(&SCANNED, true);
    check_balance(&html);
    assert!(html.contains("There is no scan from before cutting"));
    assert!(html.contains("Angle of the wall to the path"));
    assert!(document.refused.contains_key("reduction.occlusal.functional_mm"));
    assert!(!html.contains("class=\"outline before\"") && !html.contains("class=\"outline opposing\""));
    assert_eq!(html.matches("data:image/png").count(), 5);
}
