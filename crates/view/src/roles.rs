//! Which scan is which.

use kerfwright_geometry::noise_mm;
use kerfwright_measure::region::Change;
use kerfwright_measure::scene::Placed;
use kerfwright_measure::{MeasureError, ScanFile};
use kerfwright_registration::{Options, register};
use nalgebra::Point3;
use serde::{Deserialize, Serialize};

/// What a scan is to an attempt.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS, utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Role {
    /// The prepared tooth with its neighbours.
    After,
    /// The same arch before cutting.
    Before,
    /// The opposing arch.
    Opposing,
}

/// A guess at the role of one scan.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RoleGuess {
    /// What it is taken for; `None` where nothing tells.
    pub role: Option<Role>,
    /// Whether the shapes prove it; else it rests on the file's name or on what is left.
    pub certain: bool,
    /// Why, for the user.
    pub because: String,
}

/// What two scans are to each other.
enum Pair {
    /// The same arch; the first was cut.
    FirstCut(f64),
    /// The same arch; the second was cut.
    SecondCut(f64),
    /// The same arch, nothing cut.
    Same,
    /// Teeth that close on each other.
    Bite,
    /// Nothing known.
    Unknown,
}

/// Guesses which of one to three scans is after, before and opposing; one guess a scan, in their order.
pub fn guess_roles(scans: &[&ScanFile]) -> Vec<RoleGuess> {
    match scans {
        [] => Vec::new(),
        [_] => vec![guess(Role::After, false, "the only scan, so it is taken for the one after cutting")],
        [one, other] => of_two(one, other),
        [..] => of_three(scans),
    }
}

fn guess(role: Role, certain: bool, because: impl Into<String>) -> RoleGuess {
    RoleGuess { role: Some(role), certain, because: because.into() }
}

fn of_two(one: &ScanFile, other: &ScanFile) -> Vec<RoleGuess> {
    match compare(one, other) {
        Pair::FirstCut(mm3) => cut_pair(mm3).into(),
        Pair::SecondCut(mm3) => cut_pair(mm3).into_iter().rev().collect(),
        Pair::Same => by_name(&[one, other], "both show the same arch and nothing was cut between them"),
        Pair::Bite => {
            let opposes =
                by_word(&other.file) == Some(Role::Opposing) || by_word(&one.file) != Some(Role::Opposing);
            let because = "the two close on each other; which of them is prepared was taken from the names and the order";
            let (first, second) =
                if opposes { (Role::After, Role::Opposing) } else { (Role::Opposing, Role::After) };
            vec![guess(first, false, because), guess(second, false, because)]
        }
        Pair::Unknown => by_name(&[one, other], "the two neither show one arch nor close on each other"),
    }
}

fn cut_pair(mm3: f64) -> [RoleGuess; 2] {
    [
        guess(Role::After, true, format!("same arch as the other scan, with {mm3:.0} mm³ less tooth")),
        guess(Role::Before, true, format!("same arch as the other scan, with {mm3:.0} mm³ more tooth")),
    ]
}

fn of_three(scans: &[&ScanFile]) -> Vec<RoleGuess> {
    let n = scans.len();
    // Pairs that close on each other are told in no time and spare the search for a pose that is not there.
    let pairs = || (0..n).flat_map(|a| (a + 1..n).map(move |b| (a, b)));
    let bite = pairs().find(|&(a, b)| is_bite(scans[a], scans[b]));
    let mut candidates: Vec<(usize, usize)> = pairs().filter(|pair| Some(*pair) != bite).collect();
    candidates.sort_by_key(|&(a, b)| {
        let named = [a, b].map(|scan| by_word(&scans[scan].file));
        usize::from(named.contains(&Some(Role::Opposing)))
    });
    for (a, b) in candidates {
        let (after, before, mm3) = match compare(scans[a], scans[b]) {
            Pair::FirstCut(mm3) => (a, b, mm3),
            Pair::SecondCut(mm3) => (b, a, mm3),
            _ => continue,
        };
        let [cut, uncut] = cut_pair(mm3);
        let is_third_proven = bite.is_some();
        return (0..n)
            .map(|scan| match scan {
                _ if scan == after => cut.clone(),
                _ if scan == before => uncut.clone(),
                _ if is_third_proven => guess(Role::Opposing, true, "closes on the same arch"),
                _ => guess(Role::Opposing, false, "is another arch than the two others"),
            })
            .collect();
    }
    by_name(scans, "no two scans show the same arch with a tooth cut between them")
}

/// By the names of the files, each role once.
fn by_name(scans: &[&ScanFile], why: &str) -> Vec<RoleGuess> {
    let mut taken = Vec::new();
    scans
        .iter()
        .map(|scan| match by_word(&scan.file).filter(|role| !taken.contains(role)) {
            Some(role) => {
                taken.push(role);
                guess(role, false, format!("{why}; the file's name was taken for it"))
            }
            None => RoleGuess {
                role: None,
                certain: false,
                because: format!("{why}, and the name tells nothing"),
            },
        })
        .collect()
}

fn by_word(file: &str) -> Option<Role> {
    const WORDS: [(&str, Role); 12] = [
        ("oppos", Role::Opposing),
        ("antagon", Role::Opposing),
        ("gegenkiefer", Role::Opposing),
        ("before", Role::Before),
        ("uncut", Role::Before),
        ("unprepared", Role::Before),
        ("preop", Role::Before),
        ("pre-op", Role::Before),
        ("antes", Role::Before),
        ("after", Role::After),
        ("prep", Role::After),
        ("despues", Role::After),
    ];
    let name = file.to_lowercase();
    WORDS.iter().find(|(word, _)| name.contains(word)).map(|(_, role)| *role)
}

/// Aligns two scans and sees which has less tooth.
fn compare(one: &ScanFile, other: &ScanFile) -> Pair {
    if is_bite(one, other) {
        return Pair::Bite;
    }
    let Ok(found) = register(&other.surface, &one.surface, &Options::default()) else { return Pair::Unknown };
    // The scans as after (one) and before (other).
    let placed = Placed { surface: &other.surface, after_from_scan: found.fixed_from_moving.inverse() };
    let vertices: Vec<u32> = (0..one.surface.mesh.vertices.len() as u32).step_by(16).collect();
    let change = Change::between(&one.surface, &placed, noise_mm(&one.surface, &vertices));
    match change.prepared_regions(&one.surface) {
        Ok((regions, _)) => {
            let volume = regions.iter().map(|region| {
                let inside = (0..region.inside.len()).filter(|&vertex| region.inside[vertex]);
                let areas = kerfwright_measure::region::vertex_areas(&one.surface);
                inside.map(|vertex| change.reduction_mm[vertex] * areas[vertex]).sum::<f64>()
            });
            Pair::FirstCut(volume.sum())
        }
        Err(MeasureError::Swapped { volume_mm3 }) => Pair::SecondCut(volume_mm3),
        Err(_) => Pair::Same,
    }
}

/// Whether two scans lie as a bite: they come close without reaching into each other, and where they are close they face each
/// other.
fn is_bite(one: &ScanFile, other: &ScanFile) -> bool {
    const NEAR_MM: f64 = 1.0;
    const INTO_MM: f64 = 0.3;
    const LEAST: usize = 20;
    let n = one.surface.mesh.vertices.len();
    let picked: Vec<usize> = (0..n).step_by((n / 6000).max(1)).collect();
    let points: Vec<Point3<f64>> = picked.iter().map(|&vertex| one.surface.mesh.vertices[vertex]).collect();
    let found = Placed::in_place(&other.surface).nearest(&points, NEAR_MM);
    let near = picked.iter().zip(found).filter_map(|(&vertex, near)| {
        let near = near.filter(|near| !near.on_border)?;
        Some((near.signed_mm, near.normal.dot(&one.surface.vertex_normals[vertex]) < 0.0))
    });
    let near: Vec<(f64, bool)> = near.collect();
    let facing = near.iter().filter(|(_, faces)| *faces).count();
    let deep = near.iter().filter(|(mm, _)| *mm < -INTO_MM).count();
    near.len() >= LEAST && 10 * facing >= 9 * near.len() && 50 * deep <= near.len()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_tell_something() {
        assert_eq!(by_word("QS-07_After.stl"), Some(Role::After));
        assert_eq!(by_word("unprepared.ply"), Some(Role::Before));
        assert_eq!(by_word("opposing.stl"), Some(Role::Opposing));
        assert_eq!(by_word("scan3.stl"), None);
    }
}
