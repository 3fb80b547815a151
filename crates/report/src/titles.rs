//! What each reading is called by people.

use std::collections::BTreeMap;

use kerfwright_measure::frame::Aspect;

use crate::text::{plain, sentence};

/// Groups in the order of the page: first part of the id, heading, and what it is in a sentence.
const GROUPS: &[(&str, &str, &str)] = &[
    ("reduction", "Reduction", "Tooth taken away: the distance from the prepared to the unprepared surface."),
    ("clearance", "Clearance", "Free space to the opposing teeth, in the jaw position named."),
    ("taper", "Taper", "The angle of one wall to the path of placement; negative is undercut."),
    ("toc", "Total occlusal convergence", "The angle between two opposing walls: the sum of their tapers."),
    (
        "path",
        "Path of placement",
        "The direction along which a crown seats, against the tooth's axis and the neighbours.",
    ),
    ("undercut", "Undercut", "Wall that is hidden seen along the path."),
    ("finish_line", "Finish line", "The border between cut and uncut tooth, section by section."),
    ("wall", "Axial walls", "Height from the finish line to the occlusal line angle, along the path."),
    ("ratio", "Proportions", "Wall height over faciolingual width at the finish line."),
    ("facial", "Facial wall", "Whether the facial wall is cut in two planes."),
    ("occlusal", "Occlusal surface", "Inclines and cusps of the prepared occlusal surface."),
    ("isthmus", "Isthmus", "The channel over the groove of an onlay: its floor and the two walls over it."),
    ("box", "Boxes", "The boxes at the ends of an onlay's channel, each with its floor and three walls."),
    ("edge", "Edges", "Radius along the occlusal line angles."),
    ("surface", "Surface", "How smooth the walls are."),
    ("resistance", "Resistance", "What keeps a crown from tilting off."),
    ("retention", "Retention", "The walls that hold a crown."),
    (
        "neighbour",
        "Adjacent teeth",
        "Damage to the neighbours; what scatter alone could do is not called damage.",
    ),
    ("space", "Space for the restoration", "The room the laboratory has."),
    ("abutments", "Several abutments", "How the prepared teeth suit each other."),
    ("registration", "Alignment", "How well the before scan was aligned with the after scan."),
    ("scan", "Scan", "What the after scan itself is worth on the prepared tooth."),
];

/// Ids whose name does not follow from their words.
const TITLES: &[(&str, &str)] = &[
    ("reduction.occlusal.functional_mm", "Functional cusps"),
    ("reduction.occlusal.nonfunctional_mm", "Non-functional cusps"),
    ("reduction.occlusal.groove_mm", "Along the central groove"),
    ("reduction.occlusal.marginal_ridge_mm", "Marginal ridges"),
    ("reduction.incisal_mm", "Incisal edge"),
    ("reduction.lingual_fossa_mm", "Lingual fossa"),
    ("reduction.volume_mm3", "Volume removed"),
    ("reduction.crown_pct", "Share of the anatomic crown removed"),
    ("reduction.points.mb_mm", "Mesiofacial cusp tip"),
    ("reduction.points.db_mm", "Distofacial cusp tip"),
    ("reduction.points.ml_mm", "Mesiolingual cusp tip"),
    ("reduction.points.dl_mm", "Distolingual cusp tip"),
    ("reduction.points.mf_mm", "Mesial fossa"),
    ("reduction.points.df_mm", "Distal fossa"),
    ("reduction.points.b_mm", "Facial cusp tip"),
    ("reduction.points.l_mm", "Lingual cusp tip"),
    ("reduction.points.tip_mm", "Cusp tip"),
    ("reduction.points.mi_mm", "Incisal edge, mesial"),
    ("reduction.points.i_mm", "Incisal edge, middle"),
    ("reduction.points.di_mm", "Incisal edge, distal"),
    ("reduction.points.lf_mm", "Middle of the lingual fossa"),
    ("occlusal.incline.functional_outer_deg", "Outer incline of the functional cusps"),
    ("occlusal.incline.functional_inner_deg", "Inner incline of the functional cusps"),
    ("occlusal.incline.nonfunctional_inner_deg", "Inner incline of the non-functional cusps"),
    ("occlusal.incline.parallel_deg", "Between functional outer and non-functional inner incline"),
    ("occlusal.cusp_line_mm", "Facial cusp tips off the neighbours' line"),
    ("space.total_mm", "Least room in all"),
    ("clearance.mip_mm", "Least, in maximal intercuspal position"),
    ("clearance.excursion.protrusion_mm", "Least, in protrusion"),
    ("clearance.excursion.laterotrusion_right_mm", "Least, in laterotrusion to the right"),
    ("clearance.excursion.laterotrusion_left_mm", "Least, in laterotrusion to the left"),
    ("toc.mesiodistal_deg", "Mesiodistal plane"),
    ("toc.faciolingual_deg", "Faciolingual plane"),
    ("toc.mesiofacial_distolingual_deg", "Diagonal, mesiofacial to distolingual"),
    ("toc.distofacial_mesiolingual_deg", "Diagonal, distofacial to mesiolingual"),
    ("path.tilt_deg", "Tilt against the tooth's axis"),
    ("path.tilt_toward", "Tilted toward"),
    ("path.blocked_by", "Blocked by"),
    ("undercut.area_mm2", "Area"),
    ("undercut.depth_mm", "Greatest depth"),
    ("undercut.where", "Where"),
    ("finish_line.lip_mm", "Lip, height"),
    ("finish_line.lip_where", "Lip, where"),
    ("finish_line.shoulder_from_deg", "Shoulder begins at"),
    ("finish_line.shoulder_to_deg", "Shoulder ends at"),
    ("finish_line.roughness_um", "Roughness"),
    ("finish_line.steps", "Jumps and breaks"),
    ("finish_line.in_contact", "Runs into a contact"),
    ("finish_line.neighbour.mesial_mm", "Distance to the mesial neighbour"),
    ("finish_line.neighbour.distal_mm", "Distance to the distal neighbour"),
    ("edge.sharp_pct", "Sharper than the target"),
    ("edge.least_radius_mm", "Least radius"),
    ("edge.where", "Sharpest"),
    ("surface.roughness_um", "Roughness of the axial walls"),
    ("surface.steps", "Ledges"),
    ("ratio.oc_fl", "Height over width (OC/FL)"),
    ("resistance.limiting_taper_deg", "Limiting taper, least around the tooth"),
    ("retention.axial_area_mm2", "Area of the axial walls"),
    ("facial.planes", "Planes of the facial wall"),
    ("facial.second_plane_deg", "Angle between its planes"),
    ("isthmus.width_mm", "Width at its floor"),
    ("isthmus.depth_mm", "Depth under the uncut surface"),
    ("isthmus.divergence_deg", "Lean of a wall outwards"),
    ("box.mesial.width_mm", "Mesial box, width at its floor"),
    ("box.mesial.depth_mm", "Mesial box, depth from the side"),
    ("box.mesial.height_mm", "Mesial box, height up to the isthmus"),
    ("box.mesial.divergence_deg", "Mesial box, lean of a wall outwards"),
    ("box.distal.width_mm", "Distal box, width at its floor"),
    ("box.distal.depth_mm", "Distal box, depth from the side"),
    ("box.distal.height_mm", "Distal box, height up to the isthmus"),
    ("box.distal.divergence_deg", "Distal box, lean of a wall outwards"),
    ("neighbour.mesial.depth_mm", "Mesial neighbour, greatest depth"),
    ("neighbour.mesial.area_mm2", "Mesial neighbour, damaged area"),
    ("neighbour.distal.depth_mm", "Distal neighbour, greatest depth"),
    ("neighbour.distal.area_mm2", "Distal neighbour, damaged area"),
    ("abutments.parallel_deg", "Angle between the best paths"),
    ("abutments.common_path_undercut_mm2", "Undercut left on the best common path"),
    ("registration.residual_um", "Residual"),
    ("registration.error", "Uncertainty of the pose (k = 1)"),
    ("scan.noise_um", "Noise"),
    ("scan.edge_mm", "Median edge of the triangles"),
    ("scan.void_pct", "Missing data"),
];

/// The middle words of ids that end in an aspect.
const KINDS: &[(&str, &str)] = &[
    ("finish_line.width", "Width"),
    ("finish_line.kind", "Kind"),
    ("finish_line.declination", "Slope of the floor"),
    ("finish_line.cavosurface", "Cavosurface angle"),
    ("finish_line.internal_radius", "Internal radius"),
    ("finish_line.above_gingiva", "Height above the gingiva"),
    ("wall.height", "Height"),
    ("taper", "Wall"),
    ("resistance.resisting_pct", "Resisting share"),
];

/// The heading of a group of readings and a sentence about it.
pub fn group(first: &str) -> (String, &'static str) {
    match GROUPS.iter().find(|group| group.0 == first) {
        Some(&(_, heading, about)) => (heading.into(), about),
        None => (sentence(&plain(first)), ""),
    }
}

/// Where a group stands on the page; unknown ones come last but for alignment and scan.
fn rank(first: &str) -> usize {
    let last_two = GROUPS.len() - 2;
    match GROUPS.iter().position(|group| group.0 == first) {
        Some(place) if place >= last_two => place + 1,
        Some(place) => place,
        None => last_two,
    }
}

/// The name of a reading inside its group.
pub fn title(id: &str) -> String {
    if let Some(&(_, title)) = TITLES.iter().find(|entry| entry.0 == id) {
        return title.into();
    }
    let bare = without_unit(id);
    let (stem, last) = bare.rsplit_once('.').unwrap_or(("", bare));
    if let Some(&(_, kind)) = KINDS.iter().find(|entry| entry.0 == stem) {
        return format!("{kind}, {}", plain(last));
    }
    if let Some(axial) = bare.strip_prefix("reduction.axial.") {
        let (aspect, third) = axial.split_once('.').unwrap_or((axial, ""));
        return sentence(&format!("{} wall, {} third", plain(aspect), plain(third)));
    }
    let own = bare.split_once('.').map_or(bare, |(_, rest)| rest);
    sentence(&plain(own))
}

fn without_unit(id: &str) -> &str {
    let units = ["_mm", "_deg", "_um", "_mm2", "_mm3", "_pct"];
    units.iter().find_map(|unit| id.strip_suffix(unit)).unwrap_or(id)
}

/// Ids by group, groups and ids in the order of the page.
pub fn grouped<'a>(ids: impl IntoIterator<Item = &'a str>) -> Vec<(&'a str, Vec<&'a str>)> {
    let mut groups: BTreeMap<(usize, &str), Vec<&str>> = BTreeMap::new();
    for id in ids {
        let first = id.split('.').next().unwrap_or(id);
        groups.entry((rank(first), first)).or_default().push(id);
    }
    groups.values_mut().for_each(|ids| ids.sort_by_key(|id| order(id)));
    groups.into_iter().map(|((_, first), ids)| (first, ids)).collect()
}

/// Where a reading stands in its group: families in the order of the lists above, aspects around the tooth.
fn order(id: &str) -> (usize, usize, usize) {
    const FAMILIES: &[&str] = &["reduction.occlusal.", "reduction.points.", "reduction.axial."];
    const THIRDS: &[&str] = &["gingival", "middle", "occlusal"];
    let bare = without_unit(id);
    let has = |word: &str| bare.split('.').any(|part| part == word);
    let aspect = Aspect::ALL.iter().position(|aspect| has(aspect.id())).unwrap_or(0);
    let third = THIRDS.iter().position(|third| has(third)).unwrap_or(0);
    let family = FAMILIES.iter().position(|family| id.starts_with(family));
    let kind = KINDS.iter().position(|kind| bare.starts_with(kind.0)).map(|place| FAMILIES.len() + place);
    let rest = FAMILIES.len() + KINDS.len();
    match TITLES.iter().position(|title| title.0 == id) {
        Some(place) => (family.or(kind).unwrap_or(rest), place, 0),
        None => (family.or(kind).unwrap_or(rest), aspect, third),
    }
}

/// The name of an extra number beside a reading.
pub fn extra(name: &str) -> String {
    match name {
        "p05" => "5th percentile".into(),
        "along_axis" => "along the tooth's axis".into(),
        "deg" => "rotation".into(),
        "explained_pct" => "explained".into(),
        "around_pct" => "around the tooth".into(),
        "faciolingual_mm" => "width".into(),
        "height_mm" => "height".into(),
        "overlap_mm" => "overlap".into(),
        "angle_deg" => "direction".into(),
        other => plain(without_unit(other)),
    }
}

/// The unit of an extra: the one its name ends in, else that of its reading.
pub fn extra_unit<'a>(name: &'a str, unit: &'a str) -> &'a str {
    match name.rsplit_once('_') {
        Some((_, end @ ("mm" | "deg" | "um" | "mm2" | "mm3" | "pct"))) => end,
        _ if name == "deg" => "deg",
        _ => unit,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_kind_of_id_gets_a_name() {
        let cases = [
            ("reduction.occlusal.functional_mm", "Functional cusps"),
            ("reduction.axial.distal.gingival_mm", "Distal wall, gingival third"),
            ("taper.mesiofacial_deg", "Wall, mesiofacial"),
            ("finish_line.width.mesial_mm", "Width, mesial"),
            ("finish_line.kind.facial", "Kind, facial"),
            ("wall.height.lingual_mm", "Height, lingual"),
            ("clearance.excursion.protrusion_mm", "Least, in protrusion"),
            ("clearance.excursion.recorded_mm", "Excursion recorded"),
            ("somewhat.new_thing_mm2", "New thing"),
        ];
        for (id, expected) in cases {
            assert_eq!(title(id), expected);
        }
    }

    #[test]
    fn readings_stand_in_the_order_of_the_trade() {
        let expected = [
            "reduction.occlusal.functional_mm",
            "reduction.occlusal.nonfunctional_mm",
            "reduction.axial.mesial.gingival_mm",
            "reduction.axial.mesial.occlusal_mm",
            "reduction.axial.facial.gingival_mm",
            "reduction.volume_mm3",
        ];
        let mut sorted = expected;
        sorted.sort_unstable();
        sorted.sort_by_key(|id| order(id));
        assert_eq!(sorted, expected);
        assert!(order("finish_line.width.lingual_mm") < order("finish_line.kind.mesial"));
        assert!(order("toc.mesiodistal_deg") < order("toc.faciolingual_deg"));
    }

    #[test]
    fn alignment_and_scan_come_last() {
        assert!(rank("reduction") < rank("taper"));
        assert!(rank("abutments") < rank("something new"));
        assert!(rank("something new") < rank("registration"));
        assert!(rank("registration") < rank("scan"));
        assert_eq!(group("something_new").0, "Something new");
    }

    #[test]
    fn extras_carry_their_own_unit() {
        assert_eq!(extra_unit("overlap_mm", ""), "mm");
        assert_eq!(extra_unit("along_axis_u95", "deg"), "deg");
        assert_eq!(extra_unit("deg", "um"), "deg");
        assert_eq!(extra_unit("p05", "mm"), "mm");
    }
}
