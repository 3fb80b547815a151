//! The figures of `docs/measures.md`: the committed ones are those that today's program draws.

#[path = "../examples/figures/bodies.rs"]
mod bodies;

use std::collections::BTreeSet;
use std::path::Path;

use kerfwright_report::figures::Figure;

/// Larger than this no figure may be, bytes.
const MAX_BYTES: usize = 200_000;
/// Another system's mathematics may round a last digit otherwise: so much may numbers differ.
const ROUNDING: f64 = 0.15;

#[test]
fn the_committed_figures_are_what_the_program_draws() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs/figures");
    let figures = bodies::figures();
    let drawn: BTreeSet<String> = figures.iter().map(|figure| format!("{}.svg", figure.name)).collect();
    let files = std::fs::read_dir(&folder).unwrap();
    let committed: BTreeSet<String> =
        files.map(|file| file.unwrap().file_name().into_string().unwrap()).collect();
    assert_eq!(drawn, committed, "run cargo xtask figures");
    for Figure { name, svg } in &figures {
        let committed = std::fs::read_to_string(folder.join(format!("{name}.svg"))).unwrap();
        assert!(is_alike(&committed, svg), "docs/figures/{name}.svg is stale: run cargo xtask figures");
        assert!(svg.len() < MAX_BYTES, "{name}: {} bytes", svg.len());
        assert!(svg.contains("<title id=") && svg.contains("<desc id="), "{name}");
        assert!(!svg.contains("NaN") && !svg.contains("not taken"), "{name}: something was not measured");
    }
}

#[test]
fn every_figure_stands_in_the_page() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs");
    let page = std::fs::read_to_string(folder.join("measures.md")).unwrap();
    for file in std::fs::read_dir(folder.join("figures")).unwrap() {
        let name = file.unwrap().file_name().into_string().unwrap();
        assert!(page.contains(&format!("(figures/{name})")), "{name} is shown nowhere");
    }
}

/// Equal but for the last digits of numbers and what is in embedded pictures.
fn is_alike(one: &str, other: &str) -> bool {
    let (one, other) = (words(one), words(other));
    one.len() == other.len() && one.iter().zip(&other).all(|(a, b)| is_alike_word(a, b))
}

fn is_alike_word(one: &str, other: &str) -> bool {
    match (one.parse::<f64>(), other.parse::<f64>()) {
        (Ok(one), Ok(other)) => (one - other).abs() <= ROUNDING,
        _ => one == other,
    }
}

/// Numbers and what stands between them.
fn words(svg: &str) -> Vec<&str> {
    let without_pictures = svg.split('"').filter(|part| !part.starts_with("data:image/png"));
    without_pictures
        .flat_map(|part| part.split_inclusive(|letter: char| !is_of_number(letter)))
        .flat_map(split_end)
        .collect()
}

/// A number and the letter that ends it.
fn split_end(word: &str) -> [&str; 2] {
    let end = word
        .char_indices()
        .next_back()
        .map_or(0, |(place, letter)| if is_of_number(letter) { word.len() } else { place });
    [&word[..end], &word[end..]]
}

fn is_of_number(letter: char) -> bool {
    letter.is_ascii_digit() || matches!(letter, '.' | '-')
}

#[test]
fn a_moved_line_is_no_last_digit() {
    let drawn = |y: &str| format!("<path d=\"M1.5 {y}L3 4\"/><text>0.52 mm</text>");
    assert!(is_alike(&drawn("2.1"), &drawn("2.2")));
    assert!(!is_alike(&drawn("2.1"), &drawn("2.4")));
    assert!(!is_alike(&drawn("2.1"), &drawn("2.1").replace("0.52 mm", "0.52 µm")));
    assert!(!is_alike(&drawn("2.1"), &drawn("2.1").replace("path", "line")));
}
