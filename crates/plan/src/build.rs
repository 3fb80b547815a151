//! The target's surface as triangles: columns of points up from the finish line, rings from the occlusal edge to the middle,
//! and a seam that joins them with the scan.

use std::collections::{BTreeMap, BTreeSet};

use kerfwright_geometry::Surface;
use kerfwright_mesh::Mesh;
use nalgebra::{Point2, Point3, Vector2};
use rayon::prelude::*;

use crate::profile::{ARC_POINTS, arc};
use crate::site::{N_STATIONS, Site};
use crate::top::Top;
use crate::{PlanError, TargetLine};

/// Points up each wall.
const WALL_POINTS: usize = 24;
/// Spacing of the rings over the occlusal surface, mm.
const RING_MM: f64 = 0.12;
/// Least spacing of the points along a ring, mm, before every second is left out.
const ALONG_MM: f64 = 0.07;
/// Over how much of its height the wall's least depth grows, mm.
const GROWN_MM: f64 = 1.0;
/// Least height of a wall over its fillet, mm.
const LEAST_WALL_MM: f64 = 0.3;

/// The new surface of the tooth: its rim is the finish line.
#[derive(Debug, Clone)]
pub struct Patch {
    /// The first `N_STATIONS` vertices are the finish line, in its order.
    pub mesh: Mesh,
    /// Height of the occlusal line angle (before it is rounded) over the finish line at each station, mm.
    pub wall_mm: Vec<f64>,
    /// First vertex of the occlusal surface.
    pub n_axial: usize,
}

/// What one section contributes.
struct Column {
    points: Vec<Point3<f64>>,
    wall_mm: f64,
}

impl Patch {
    pub fn new(
        before: &Surface,
        site: &Site,
        line: &TargetLine,
        top: &Top,
        edge_radius_mm: f64,
    ) -> Result<Self, PlanError> {
        let columns: Vec<Column> = (0..N_STATIONS)
            .into_par_iter()
            .map(|station| column(before, site, line, top, station, edge_radius_mm))
            .collect::<Result<_, _>>()?;
        let n_rows = columns[0].points.len();
        let mut mesh = Mesh::default();
        for row in 0..n_rows {
            mesh.vertices.extend(columns.iter().map(|column| column.points[row]));
        }
        for row in 0..n_rows - 1 {
            join_equal(&mut mesh, (row * N_STATIONS) as u32, ((row + 1) * N_STATIONS) as u32, N_STATIONS);
        }
        let n_axial = mesh.vertices.len();
        fill(&mut mesh, site, top);
        Ok(Self { mesh, wall_mm: columns.iter().map(|column| column.wall_mm).collect(), n_axial })
    }
}

/// From the finish line over floor, wall and rounded edge onto the occlusal surface.
fn column(
    before: &Surface,
    site: &Site,
    line: &TargetLine,
    top: &Top,
    station: usize,
    edge_radius_mm: f64,
) -> Result<Column, PlanError> {
    let up = site.frame.occlusal;
    let (edge, inward) = (line.points[station], line.inward[station]);
    let solid = |flat: &Point2<f64>| edge + inward * flat.x + up * flat.y;
    let profile = &line.profiles[station];
    let floor = profile.floor();
    let foot = floor[floor.len() - 1];
    let inward_mm = |height_mm: f64| {
        let asked_mm = profile.wall_inward_mm(height_mm);
        // Over the fillet the wall never comes nearer to the uncut surface than half its width.
        let least_mm = 0.5 * profile.width_mm * ((height_mm - foot.y) / GROWN_MM).clamp(0.0, 1.0);
        within(before, least_mm, asked_mm, |h| solid(&Point2::new(h, height_mm)))
    };
    let on_wall = |height_mm: f64| Point2::new(inward_mm(height_mm), height_mm);
    let no_wall =
        |because: &str| PlanError::NoWall { angle_deg: line.angle_deg[station], because: because.into() };
    let wall_mm = wall_height(top, foot.y, |height_mm| solid(&on_wall(height_mm))).ok_or_else(|| {
        no_wall("it never meets the occlusal cut; give a point on the occlusal surface with --at")
    })?;
    if wall_mm < foot.y + LEAST_WALL_MM {
        return Err(no_wall(&format!(
            "the occlusal cut comes down to {wall_mm:.1} mm over the finish line, and the floor reaches up to {:.1} mm; the tooth is \
             too short there: plan less reduction, less width or a finish line nearer to the gingiva, and proximal grooves or boxes to hold the crown",
            foot.y
        )));
    }
    let over = |h: f64| {
        let from = solid(&Point2::new(h, foot.y.min(0.0)));
        Point2::new(h, (top.over(&from) - edge).dot(&up))
    };
    let rounded = rounded_edge(on_wall, foot.y, wall_mm, edge_radius_mm, over);
    let from_mm = rounded[0].y;
    let mut flat = floor;
    flat.extend(wall_heights(foot.y, from_mm, profile.break_mm).into_iter().map(on_wall));
    flat.extend(rounded);
    Ok(Column { points: flat.iter().map(solid).collect(), wall_mm })
}

/// How far inward a point must go, from `from_mm` on, to lie `least_mm` under the uncut surface.
fn within(before: &Surface, least_mm: f64, from_mm: f64, at: impl Fn(f64) -> Point3<f64>) -> f64 {
    const MOST_STEPS: usize = 40;
    const ENOUGH_MM: f64 = 1e-4;
    const FARTHEST_MM: f64 = 2.0;
    // A step that gains less than this share leads towards the other side of a thin edge.
    const LEAST_GAIN: f64 = 0.2;
    let (mut inward_mm, mut last_mm) = (from_mm, f64::INFINITY);
    for _ in 0..MOST_STEPS {
        let Some(signed) = before.signed(&at(inward_mm), FARTHEST_MM) else { break };
        // At a hole of the scan inside and outside mean nothing.
        let lack_mm = least_mm + signed.distance_mm;
        if lack_mm < ENOUGH_MM || before.on_boundary(&signed.closest) || inward_mm > from_mm + FARTHEST_MM {
            break;
        }
        if lack_mm > (1.0 - LEAST_GAIN) * last_mm {
            return from_mm;
        }
        last_mm = lack_mm;
        inward_mm += lack_mm;
    }
    inward_mm
}

/// Heights strictly between two, evenly, one of them on the break if it lies between.
fn wall_heights(from_mm: f64, to_mm: f64, break_mm: f64) -> Vec<f64> {
    let step_mm = (to_mm - from_mm) / (WALL_POINTS + 1) as f64;
    let mut heights: Vec<f64> = (1..=WALL_POINTS).map(|k| from_mm + step_mm * k as f64).collect();
    let near = heights.iter_mut().min_by(|a, b| (**a - break_mm).abs().total_cmp(&(**b - break_mm).abs()));
    if let Some(near) = near.filter(|near| (**near - break_mm).abs() <= 0.5 * step_mm) {
        *near = break_mm;
    }
    heights
}

/// Where a wall that rises from `from_mm` meets the occlusal cut, mm over the finish line.
fn wall_height(top: &Top, from_mm: f64, at: impl Fn(f64) -> Point3<f64>) -> Option<f64> {
    const HIGHEST_MM: f64 = 14.0;
    const ENOUGH_MM: f64 = 2e-5;
    // Depth and wall lean as the wall rises: a part of the room is always free.
    const SHARE: f64 = 0.7;
    let mut height_mm = from_mm;
    for _ in 0..400 {
        let room_mm = top.room_mm(&at(height_mm));
        if room_mm < ENOUGH_MM {
            return Some(height_mm);
        }
        height_mm += SHARE * room_mm;
        if height_mm > HIGHEST_MM {
            return None;
        }
    }
    Some(height_mm)
}

/// From the wall over the rounded edge onto the occlusal surface: [`ARC_POINTS`].
fn rounded_edge(
    on_wall: impl Fn(f64) -> Point2<f64>,
    foot_mm: f64,
    wall_mm: f64,
    radius_mm: f64,
    over: impl Fn(f64) -> Point2<f64>,
) -> Vec<Point2<f64>> {
    const AHEAD_MM: f64 = 0.25;
    const SHARPEST_MM: f64 = 0.02;
    let (corner, below) = (on_wall(wall_mm), on_wall(wall_mm - 0.05));
    let wall = (corner - below).normalize();
    let ahead: Vector2<f64> = (over(corner.x + AHEAD_MM) - corner).normalize();
    let turn_rad = (-wall.perp(&ahead)).atan2(wall.dot(&ahead)).max(0.02);
    let half_tan = (0.5 * turn_rad).tan();
    // The wall keeps at least half its height.
    let room_mm = 0.5 * (wall_mm - foot_mm);
    let tangent_mm = (radius_mm.max(SHARPEST_MM) * half_tan).min(room_mm);
    let mut points = arc(&(corner - wall * tangent_mm), &wall, &ahead, tangent_mm / half_tan);
    let last = ARC_POINTS - 1;
    let off_mm = over(points[last].x).y - points[last].y;
    for (k, point) in points.iter_mut().enumerate() {
        point.y += off_mm * (k as f64 / last as f64).powi(2);
    }
    points
}

/// The occlusal surface within the last ring.
fn fill(mesh: &mut Mesh, site: &Site, top: &Top) {
    let up = site.frame.occlusal;
    let rim: Vec<Point3<f64>> = mesh.vertices[mesh.vertices.len() - N_STATIONS..].to_vec();
    let level = |point: &Point3<f64>| point - up * (point - site.polar.centre).dot(&up);
    let flat: Vec<Point3<f64>> = rim.iter().map(level).collect();
    let sum: nalgebra::Vector3<f64> = flat.iter().map(|point| point.coords).sum();
    let middle = Point3::from(sum / flat.len() as f64);
    let radius_mm = flat.iter().map(|point| (point - middle).norm()).fold(0.0, f64::max);
    let n_rings = (radius_mm / RING_MM).ceil().max(4.0) as usize;
    let length_mm: f64 = (0..N_STATIONS).map(|k| (flat[(k + 1) % N_STATIONS] - flat[k]).norm()).sum();
    let (mut first, mut step) = ((mesh.vertices.len() - N_STATIONS) as u32, 1);
    for ring in 1..n_rings {
        let share = ring as f64 / n_rings as f64;
        let n = N_STATIONS / step;
        let spacing_mm = length_mm * (1.0 - share) / n as f64;
        let halve = spacing_mm < ALONG_MM && n.is_multiple_of(2) && n > 12;
        let next_step = if halve { 2 * step } else { step };
        let points: Vec<Point3<f64>> = (0..N_STATIONS / next_step)
            .into_par_iter()
            .map(|k| top.over(&(flat[k * next_step] + (middle - flat[k * next_step]) * share)))
            .collect();
        let next = mesh.vertices.len() as u32;
        mesh.vertices.extend(points);
        if halve {
            join_half(mesh, first, next, n / 2)
        } else {
            join_equal(mesh, first, next, n)
        }
        (first, step) = (next, next_step);
    }
    let n = (N_STATIONS / step) as u32;
    let centre = mesh.vertices.len() as u32;
    mesh.vertices.push(top.over(&middle));
    mesh.triangles.extend((0..n).map(|k| [first + k, first + (k + 1) % n, centre]));
}

/// Two rings with as many points, the outer first.
fn join_equal(mesh: &mut Mesh, outer: u32, inner: u32, n: usize) {
    let n = n as u32;
    for k in 0..n {
        let next = (k + 1) % n;
        let [a, b, c, d] = [outer + k, outer + next, inner + next, inner + k];
        mesh.triangles.extend([[a, b, c], [a, c, d]]);
    }
}

/// A ring and one with half as many points within it.
fn join_half(mesh: &mut Mesh, outer: u32, inner: u32, n_inner: usize) {
    let n = n_inner as u32;
    for k in 0..n {
        let (from, middle, to) = (outer + 2 * k, outer + 2 * k + 1, outer + (2 * k + 2) % (2 * n));
        let (here, next) = (inner + k, inner + (k + 1) % n);
        mesh.triangles.extend([[from, middle, here], [middle, next, here], [middle, to, next]]);
    }
}

/// The scan with the tooth's crown taken away above the line and the patch put in its place.
pub fn joined(
    before: &Surface,
    site: &Site,
    line: &TargetLine,
    crown: &[bool],
    patch: &Patch,
) -> Result<Mesh, PlanError> {
    let (kept, rim) = opened(before, site, line, crown)?;
    let n_kept = kept.vertices.len() as u32;
    let mut mesh = kept;
    mesh.vertices.extend_from_slice(&patch.mesh.vertices);
    mesh.triangles.extend(patch.mesh.triangles.iter().map(|corners| corners.map(|vertex| vertex + n_kept)));
    seam(&mut mesh, site, &rim, n_kept)?;
    Ok(mesh)
}

/// The scan without the crown, and the rim that is left round it, counter-clockwise.
fn opened(
    before: &Surface,
    site: &Site,
    line: &TargetLine,
    crown: &[bool],
) -> Result<(Mesh, Vec<u32>), PlanError> {
    let places = crate::own::Places::new(&site.polar, &line.points);
    // What lies just under the line goes too, so that the seam has some width.
    const UNDER_MM: f64 = 0.05;
    // Holes of the scan this near to the line may run into the rim.
    const NEAR_MM: f64 = 2.0;
    let near_crown = |vertex: usize| {
        let neighbours = before.topology.vertex_neighbours(vertex as u32);
        neighbours.iter().any(|&other| crown[other as usize])
            && places.of(&before.mesh.vertices[vertex]).1 > -UNDER_MM
    };
    let mut gone: Vec<bool> = (0..crown.len()).map(|vertex| crown[vertex] || near_crown(vertex)).collect();
    for _ in 0..12 {
        let kept = |corners: &&[u32; 3]| corners.iter().all(|&vertex| !gone[vertex as usize]);
        let triangles: Vec<[u32; 3]> = before.mesh.triangles.iter().filter(kept).copied().collect();
        let next = borders(&triangles);
        let is_pinched = |(vertex, to): (&u32, &Vec<u32>)| {
            let (radius_mm, over_mm, line_mm, _) = places.of(&before.mesh.vertices[*vertex as usize]);
            let is_near = (radius_mm - line_mm).abs() < NEAR_MM && over_mm.abs() < NEAR_MM;
            (to.len() > 1 && is_near).then_some(*vertex)
        };
        let pinched: Vec<u32> = next.iter().filter_map(is_pinched).collect();
        if pinched.is_empty() {
            return numbered(before, site, triangles, &next);
        }
        pinched.into_iter().for_each(|vertex| gone[vertex as usize] = true);
    }
    Err(PlanError::NotJoined { because: "the scan's surface branches there".into() })
}

/// Open edges by the vertex they start from.
pub fn borders(triangles: &[[u32; 3]]) -> BTreeMap<u32, Vec<u32>> {
    let mut edges = BTreeSet::new();
    for corners in triangles {
        edges.extend((0..3).map(|k| (corners[k], corners[(k + 1) % 3])));
    }
    let mut next: BTreeMap<u32, Vec<u32>> = BTreeMap::new();
    for &(from, to) in edges.iter().filter(|(from, to)| !edges.contains(&(*to, *from))) {
        next.entry(from).or_default().push(to);
    }
    next
}

/// The kept triangles with their own vertices, and the loop that runs once round the tooth.
fn numbered(
    before: &Surface,
    site: &Site,
    triangles: Vec<[u32; 3]>,
    next: &BTreeMap<u32, Vec<u32>>,
) -> Result<(Mesh, Vec<u32>), PlanError> {
    let mut number = vec![u32::MAX; before.mesh.vertices.len()];
    let mut vertices = Vec::new();
    let triangles: Vec<[u32; 3]> = triangles
        .into_iter()
        .map(|corners| {
            corners.map(|vertex| {
                let number = &mut number[vertex as usize];
                if *number == u32::MAX {
                    *number = vertices.len() as u32;
                    vertices.push(before.mesh.vertices[vertex as usize]);
                }
                *number
            })
        })
        .collect();
    let around = |rim: &Vec<u32>| turns(before, site, rim).abs() > 0.9;
    // The border of the whole scan runs round the tooth too, but farther out.
    let reach = |rim: &Vec<u32>| {
        let radii = rim.iter().map(|&vertex| site.polar.place(&before.mesh.vertices[vertex as usize]).0);
        radii.sum::<f64>() / rim.len() as f64
    };
    let mut rim = loops(next)
        .into_iter()
        .filter(around)
        .min_by(|a, b| reach(a).total_cmp(&reach(b)))
        .ok_or_else(|| PlanError::NotJoined { because: "no closed rim runs round the tooth".into() })?;
    if turns(before, site, &rim) < 0.0 {
        rim.reverse();
    }
    let rim = rim.into_iter().map(|vertex| number[vertex as usize]).collect();
    Ok((Mesh { vertices, triangles }, rim))
}

/// Closed chains of open edges.
pub fn loops(next: &BTreeMap<u32, Vec<u32>>) -> Vec<Vec<u32>> {
    let mut seen = BTreeSet::new();
    let mut found = Vec::new();
    for &start in next.keys() {
        let (mut chain, mut at) = (Vec::new(), start);
        while seen.insert(at) {
            chain.push(at);
            match next.get(&at).and_then(|to| to.first()) {
                Some(&to) => at = to,
                None => break,
            }
        }
        if at == start && chain.len() > 2 {
            found.push(chain);
        }
    }
    found
}

/// How often a loop runs round the tooth, counter-clockwise.
fn turns(before: &Surface, site: &Site, rim: &[u32]) -> f64 {
    let turn = |vertex: u32| site.polar.place(&before.mesh.vertices[vertex as usize]).2 / N_STATIONS as f64;
    let steps = (0..rim.len()).map(|k| {
        let step = turn(rim[(k + 1) % rim.len()]) - turn(rim[k]);
        step - step.round()
    });
    steps.sum()
}

/// Triangles between the rim and the patch's finish line: the side that lags in the direction round the tooth goes on.
fn seam(mesh: &mut Mesh, site: &Site, rim: &[u32], n_kept: u32) -> Result<(), PlanError> {
    const WIDEST_MM: f64 = 1.5;
    let n = N_STATIONS as f64;
    let at = |vertex: u32| mesh.vertices[vertex as usize];
    let turns: Vec<f64> = rim.iter().map(|&vertex| site.polar.place(&at(vertex)).2).collect();
    let start = turns[0].round() as usize;
    let inner = |j: usize| n_kept + ((start + j) % N_STATIONS) as u32;
    let (mut i, mut j, mut turn) = (0, 0, turns[0]);
    let mut triangles = Vec::new();
    while i < rim.len() || j < N_STATIONS {
        let (outer, outer_next) = (rim[i % rim.len()], rim[(i + 1) % rim.len()]);
        let step = turns[(i + 1) % rim.len()] - turns[i % rim.len()];
        let next_turn = turn + step - n * (step / n).round();
        if j == N_STATIONS || (i < rim.len() && next_turn <= (start + j + 1) as f64) {
            triangles.push([outer, outer_next, inner(j)]);
            (i, turn) = (i + 1, next_turn);
        } else {
            triangles.push([outer, inner(j + 1), inner(j)]);
            j += 1;
        }
    }
    let width = |&[a, b, c]: &[u32; 3]| {
        [(a, b), (b, c), (c, a)].map(|(from, to)| (at(from) - at(to)).norm()).into_iter().fold(0.0, f64::max)
    };
    let widest_mm = triangles.iter().map(width).fold(0.0, f64::max);
    if widest_mm > WIDEST_MM {
        return Err(PlanError::NotJoined {
            because: format!("the scan has a hole of {widest_mm:.1} mm there"),
        });
    }
    mesh.triangles.extend(triangles);
    Ok(())
}
