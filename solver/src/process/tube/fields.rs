//! Fields of a state of a tube in the plane through its axis at one angle, for review.

use super::step::HeldTube;
use crate::element::meridian::harmonic_nodal_stress;
use crate::fourier::Complex64;
use crate::geometry::PerSurface;
use crate::linear::{LinearError, collected};
use crate::mesh::MeridianMesh;
use crate::process::{MeridianField, Stage};
use crate::tube::field::{Amplitudes, add_strips, solved};

/// Harmonics that a field for review is summed from: local dents under pads are narrower, and are left out.
const REVIEWED: usize = 48;

/// Share of the largest load below which a harmonic has none.
const NO_LOAD: f64 = 1e-12;

/// The field of a held state at an angle, degrees.
pub(super) fn held(
    held: &HeldTube,
    stage: Stage,
    angle_deg: f64,
) -> Result<MeridianField, LinearError> {
    let mesh = held.stage.body.mesh();
    let harmonics = harmonics(held)?;
    let mut field = bare(mesh, stage, angle_deg);
    let mut counts = vec![0.0_f64; mesh.coords().len()];
    let law = held.stage.body.law();
    let turns: Vec<(u32, Complex64)> = harmonics
        .iter()
        .map(|(n, _)| {
            (
                *n,
                Complex64::from_polar(1.0, f64::from(*n) * angle_deg.to_radians()),
            )
        })
        .collect();
    for ((_, moved), (_, turn)) in harmonics.iter().zip(&turns) {
        for (to, u) in field.displacement.iter_mut().zip(moved) {
            let [radial, axial, tangential] = u.map(|x| x * turn);
            let parts = [radial.re, axial.re, tangential.im];
            to.iter_mut().zip(parts).for_each(|(t, p)| *t += p);
        }
    }
    for nodes in elements(mesh) {
        let coords = nodes.map(|n| mesh.coords()[n]);
        for ((n, moved), (_, turn)) in harmonics.iter().zip(&turns) {
            let part = |of: &dyn Fn(Complex64) -> f64| {
                let amplitudes = nodes.map(|k| moved[k].map(of));
                harmonic_nodal_stress(law, *n, &coords, &amplitudes)
            };
            let (re, im) = (part(&|x| x.re), part(&|x| x.im));
            for (k, &node) in nodes.iter().enumerate() {
                for c in 0..6 {
                    let stress = Complex64::new(re[k][c], im[k][c]) * turn;
                    field.stress[node][c] += if c < 4 { stress.re } else { stress.im };
                }
            }
        }
        nodes.iter().for_each(|&n| counts[n] += 1.0);
    }
    for (stress, count) in field.stress.iter_mut().zip(&counts) {
        stress.iter_mut().for_each(|s| *s /= count.max(1.0));
    }
    Ok(field.filled())
}

/// The released part, at rest without stress, on the mesh of its last held state.
pub(super) fn released(held: &HeldTube, angle_deg: f64) -> MeridianField {
    bare(held.stage.body.mesh(), Stage::Released, angle_deg).filled()
}

/// A mesh with no field on it.
pub(super) fn bare(mesh: &MeridianMesh, stage: Stage, angle_deg: f64) -> MeridianField {
    let nodes = mesh.coords().len();
    let columns = 0..mesh.topology().around();
    MeridianField {
        stage,
        angle_deg,
        nodes: mesh.coords().to_vec(),
        elements: elements(mesh),
        boundary: PerSurface::from_fn(|s| {
            let sides = columns.clone().flat_map(|c| mesh.side(c, s));
            let mut nodes: Vec<usize> = sides.collect();
            nodes.sort_unstable();
            nodes.dedup();
            nodes
        }),
        displacement: vec![[0.0; 3]; nodes],
        stress: vec![[0.0; 6]; nodes],
    }
}

fn elements(mesh: &MeridianMesh) -> Vec<[usize; 8]> {
    let columns = 0..mesh.topology().around();
    columns
        .flat_map(|c| mesh.filled(c).map(move |layer| (c, layer)))
        .map(|(c, layer)| mesh.topology().element_nodes(c, layer))
        .collect()
}

/// Amplitudes of every node by harmonic.
fn harmonics(held: &HeldTube) -> Result<Vec<(u32, Vec<Amplitudes>)>, LinearError> {
    if let Some(whole) = &held.rest.whole {
        let there = |h: &Vec<Amplitudes>| h.iter().flatten().any(|x| x.norm() > 0.0);
        let all = (0..).zip(whole.harmonics()).filter(|(_, h)| there(h));
        let mut found = all.map(|(n, h)| (n, h.clone())).collect();
        add_rigid(held, &mut found);
        add_plates(held, &mut found);
        return Ok(found);
    }
    let body = &held.stage.body;
    let responses = &held.stage.responses;
    let nodes = body.mesh().coords().len();
    let mut loads = vec![vec![Amplitudes::default(); nodes]; REVIEWED + 1];
    add_strips((body, responses), &held.rest.contact.amplitudes, &mut loads);
    let size = |load: &Vec<Amplitudes>| -> f64 {
        load.iter().flatten().map(|x| x.norm()).fold(0.0, f64::max)
    };
    let largest = loads.iter().map(size).fold(0.0, f64::max);
    let worth: Vec<usize> = (0..loads.len())
        .filter(|&n| size(&loads[n]) > NO_LOAD * largest)
        .collect();
    let all = collected(worth, true, |n| -> Result<_, LinearError> {
        Ok((n as u32, solved(&body.factor(n as u32)?, &loads[n])?))
    });
    let mut found = all.into_iter().collect::<Result<Vec<_>, _>>()?;
    // what the surfaces show beside that is rigid: the body was held by single points
    add_rigid(held, &mut found);
    add_plates(held, &mut found);
    Ok(found)
}

fn add_plates(held: &HeldTube, found: &mut Vec<(u32, Vec<Amplitudes>)>) {
    if let Some(plated) = &held.rest.plates {
        let even = plated.displacement.iter();
        let even = even.map(|u| u.map(|x| Complex64::new(x, 0.0)));
        found.push((0, even.collect()));
    }
}

/// Adds the rigid motion by which a harmonic of the surfaces differs from what was solved: shift and tilt, by two surface nodes.
fn add_rigid(held: &HeldTube, found: &mut Vec<(u32, Vec<Amplitudes>)>) {
    let (responses, coords) = (&held.stage.responses, held.stage.body.mesh().coords());
    let Some(first) = held.rest.field.harmonic(1) else {
        return;
    };
    if found.iter().all(|f| f.0 != 1) {
        found.push((1, vec![Amplitudes::default(); coords.len()]));
    }
    let Some((_, moved)) = found.iter_mut().find(|f| f.0 == 1) else {
        return;
    };
    let bore = &responses.surface().nodes.bore;
    let ends = [bore[0][0], bore[bore.len() - 1][2]];
    let across = ends.map(|node| {
        let [u, _, v] = first[responses.place(node)];
        let [own, _, turned] = moved[node];
        (u - v - own + turned) * 0.5
    });
    let [a, b] = ends.map(|n| coords[n][1]);
    let tilt = (across[1] - across[0]) / (b - a);
    for (to, [r, z]) in moved.iter_mut().zip(coords) {
        let shift = across[0] + tilt * (z - a);
        let rigid = [shift, -tilt * *r, -shift];
        to.iter_mut().zip(rigid).for_each(|(t, x)| *t += x);
    }
}

impl MeridianField {
    /// The same without the nodes of empty places.
    pub(super) fn filled(self) -> Self {
        let mut place = vec![usize::MAX; self.nodes.len()];
        let mut kept = Vec::new();
        for &node in self.elements.iter().flatten() {
            if place[node] == usize::MAX {
                place[node] = kept.len();
                kept.push(node);
            }
        }
        Self {
            nodes: kept.iter().map(|&n| self.nodes[n]).collect(),
            displacement: kept.iter().map(|&n| self.displacement[n]).collect(),
            stress: kept.iter().map(|&n| self.stress[n]).collect(),
            boundary: PerSurface::from_fn(|s| {
                self.boundary.get(s).iter().map(|&n| place[n]).collect()
            }),
            elements: self.elements.iter().map(|e| e.map(|n| place[n])).collect(),
            ..self
        }
    }
}
