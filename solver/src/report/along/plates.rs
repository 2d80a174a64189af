//! What end plates do to a tube and what it does to them.

use super::{NOTHING, the};
use crate::geometry::Surface;
use crate::report::document::{BulgeDocument, PlatesDocument};
use crate::report::units::{Units, fixed, percent};
use crate::report::words::alike;

/// A part that nothing locates across its axis.
pub(super) const SHIFTS: &str = "nothing locates the part across its axis: it can shift sideways, nothing but friction at the ends holds it";

/// How far a force that is only a guide is told, as a share of it.
const ROUGH: f64 = 0.009;

/// A bulge below this share of the mean growth is no bulge.
const EVEN: f64 = 0.02;

/// A sentence a line; `strength`: yield strength, MPa.
pub(super) fn lines(
    plates: &PlatesDocument,
    strength: Option<f64>,
    cut: &[Surface],
    units: Units,
) -> Vec<String> {
    let mut lines = bulges(plates, cut, units);
    lines.push(faces(plates, units));
    lines.push(friction(plates));
    lines.push(torque(plates, units));
    lines.extend(buckling(plates, strength, units));
    if !plates.located {
        lines.push(SHIFTS.to_owned());
    }
    lines
}

/// How much farther out the surface is in the middle than on the line through its ends (the farthest of either sign), and its mean displacement,
/// mm on radius.
fn bulge(of: &BulgeDocument) -> Option<[f64; 2]> {
    let (first, last) = (*of.radial.first()?, *of.radial.last()?);
    let (from, to) = (*of.z_mm.first()?, *of.z_mm.last()?);
    let off =
        |(z, u): (&f64, &f64)| u - first - (last - first) * (z - from) / (to - from).max(NOTHING);
    let farthest = of
        .z_mm
        .iter()
        .zip(&of.radial)
        .map(off)
        .fold(
            0.0_f64,
            |most, d| if d.abs() > most.abs() { d } else { most },
        );
    let mean = of.radial.iter().sum::<f64>() / of.radial.len() as f64;
    Some([farthest, mean])
}

/// What the plates bulge the wall by, of surfaces that are not cut there: of a cut one its own figures tell what it came to.
pub(super) fn bulges(plates: &PlatesDocument, cut: &[Surface], units: Units) -> Vec<String> {
    let both = Surface::BOTH.map(|s| match cut.contains(&s) {
        true => None,
        false => bulge(plates.bulge.get(s)),
    });
    match both {
        [Some(a), Some(b)] if alike(a[0], b[0]) && alike(a[1], b[1]) => {
            vec![bulged("outside and bore", "", a, units)]
        }
        _ => Surface::BOTH
            .into_iter()
            .zip(both)
            .filter_map(|(s, b)| Some(bulged(&the(s), "s", b?, units)))
            .collect(),
    }
}

fn bulged(named: &str, s: &str, [off, mean]: [f64; 2], units: Units) -> String {
    let diameter = 2.0 * off.abs();
    if diameter < NOTHING || off.abs() < EVEN * mean.abs() {
        let grows = if mean < 0.0 { "shrink" } else { "grow" };
        let by = units.small(2.0 * mean.abs());
        return format!(
            "between the plates {named} {grows}{s} evenly, by {by} on the diameter: size, not shape"
        );
    }
    let (does, less) = if off > 0.0 {
        ("bulge", "smaller")
    } else {
        ("draw in", "larger")
    };
    let does = match (does, s) {
        ("draw in", "s") => "draws in".to_owned(),
        _ => format!("{does}{s}"),
    };
    format!(
        "between the plates {named} {does}: turned true there, the middle comes out {} {less} than the ends on the diameter, once \
         released",
        units.small(diameter)
    )
}

fn faces(plates: &PlatesDocument, units: Units) -> String {
    let [a, b] = plates.mean_pressure;
    let pressure = if alike(a, b) {
        units.stress(a)
    } else {
        format!(
            "{} at the headstock end and {} at the other",
            units.stress(a),
            units.stress(b)
        )
    };
    let nearer = if plates.approach < NOTHING {
        String::new()
    } else {
        format!(
            ", and come {} closer together",
            units.small(plates.approach)
        )
    };
    format!("the plates press on the faces with {pressure} on average{nearer}")
}

fn friction(plates: &PlatesDocument) -> String {
    if plates.sliding {
        return "the ends are taken to slide without friction: no friction is used up in holding them".into();
    }
    let [a, b] = plates.friction_used;
    let (used, at) = if alike(a, b) {
        (fixed(a, 3), "at each face")
    } else {
        (
            format!("{} and {}", fixed(a, 3), fixed(b, 3)),
            "at the two faces",
        )
    };
    let slides = plates.sliding_share[0].max(plates.sliding_share[1]);
    let sliding = if slides > 0.0 {
        format!("; up to {} of a face slides", percent(slides))
    } else {
        String::new()
    };
    match plates.friction {
        Some(given) => format!(
            "holding the ends uses up {used} of the friction coefficient of {given} {at}{sliding}"
        ),
        None => format!(
            "the ends are taken to stick: that needs a friction coefficient of more than {used} {at}{sliding}"
        ),
    }
}

fn torque(plates: &PlatesDocument, units: Units) -> String {
    // of a whole face that slides nothing but rounding is left
    let most = plates.friction.unwrap_or(0.0) * plates.force;
    match plates.torque {
        Some(torque) if !plates.sliding && torque <= NOTHING * most => {
            "holding the ends uses up all the friction of one face: it takes no torque before it slips".into()
        }
        Some(torque) => {
            let off = if plates.sliding {
                " by the whole friction coefficient given"
            } else {
                ", with what holding the ends uses up taken off"
            };
            format!(
                "one face takes a torque of {} before it slips{off}; the cutting torque is not checked against it",
                units.torque(torque)
            )
        }
        None => {
            "torque that a face takes before it slips: not known without a friction coefficient"
                .into()
        }
    }
}

/// A force that is no more than a guide: two or three digits of it.
fn rough(newton: f64, units: Units) -> String {
    units.force_within(newton, Some(ROUGH * newton))
}

/// Buckling beside yield, as a caution.
fn buckling(plates: &PlatesDocument, strength: Option<f64>, units: Units) -> Option<String> {
    let buckling = plates.buckling?;
    let pressure = plates.mean_pressure[0].max(plates.mean_pressure[1]);
    let yields = strength
        .filter(|_| pressure > 0.0)
        .map(|s| plates.force * s / pressure);
    let first = match yields {
        Some(force) if force < buckling.knocked_down => {
            format!("; yield comes first, at {}", rough(force, units))
        }
        Some(force) => format!(
            "; that is before it yields all through, at {}",
            rough(force, units)
        ),
        None => String::new(),
    };
    let now = if plates.force >= buckling.knocked_down {
        ": THE FORCE ASKED FOR IS NO LESS"
    } else {
        ""
    };
    Some(format!(
        "caution: the wall could buckle from {} on, a perfect tube from {} (the difference is the customary knock-down){now}{first}",
        rough(buckling.knocked_down, units),
        rough(buckling.classical, units)
    ))
}
