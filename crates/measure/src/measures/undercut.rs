//! `undercut.*`: wall that the path cannot see.

use super::by_station::ByStation;
use crate::preparation::Preparation;
use crate::sheet::{Sheet, expanded, number, text};
use crate::station::Station;

/// Spacing of the levels at which the wall is compared, mm.
const LEVEL_MM: f64 = 0.1;
/// Stations to each side whose recesses are pooled: the median of seven is steadier than one.
const POOL: usize = 3;
/// A recess below this is not told from a wall parallel to the path, mm.
const LEAST_RECESS_MM: f64 = 0.02;

/// The wall's horizontal place at each level over the finish line, mm; NaN where it has none.
type Profile = Vec<f64>;

/// Area, depth and place of undercut walls.
pub fn take(preparation: &Preparation<'_>, sheet: &mut Sheet) {
    let Some(recesses) = Recesses::of(preparation) else {
        for id in ["undercut.area_mm2", "undercut.depth_mm", "undercut.where"] {
            sheet.refuse(id, "axial walls were found on less than half of the circumference");
        }
        return;
    };
    let n = recesses.by_station.len();
    let spacing_mm = preparation.ring.length_mm() / preparation.ring.points.len() as f64;
    let (mut deepest, mut area_mm2, mut hidden_stations) = ((0.0, 0), 0.0, 0);
    for (place, recess) in recesses.by_station.iter().enumerate() {
        let depth_mm = recesses.depths_mm[place];
        if !recesses.in_a_run(place) {
            continue;
        }
        hidden_stations += 1;
        if depth_mm > deepest.0 {
            deepest = (depth_mm, place);
        }
        let hidden_mm = LEVEL_MM * recess.iter().filter(|&&mm| mm > 0.0).count() as f64;
        area_mm2 += hidden_mm * spacing_mm * circumference_share(preparation, place);
    }
    let where_text = if hidden_stations == 0 {
        "none".to_owned()
    } else {
        crate::frame::Aspect::at(preparation.stations[deepest.1].angle_deg).to_string()
    };
    let place = (hidden_stations > 0).then(|| preparation.place_of_station(deepest.1));
    sheet.write("undercut.area_mm2", number(area_mm2, "mm2", 0.1 * area_mm2 + 0.05));
    sheet.write("undercut.depth_mm", number(deepest.0, "mm", depth_u95_mm(preparation)).at(place));
    let around_pct = 100.0 * f64::from(hidden_stations) / n as f64;
    sheet.write("undercut.where", text(where_text).with("around_pct", around_pct));
}

/// Expanded uncertainty of a recess, mm.
pub fn depth_u95_mm(preparation: &Preparation<'_>) -> f64 {
    expanded(&[preparation.noise_mm / (POOL as f64).sqrt(), 0.008])
}

/// How far each prepared vertex of the after scan lies behind what overhangs it, horizontally, mm: 0 where the path sees it,
/// NaN off the axial walls. What the reading does not count as undercut is 0 here too.
pub fn recess_at_vertices_mm(preparation: &Preparation<'_>) -> Vec<f64> {
    let mut at_vertices = vec![f64::NAN; preparation.scene.after.mesh.vertices.len()];
    let Some(recesses) = Recesses::of(preparation) else { return at_vertices };
    let by_station = ByStation::new(preparation);
    for (place, recess) in recesses.by_station.iter().enumerate() {
        let counts = recesses.in_a_run(place);
        for near in by_station.pooled(place, 0) {
            let level = (near.flat.y / LEVEL_MM).round();
            let is_wall =
                recesses.profiles[place].get(level.max(0.0) as usize).is_some_and(|mm| mm.is_finite());
            if level >= 0.0 && is_wall {
                at_vertices[near.vertex as usize] = if counts { recess[level as usize] } else { 0.0 };
            }
        }
    }
    at_vertices
}

/// How far the wall lies behind what overhangs it, station by station and level by level.
struct Recesses {
    profiles: Vec<Profile>,
    by_station: Vec<Vec<f64>>,
    depths_mm: Vec<f64>,
    threshold_mm: f64,
}

impl Recesses {
    /// `None` where walls were found on less than half of the circumference.
    fn of(preparation: &Preparation<'_>) -> Option<Self> {
        let profiles: Vec<Profile> = preparation.stations.iter().map(profile).collect();
        let n = profiles.len();
        if profiles.iter().filter(|profile| !profile.is_empty()).count() * 2 < n {
            return None;
        }
        let threshold_mm = LEAST_RECESS_MM.max(2.5 * preparation.noise_mm);
        let own: Vec<Vec<f64>> = profiles.iter().map(recess).collect();
        let by_station: Vec<Vec<f64>> = (0..n).map(|place| pooled(&own, place)).collect();
        let depths_mm = by_station.iter().map(|recess| recess.iter().copied().fold(0.0, f64::max)).collect();
        Some(Self { profiles, by_station, depths_mm, threshold_mm })
    }

    /// A single station is a stray corner; an undercut runs along the wall for half a millimetre at least.
    fn in_a_run(&self, place: usize) -> bool {
        let n = self.depths_mm.len();
        let hidden = |place: usize| self.depths_mm[place % n] > self.threshold_mm;
        (0..3).any(|back| (0..3).all(|k| hidden(place + n + k - back)))
    }
}

/// The wall above the fillet up to the occlusal line angle.
fn profile(station: &Station) -> Profile {
    let Some((wall, top)) = station.wall.as_ref().and_then(|wall| Some((wall, wall.top?))) else {
        return Vec::new();
    };
    let Some(foot) = station.section.at_arc(wall.begin_mm) else { return Vec::new() };
    let n_levels = (top.y / LEVEL_MM).max(0.0) as usize;
    (0..n_levels)
        .map(|level| {
            let height_mm = level as f64 * LEVEL_MM;
            if height_mm < foot.y - 0.2 || height_mm > top.y - 0.05 {
                return f64::NAN;
            }
            station.section.at_height(height_mm).map_or(f64::NAN, |point| point.x)
        })
        .collect()
}

/// Median over neighbouring stations, level by level.
fn pooled(recesses: &[Vec<f64>], place: usize) -> Vec<f64> {
    let n = recesses.len();
    let near: Vec<&Vec<f64>> = (0..=2 * POOL).map(|k| &recesses[(place + n + k - POOL) % n]).collect();
    (0..recesses[place].len())
        .map(|level| {
            let values: Vec<f64> = near.iter().filter_map(|recess| recess.get(level).copied()).collect();
            crate::stats::median(&values).unwrap_or(0.0)
        })
        .collect()
}

/// How far each level lies behind the farthest-out level above it, mm; 0 where nothing overhangs.
fn recess(profile: &Profile) -> Vec<f64> {
    let mut outermost = f64::INFINITY;
    let mut recess = vec![0.0; profile.len()];
    for (level, &place_mm) in profile.iter().enumerate().rev() {
        if place_mm.is_finite() {
            recess[level] = (place_mm - outermost).max(0.0);
            outermost = outermost.min(place_mm);
        }
    }
    recess
}

/// Circumference of the wall over that of the finish line at a station.
fn circumference_share(preparation: &Preparation<'_>, place: usize) -> f64 {
    let station = &preparation.stations[place];
    let radius_mm = (station.edge() - preparation.frame.origin).norm();
    let width_mm = station.wall.as_ref().map_or(0.0, |wall| wall.width_mm);
    ((radius_mm - width_mm) / radius_mm.max(1e-6)).clamp(0.3, 1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_leaning_wall_recedes_by_height_times_tangent() {
        let lean = 3f64.to_radians().tan();
        let profile: Profile = (0..30).map(|level| 1.0 - f64::from(level) * LEVEL_MM * lean).collect();
        let recess = recess(&profile);
        assert!((recess[0] - 2.9 * lean).abs() < 1e-12);
        assert_eq!(recess[29], 0.0);
        let converging: Profile = (0..30).map(|level| f64::from(level) * 0.01).collect();
        assert!(super::recess(&converging).iter().all(|&mm| mm == 0.0));
    }
}
