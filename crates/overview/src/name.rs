//! What readings are called by themselves.

use kerfwright_exercise::readings;

/// A reading as people call it, with its place and, if one is asked for, its further number:
/// `axial reduction, middle third, distal`.
pub fn name(reading: &str, part: Option<&str>) -> String {
    let found = readings::find(reading);
    let title = found.map_or_else(|| reading.to_owned(), |(row, _)| row.title.clone());
    let place = found.and_then(|(_, place)| place);
    let more = place.into_iter().chain(part).map(|word| format!(", {}", plain(word)));
    title + &more.collect::<String>()
}

/// A word of an id without its underscores and the unit at its end.
fn plain(word: &str) -> String {
    let unit = readings::unit_of(word).map_or(0, |unit| unit.len() + 1);
    word[..word.len() - unit].replace('_', " ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn readings_are_called_with_place_and_part() {
        assert_eq!(name("reduction.axial.distal.middle_mm", None), "axial reduction, middle third, distal");
        let zone = name("reduction.occlusal.marginal_ridge_mm", Some("least"));
        assert_eq!(zone, "occlusal reduction, marginal ridge, least");
        assert_eq!(name("of.nobody", Some("p05")), "of.nobody, p05");
    }
}
