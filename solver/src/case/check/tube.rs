//! The part along its length: stations, its outline, and what a slice has that a tube has not.

use super::range::{NOT_BUILT, Range, wrong_number};
use super::{Findings, too_many};
use crate::case::most::{MOST_OUTLINE, MOST_STATIONS};
use crate::case::quantity::Dimension;
use crate::case::{FixedMesh, Inspection, Part, Support, Tube, Turned};
use crate::geometry::{Meridian, MeridianFault, MeridianPoint, Surface};
use crate::scheme::number_in_words;

/// What lengths may differ by and still mean the same, share of the part's length: rounding of typed numbers and of their units.
pub(super) const SAME: f64 = 1e-9;
/// Least distance between positions of an outline that are not one step, share of the part's length.
const LEAST_PIECE: f64 = 1e-6;
/// Diameters of an outline that a message names.
const NAMED: usize = 6;

/// Said of a key that goes along the part, where the case has it as a slice.
pub(in crate::case) const NEEDS_TUBE: &str = "needs [tube], which has the part along its length; write [tube] into the case, or leave it out (of a slice a \
     cut takes the full length at one diameter)";

/// Notes a tool force (N) above zero on a case with `[tube]`, whose wall does not yet give way to it. `path` is that of the force.
pub(in crate::case) fn no_tool_force(
    findings: &mut Findings,
    path: &str,
    force: Option<f64>,
    is_tube: bool,
) -> Option<()> {
    if !is_tube || force.is_none_or(|f| f <= 0.0) {
        return Some(());
    }
    let message = format!(
        "a tool force is {NOT_BUILT} along a tube; leave it out or give 0, or leave out [tube] and the wall gives way as a slice"
    );
    findings.wrong(path, message);
    None
}

/// Stations, mm, of a part of this length, mm, if it is known: rising, on the part.
pub(in crate::case) fn stations(
    findings: &mut Findings,
    stations: &[f64],
    length: Option<f64>,
) -> Option<Vec<f64>> {
    let before = findings.list.len();
    if let Some(message) = too_many(stations.len(), MOST_STATIONS, "stations") {
        findings.wrong("tube.stations", message);
    }
    let length = length.unwrap_or(f64::INFINITY);
    let mut last: Option<f64> = None;
    for (k, z) in stations.iter().enumerate().take(MOST_STATIONS) {
        let path = format!("tube.stations[{k}]");
        if *z > length * (1.0 + SAME) {
            let [z, length] = [*z, length].map(|x| findings.length(x));
            let message = format!(
                "{z} lies beyond the part, which is {length} long; give positions from 0 to that"
            );
            findings.wrong(path, message);
        } else if let Some(last) = last.filter(|last| z <= last) {
            let [z, last] = [*z, last].map(|x| findings.length(x));
            let message = format!(
                "{z} is not beyond the station before it, {last}; give each once, rising from the gripped end"
            );
            findings.wrong(path, message);
        } else {
            last = Some(*z);
        }
    }
    (findings.list.len() == before).then(|| stations.iter().map(|z| z.min(length)).collect())
}

/// What to say of an outline of more points than a case may have.
pub(in crate::case) fn too_many_points(points: usize) -> Option<String> {
    too_many(points, MOST_OUTLINE, "points of an outline")
}

/// The outline through rows of position, outside diameter and bore diameter, mm. Its ends become those of a part of this length, mm,
/// where they differ by rounding alone.
pub(in crate::case) fn outline(
    findings: &mut Findings,
    rows: &[[f64; 3]],
    length: Option<f64>,
) -> Option<Meridian> {
    let end = |z: f64| match length {
        Some(length) if (z - length).abs() <= SAME * length => length,
        Some(length) if z <= SAME * length => 0.0,
        _ => z,
    };
    let point = |&[z, outer, bore]: &[f64; 3]| MeridianPoint {
        z: end(z),
        outer: 0.5 * outer,
        bore: 0.5 * bore,
    };
    let points: Vec<MeridianPoint> = rows.iter().map(point).collect();
    match Meridian::through(&points) {
        Ok(meridian) => Some(meridian),
        Err(fault) => {
            let (path, message) = said(findings, &points, fault);
            findings.wrong(path, message);
            None
        }
    }
}

/// The key of a fault, and what to say of it.
fn said(findings: &Findings, points: &[MeridianPoint], fault: MeridianFault) -> (String, String) {
    let length = |mm: f64| findings.length(mm);
    let (point, message) = match fault {
        MeridianFault::NoLength => {
            let message = "has no length; give at least two points, the first at 0 and the last at the part's length";
            return ("tube.outline".to_owned(), message.to_owned());
        }
        MeridianFault::NoNumber { point } => (
            point,
            "has a value that is no length; give [z, outer_diameter, bore_diameter], the bore 0 in a floor"
                .to_owned(),
        ),
        MeridianFault::Backwards { point } => {
            let [z, last] = [point, point - 1].map(|k| length(points[k].z));
            let message = format!(
                "lies at {z}, nearer to the gripped end than the point before it, at {last}; give the points in order from the \
                 gripped end"
            );
            (point, message)
        }
        MeridianFault::ThirdAtOnePlace { point } => {
            let z = length(points[point].z);
            let message = format!(
                "is the third point at {z}; a step has two, the diameters before it and after it"
            );
            (point, message)
        }
        MeridianFault::NoWall { point } => {
            let [outer, bore] = [points[point].outer, points[point].bore].map(|r| length(2.0 * r));
            let message = format!(
                "the bore, {bore}, is not smaller than the outside, {outer}; every point needs a wall"
            );
            (point, message)
        }
        MeridianFault::Apart { point } => {
            let [before, after] = [point - 1, point].map(|k| {
                let [outer, bore] = [points[k].outer, points[k].bore].map(|r| length(2.0 * r));
                format!("outside {outer} and bore {bore}")
            });
            let message = format!(
                "the walls on both sides of the step do not meet: {before} before it, {after} after it; keep the bore of each below \
                 the outside of the other"
            );
            (point, message)
        }
    };
    (format!("tube.outline[{point}]"), message)
}

/// Notes an outline that is not that of the part: its length, the diameters by which it is held, the lobes of its stock.
pub(in crate::case) fn fits(findings: &mut Findings, outline: &Meridian, part: &Part) {
    let [begin, end] = outline.ends();
    let length = part.length;
    if begin.abs() > SAME * length {
        let begin = findings.length(begin);
        let message =
            format!("begins at {begin}; the gripped end is 0: give the diameters there too");
        findings.wrong("tube.outline", message);
    }
    if (end - length).abs() > SAME * length {
        let [end, length] = [end, length].map(|x| findings.length(x));
        let message = format!(
            "ends at {end}, but the part is {length} long (part.length); end it there, or give the part that length"
        );
        findings.wrong("tube.outline", message);
    }
    for piece in outline.pieces() {
        let [from, to] = piece.z;
        if to - from < LEAST_PIECE * length {
            let message = format!(
                "two points lie {:.0e} mm apart along the part, at {}; give a step one position, or move them apart",
                to - from,
                findings.length(from)
            );
            findings.wrong("tube.outline", message);
        }
    }
    for surface in Surface::BOTH {
        has_nominal(findings, outline, part, surface);
    }
    lobes_leave_a_wall(findings, outline, part);
}

/// Notes a nominal diameter that the outline has nowhere.
fn has_nominal(findings: &mut Findings, outline: &Meridian, part: &Part, surface: Surface) {
    let nominal = 2.0 * part.stock.get(surface).radius;
    let mut diameters: Vec<f64> = Vec::new();
    for radius in outline.pieces().iter().flat_map(|p| *p.radii.get(surface)) {
        let diameter = 2.0 * radius;
        if !diameters.contains(&diameter) {
            diameters.push(diameter);
        }
    }
    if diameters
        .iter()
        .any(|d| (d - nominal).abs() <= SAME * nominal)
    {
        return;
    }
    let (key, called) = match surface {
        Surface::Outer => ("part.outer_diameter", "outside"),
        Surface::Bore => ("part.bore_diameter", "bore"),
    };
    let few: Vec<String> = diameters
        .iter()
        .take(NAMED)
        .map(|d| findings.length(*d))
        .collect();
    let more = if diameters.len() > NAMED { ", ..." } else { "" };
    let message = format!(
        "{} is at no point of tube.outline, whose {called} has {}{more}; give the diameter where the part is held, by which pads are \
         sized",
        findings.length(nominal),
        few.join(", ")
    );
    findings.wrong(key, message);
}

/// Notes lobes and an offset that are more than the outline's thinnest wall.
fn lobes_leave_a_wall(findings: &mut Findings, outline: &Meridian, part: &Part) {
    let stock = &part.stock;
    let nominal = stock.outer.radius - stock.bore.radius;
    if (stock.outer.is_round() && stock.bore.is_round()) || nominal <= outline.least_wall() {
        return;
    }
    let (mut least, mut at) = (f64::INFINITY, 0.0);
    for k in 0..3600 {
        let angle = std::f64::consts::TAU * f64::from(k) / 3600.0;
        let wall = stock.outer.radius(angle) - stock.bore.radius(angle);
        let thinnest = wall - nominal + outline.least_wall();
        if thinnest < least {
            (least, at) = (thinnest, angle);
        }
    }
    // where the nominal wall itself is gone, that has been said
    if least >= 1e-6 * stock.outer.radius {
        return;
    }
    let key = if part.measured.outer.is_some() || part.measured.bore.is_some() {
        "part.readings"
    } else if stock.bore.centre != [0.0, 0.0] {
        "part.bore_offset"
    } else {
        "part.lobes"
    };
    let [least, wall] = [least, outline.least_wall()].map(|x| findings.length(x));
    let message = format!(
        "leaves no wall at {:.1} deg ({least}) where the outline is thinnest, {wall}; lobes and offset must stay within the wall",
        at.to_degrees()
    );
    findings.wrong_key(key, message);
}

/// Notes what a step asks for that goes with a slice alone. `path` is that of the step.
pub(in crate::case) fn step_goes(
    findings: &mut Findings,
    path: &str,
    turned: Option<Turned>,
    stress_relieved: bool,
) {
    if turned == Some(Turned::Any) {
        findings.wrong(
            format!("{path}.turned"),
            "with [tube] the worst way to turn the part is not searched for; give an angle, such as 30.0, or leave [tube] out",
        );
    }
    if stress_relieved {
        findings.wrong(
            format!("{path}.stress_relieved"),
            "with [tube] no residual stress is modelled, so there is none to take out; leave it out, or leave [tube] out",
        );
    }
}

/// Notes what a case asks for that goes with a slice alone, steps apart.
pub(super) fn case_goes(
    findings: &mut Findings,
    part: Option<&Part>,
    mesh: Option<&FixedMesh>,
    inspection: &Inspection,
) {
    if mesh.is_some() {
        findings.wrong_key(
            "mesh",
            "with [tube] the part is meshed along its length, and [mesh] fixes the mesh of a slice; leave [mesh] out, or leave [tube] \
             out",
        );
    }
    if part.is_some_and(|p| p.residual.is_some()) {
        findings.wrong_key(
            "part.residual_hoop_stress",
            "with [tube] residual stress is not let out as metal goes; leave it out, or leave [tube] out",
        );
    }
    if inspection.measuring_force.is_some() {
        findings.wrong_key(
            "inspection.measuring_force",
            "with [tube] what the gauge flexes is not computed; leave it out, or leave [tube] out",
        );
    }
    if inspection.support != Support::Flat {
        findings.wrong_key(
            "inspection.support",
            "with [tube] the part is measured lying on its face; give support = \"flat\", or leave [tube] out",
        );
    }
}

/// A tube made in code, as far as it is right for this part: outline, then stations.
pub(in crate::case) fn checked(
    findings: &mut Findings,
    tube: &Tube,
    part: Option<&Part>,
) -> Option<Tube> {
    let before = findings.list.len();
    for (k, z) in tube.stations.iter().enumerate() {
        let range = Range::ZeroOrMore;
        if let Some(message) = wrong_number(*z, &number_in_words(*z), Dimension::Length, range) {
            findings.wrong(format!("tube.stations[{k}]"), message);
        }
    }
    let sound = findings.list.len() == before;
    let length = part.map(|p| p.length);
    let stations = sound.then(|| stations(findings, &tube.stations, length));
    if let (Some(outline), Some(part)) = (&tube.outline, part) {
        fits(findings, outline, part);
    }
    Some(Tube {
        stations: stations??,
        outline: tube.outline.clone(),
    })
}
