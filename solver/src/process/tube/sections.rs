//! Places along a tube: sections of the finished part that its limits are held against, cuts that run over a grip.

use super::cutting::ToolPath;
use super::part::TubePart;
use super::setting::TubeSetting;
use crate::case::Step;
use crate::geometry::Surface;
use crate::metrology::limits;
use crate::process::Caution;
use crate::process::inspect::Named;
use crate::process::sample::roundness;
use crate::tube::field::GRID;

/// Share of the part's length by which a section stands inside the end of what was cut.
const INSIDE: f64 = 1e-9;

/// Positions (mm) where a surface is most out of round, largest and smallest, of all that these steps have cut of it or, if none has, of its whole length;
/// each once.
pub(super) fn judged(part: &TubePart, lines: &[f64], steps: &[Step], surface: Surface) -> Vec<f64> {
    let [start, end] = part.nominal.ends();
    let cuts = steps.iter().flat_map(|step| {
        let own = step.cuts.iter().filter(|c| c.surface == surface);
        own.map(|cut| ToolPath::of(step, cut, end - start, [0.0; 2]).reach)
    });
    let mut reaches: Vec<[f64; 2]> = cuts.collect();
    if reaches.is_empty() {
        reaches.push([start, end]);
    }
    let hair = INSIDE * (end - start);
    let mut places: Vec<f64> = Vec::new();
    for [from, to] in reaches {
        places.extend([from + hair, to - hair]);
        places.extend(lines.iter().filter(|z| **z > from && **z < to));
    }
    let figures: Vec<[f64; 3]> = places
        .iter()
        .map(|&z| {
            let radii = part.profile(surface, z, GRID);
            let (least, most) = limits(&radii);
            [roundness(&radii), most, -least]
        })
        .collect();
    let mut chosen: Vec<f64> = Vec::new();
    for k in 0..3 {
        let mut best = 0;
        for (at, figure) in figures.iter().enumerate() {
            // of sections that are alike to rounding the first
            if figure[k] > figures[best][k] + 1e-9 * figures[best][k].abs() {
                best = at;
            }
        }
        if !chosen.contains(&places[best]) {
            chosen.push(places[best]);
        }
    }
    chosen
}

/// A cut that runs over where something holds the part by the same surface.
pub(super) fn cut_where_gripped(
    setting: &TubeSetting,
    names: &[Named],
    paths: &[ToolPath],
) -> Option<Caution> {
    let holds = names
        .iter()
        .zip(setting.step.supports)
        .zip(&setting.reaches);
    holds.into_iter().find_map(|((name, support), [from, to])| {
        let meets = |s: Surface| {
            let mut own = paths.iter().filter(|p| p.surface == s);
            own.any(|p| p.reach[0] < *to && p.reach[1] > *from)
        };
        let mut faces = support.faces().into_iter().map(|b| b.surface);
        faces
            .find(|s| meets(*s))
            .map(|surface| Caution::CutsWhereItGrips {
                step: setting.step.index,
                surface,
                scheme: name.scheme.clone(),
                along: true,
            })
    })
}
