//! The ring as received: a wall all round, a material that is known, stress that cancels.

use std::f64::consts::TAU;

use super::Findings;
use crate::case::Material;
use crate::case::material::{built_in, names};
use crate::case::problem::{nearest, shown};
use crate::geometry::{PerSurface, StockOutline};

/// Highest lobe count of a stock: the finest thing that 3600 profile points still show well.
pub(in crate::case) const MOST_LOBES: u64 = 360;

/// Net hoop force over the wall that is taken for rounding of the typed numbers, share of the largest stress times the wall.
const MOST_NET: f64 = 1e-3;

/// Refuses a bore, diameter in mm, that is not smaller than the outside.
pub(in crate::case) fn has_wall(findings: &mut Findings, outer: f64, bore: f64) {
    if bore >= outer {
        let (bore, outer) = (findings.length(bore), findings.length(outer));
        findings.wrong(
            "part.bore_diameter",
            format!(
                "the bore, {bore}, is not smaller than the outside, {outer}; a ring needs a wall"
            ),
        );
    }
}

/// Refuses lobes and offsets that leave no wall, with the angle and the thickness; says of a round blank that it is one. `given` tells
/// which keys of the part the case has.
pub(in crate::case) fn wall_is_left(
    findings: &mut Findings,
    stock: &PerSurface<StockOutline>,
    given: impl Fn(&str) -> bool,
    assumed: &mut Vec<String>,
) {
    if stock.outer.is_round() && stock.bore.is_round() {
        assumed.insert(0, "round blank".into());
        return;
    }
    if stock.outer.radius <= stock.bore.radius {
        return;
    }
    let (mut least, mut at) = (f64::INFINITY, 0.0);
    for k in 0..3600 {
        let angle = TAU * f64::from(k) / 3600.0;
        let bore = stock.bore.radius(angle);
        // a bore that reaches the axis is as bad as a wall that vanishes
        let thickness = (stock.outer.radius(angle) - bore).min(bore);
        if thickness < least {
            (least, at) = (thickness, angle);
        }
    }
    if least < 1e-6 * stock.outer.radius {
        let key = ["bore_offset", "lobes", "readings"]
            .into_iter()
            .find(|k| given(k))
            .unwrap_or("lobes");
        let least = findings.length(least);
        findings.wrong_key(
            format!("part.{key}"),
            format!(
                "leaves no wall at {:.1} deg ({least}); lobes and offset must stay within the wall",
                at.to_degrees()
            ),
        );
    }
}

/// Refuses hoop stress, MPa, that does not cancel over the wall: nothing in a free ring carries what is left. Linear stress between the
/// nominal radii has a net force of its mean times the wall.
pub(in crate::case) fn stress_cancels(
    findings: &mut Findings,
    outer: f64,
    bore: f64,
) -> Option<()> {
    let mean = 0.5 * (outer + bore);
    if mean.abs() <= MOST_NET * outer.abs().max(bore.abs()) {
        return Some(());
    }
    // the bending part of what was typed, or if there is none its size with both signs
    let half = 0.5 * (outer - bore);
    let half = if half.abs() > MOST_NET * mean.abs() {
        half
    } else {
        outer
    };
    let (mean, [outer, bore]) = (
        findings.stress(mean),
        [half, -half].map(|s| findings.plain_stress(s)),
    );
    findings.wrong(
        "part.residual_hoop_stress",
        format!(
            "does not cancel over the wall: {mean} on average is left, and nothing in a ring that lies free carries it; give as \
             much tension as compression, such as {{ outer = {outer}, bore = {bore} }}, or a slit test"
        ),
    );
    None
}

/// A material of the built-in table.
pub(in crate::case) fn material(findings: &mut Findings, name: &str) -> Option<Material> {
    let found = built_in(name);
    if found.is_none() {
        findings.wrong(
            "part.material",
            format!(
                "no material \"{}\" in the built-in table;{} `ringwright materials` lists them all; or give \
                 {{ young_modulus = .., poisson_ratio = .. }}",
                shown(name),
                meant(name)
            ),
        );
    }
    found
}

/// What the shop calls materials of the table. Common practice, no source.
const SHOP_NAMES: &[(&str, &str)] = &[
    ("delrin", "acetal POM-H"),
    ("pom", "acetal POM-H"),
    ("660", "bronze C93200"),
    ("sae 660", "bronze C93200"),
    ("bearing bronze", "bronze C93200"),
    ("teflon", "PTFE"),
    ("stainless", "stainless 304 annealed"),
    ("stainless", "stainless 316 annealed"),
    ("bearing steel", "steel 52100 annealed"),
    ("mild steel", "steel 1018 cold drawn"),
    ("cast iron", "grey iron class 30"),
];

/// The names that may be meant: "C93200" or "4140" alone is a part of them; otherwise the nearest spelling.
fn meant(typed: &str) -> String {
    let lower = typed.to_lowercase();
    let has = |n: &&str| !lower.is_empty() && n.to_lowercase().contains(&lower);
    let mut names_meant: Vec<&str> = SHOP_NAMES
        .iter()
        .filter(|(shop, _)| lower.contains(shop))
        .map(|(_, name)| *name)
        .filter(|n| names().any(|known| known == *n))
        .take(3)
        .collect();
    if names_meant.is_empty() {
        names_meant = names().filter(has).take(4).collect();
    }
    if names_meant.is_empty() {
        let lowered: Vec<(String, &str)> = names().map(|n| (n.to_lowercase(), n)).collect();
        let best = nearest(&lower, lowered.iter().map(|(l, _)| l.as_str()));
        names_meant.extend(
            best.and_then(|best| lowered.iter().find(|(l, _)| l == best))
                .map(|(_, n)| *n),
        );
    }
    if names_meant.is_empty() {
        return String::new();
    }
    let quoted: Vec<_> = names_meant.iter().map(|n| format!("\"{n}\"")).collect();
    format!(" did you mean {}?", quoted.join(" or "))
}
