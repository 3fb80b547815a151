//! `finish_line.shoulder_from_deg` and `.shoulder_to_deg`: where the shoulder begins and ends around the tooth.

use nalgebra::Point3;

use super::kind::{Form, Table};
use super::neighbour::{SIDES, facing_vertices, smooth_normals};
use crate::document::Value;
use crate::outline::Outline;
use crate::preparation::Preparation;
use crate::sheet::{Sheet, expanded, number};
use crate::stats::median;

const IDS: [&str; 2] = ["finish_line.shoulder_from_deg", "finish_line.shoulder_to_deg"];
/// Half the stretch over which a station's form is read, mm.
const SMOOTHING_MM: f64 = 0.6;
/// Shoulders apart by less than this are one, mm; a shorter one is none.
const LEAST_MM: f64 = 1.0;
/// Where a form passes into another the name changes somewhere in between, mm along the finish line (1 sigma).
const PASSAGE_MM: f64 = 0.25;

/// The longest stretch around the tooth that the table of kinds calls a shoulder.
pub fn take(preparation: &Preparation<'_>, sheet: &mut Sheet) {
    let refuse = |sheet: &mut Sheet, reason: &str| IDS.iter().for_each(|&id| sheet.refuse(id, reason));
    let flags = match flags(preparation) {
        Ok(flags) => flags,
        Err(reason) => return refuse(sheet, &reason),
    };
    let spacing_mm = preparation.ring.length_mm() / flags.len().max(1) as f64;
    let clean = without_short_runs(&flags, (LEAST_MM / spacing_mm).round() as usize);
    match longest_run(&clean) {
        None => refuse(sheet, "there is no shoulder: no part of the finish line has a shoulder's form"),
        Some(Run::Round) => {
            for (id, deg) in IDS.iter().zip([0.0, 360.0]) {
                sheet.write(*id, number(deg, "deg", 0.0).noted("the shoulder goes all round"));
            }
        }
        Some(Run::Between(from, to)) => {
            let contacts = contacts(preparation);
            let (length, n) = ((to + flags.len() - from) % flags.len(), flags.len() as f64);
            // By rising angle, which runs against the stations in a left-handed frame.
            let (from, to) = if direction(preparation) < 0.0 { (to, from) } else { (from, to) };
            // A shoulder's ends look away from each other.
            for (id, place, toward) in [(IDS[0], from, -1.0), (IDS[1], to, 1.0)] {
                let reading = end(preparation, place, toward, spacing_mm, &contacts);
                sheet.write(id, reading.with("around_pct", 100.0 * (length + 1) as f64 / n));
            }
        }
    }
}

/// Whether each station's surroundings have a shoulder's form.
fn flags(preparation: &Preparation<'_>) -> Result<Vec<bool>, String> {
    let table = Table::read()?;
    let stations = &preparation.stations;
    let n = stations.len();
    let spacing_mm = preparation.ring.length_mm() / n.max(1) as f64;
    let half = ((SMOOTHING_MM / spacing_mm).round() as usize).min(n.saturating_sub(1) / 2);
    let flag = |place: usize| {
        let near = (0..=2 * half).map(|step| &stations[(place + n + step - half) % n]);
        let (mut widths, mut slopes, mut arcs) = (Vec::new(), Vec::new(), Vec::new());
        for station in near {
            widths.extend(station.sound_wall().map(|wall| wall.width_mm));
            slopes.extend(station.declination_deg);
            arcs.extend(station.floor_is_arc.map(|is_arc| f64::from(u8::from(is_arc))));
        }
        let form = Form {
            width_mm: median(&widths)?,
            declination_deg: median(&slopes)?,
            // The same stretch as a whole: most of its sections must show an arc.
            arc_share: median(&arcs)?,
        };
        Some(table.rule(&form)?.is_shoulder)
    };
    let flags: Vec<Option<bool>> = (0..n).map(flag).collect();
    let known = flags.iter().flatten().count();
    if 4 * known < 3 * n {
        return Err(format!(
            "the form of the finish line shows on {:.0} % of its length only: too little to say where a shoulder ends",
            100.0 * known as f64 / n.max(1) as f64
        ));
    }
    // A station that shows nothing is like the one before it.
    let first = flags.iter().flatten().next().copied().unwrap_or(false);
    Ok(flags
        .iter()
        .scan(first, |last, flag| {
            *last = flag.unwrap_or(*last);
            Some(*last)
        })
        .collect())
}

/// Turns runs of either kind shorter than `least` stations, the short ones of shoulder last.
fn without_short_runs(flags: &[bool], least: usize) -> Vec<bool> {
    let mut clean = flags.to_vec();
    for kind in [false, true] {
        let Some(start) = (0..clean.len()).find(|&place| clean[place] != kind) else { return clean };
        let n = clean.len();
        let mut run = Vec::new();
        for step in 0..=n {
            let place = (start + step) % n;
            if clean[place] == kind && step < n {
                run.push(place);
            } else {
                if run.len() < least {
                    run.iter().for_each(|&place| clean[place] = !kind);
                }
                run.clear();
            }
        }
    }
    clean
}

#[derive(Debug, PartialEq)]
enum Run {
    Round,
    /// First and last station.
    Between(usize, usize),
}

fn longest_run(flags: &[bool]) -> Option<Run> {
    let n = flags.len();
    if flags.iter().all(|&flag| !flag) {
        return None;
    }
    let Some(start) = flags.iter().position(|&flag| !flag) else { return Some(Run::Round) };
    let (mut best, mut length) = ((0, 0), 0);
    for step in 1..=n {
        let place = (start + step) % n;
        if flags[place] {
            length += 1;
            if length > best.1 {
                best = (place, length);
            }
        } else {
            length = 0;
        }
    }
    Some(Run::Between((best.0 + n + 1 - best.1) % n, best.0))
}

/// One end: its angle, and how far it reaches past the nearest line angle and past the contact on that side.
fn end(
    preparation: &Preparation<'_>,
    place: usize,
    toward: f64,
    spacing_mm: f64,
    contacts: &[(&'static str, f64)],
) -> crate::document::Reading {
    let station = &preparation.stations[place];
    let centre = preparation.frame.origin;
    let radius_mm = (station.edge() - centre).norm().max(0.5);
    let angle_deg = station.angle_deg;
    // Along the finish line, counted positive where the shoulder reaches beyond.
    let beyond_mm = |other_deg: f64| {
        let to = nearest_station(preparation, other_deg);
        let n = preparation.stations.len() as i64;
        let steps = (place as i64 - to as i64).rem_euclid(n);
        let steps = if steps > n / 2 { steps - n } else { steps };
        // Stations run with or against the angle, by quadrant.
        direction(preparation) * toward * steps as f64 * spacing_mm
    };
    let corner =
        [(45.0, "mesiofacial"), (135.0, "distofacial"), (225.0, "distolingual"), (315.0, "mesiolingual")]
            .into_iter()
            .min_by(|a, b| apart_deg(a.0, angle_deg).total_cmp(&apart_deg(b.0, angle_deg)))
            .unwrap_or((45.0, "mesiofacial"));
    let u95_deg = expanded(&[(PASSAGE_MM / radius_mm).to_degrees(), 1.0]);
    let mut reading = number(angle_deg, "deg", u95_deg)
        .with("past_line_angle_mm", beyond_mm(corner.0))
        .at(Some(preparation.place_of_station(place)));
    reading.extras.insert("line_angle".into(), Value::Text(corner.1.into()));
    let contact =
        contacts.iter().min_by(|a, b| apart_deg(a.1, angle_deg).total_cmp(&apart_deg(b.1, angle_deg)));
    if let Some(&(side, contact_deg)) = contact {
        reading = reading.with("past_contact_mm", beyond_mm(contact_deg));
        reading.extras.insert("contact".into(), Value::Text(side.into()));
    }
    reading
}

/// +1 if the angle around the tooth rises from station to station.
fn direction(preparation: &Preparation<'_>) -> f64 {
    let stations = &preparation.stations;
    let turn: f64 = stations
        .windows(2)
        .map(|pair| (pair[1].angle_deg - pair[0].angle_deg + 180.0).rem_euclid(360.0) - 180.0)
        .sum();
    turn.signum()
}

fn nearest_station(preparation: &Preparation<'_>, angle_deg: f64) -> usize {
    let stations = &preparation.stations;
    (0..stations.len())
        .min_by(|&a, &b| {
            apart_deg(stations[a].angle_deg, angle_deg)
                .total_cmp(&apart_deg(stations[b].angle_deg, angle_deg))
        })
        .unwrap_or(0)
}

fn apart_deg(one: f64, other: f64) -> f64 {
    ((one - other + 180.0).rem_euclid(360.0) - 180.0).abs()
}

/// Where the neighbours come nearest to the tooth: the side and the angle around the tooth.
fn contacts(preparation: &Preparation<'_>) -> Vec<(&'static str, f64)> {
    // The part of the neighbour's surface that counts as its contact: this far behind its foremost point.
    const DEEP_MM: f64 = 0.1;
    let smooth = smooth_normals(preparation);
    let outline = Outline::new(&preparation.ring, &preparation.path);
    let mesh = &preparation.scene.after.mesh;
    SIDES
        .iter()
        .filter_map(|side| {
            let facing = facing_vertices(preparation, side, &outline, &smooth);
            let points: Vec<&Point3<f64>> =
                mesh.vertices.iter().zip(&facing).filter(|pair| *pair.1).map(|pair| pair.0).collect();
            let away = |point: &Point3<f64>| side.sign * preparation.frame.coordinates(point).x;
            let nearest_mm = points.iter().map(|point| away(point)).fold(f64::INFINITY, f64::min);
            let across: Vec<f64> = points
                .iter()
                .filter(|point| away(point) < nearest_mm + DEEP_MM)
                .map(|point| preparation.frame.coordinates(point).y)
                .collect();
            let angle_deg = median(&across)?.atan2(side.sign * nearest_mm).to_degrees().rem_euclid(360.0);
            Some((side.name, angle_deg))
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn flags(text: &str) -> Vec<bool> {
        text.chars().map(|c| c == 's').collect()
    }

    #[test]
    fn the_longest_run_may_pass_the_start() {
        assert_eq!(longest_run(&flags("ss...s..sss")), Some(Run::Between(8, 1)));
        assert_eq!(longest_run(&flags("....")), None);
        assert_eq!(longest_run(&flags("ssss")), Some(Run::Round));
    }

    #[test]
    fn short_gaps_close_and_short_shoulders_go() {
        assert_eq!(without_short_runs(&flags("sss.sss....s...."), 3), flags("sssssss........."));
        assert_eq!(without_short_runs(&flags("..sssss"), 3), flags("sssssss"));
    }
}
