//! Jaws along a tube: where they grip, what they do, and what a cut leaves, against independent answers and limits.

use std::f64::consts::PI;

use nalgebra::{DMatrix, DVector};
use ringwright_solver::element::meridian::Isotropic;
use ringwright_solver::geometry::{Meridian, Surface};
use ringwright_solver::mesh::{AxialGrading, MeridianMesh, MeridianSizes};
use ringwright_solver::tube::TubeBody;
use ringwright_solver::tube::ladder::Ladder;
use ringwright_solver::tube::response::{Responses, strips};
use ringwright_tests::reference;

/// Harmonics that the pads' Fourier series is summed to.
const HARMONICS: u32 = 1200;

/// Three rigid jaws whose pressure is even across the pad and whose gap is its mean across the pad, on the first third of a tube.
/// Truth: other program; the set's own finite elements and its closed form in the thin limit
#[test]
fn jaws_with_even_pressure_across_grip_with_their_front_edge() {
    let case = reference::meridian("M5_line_thin");
    let [outer, bore, length, grip, force, count] =
        ["ro", "ri", "L", "Lg", "F", "N"].map(|k| case.input(k));
    let half = case.input("al").to_radians();
    let law = Isotropic {
        young_modulus: case.input("E"),
        poisson_ratio: case.input("nu"),
    };
    let outline = Meridian::tube(outer, bore, length).unwrap();
    let marks = [0.0, grip].map(|z| AxialGrading { z, size: 0.1 });
    let sizes = MeridianSizes {
        along: 3.0,
        through: 0.5,
        growth: 1.4,
    };
    let body = TubeBody::new(MeridianMesh::build(&outline, &marks, &sizes), law);
    let strips = strips(body.mesh().heights(), Surface::Outer, [0.0, grip]);
    let lengths: Vec<f64> = strips.iter().map(|s| s.length()).collect();
    let centres: Vec<f64> = strips
        .iter()
        .map(|s| s.ends.iter().find(|e| e.1 == 1.0).unwrap().0)
        .collect();
    let responses = Responses::new(&body, strips, Ladder::up_to(150)).unwrap();
    let n = lengths.len();
    // amplitude of all pads under one newton a radian and mm each, and mean of a harmonic over a pad
    let pads = |k: u32| match k {
        0 => (count * half / PI, 1.0),
        _ => {
            let x = f64::from(k) * half;
            (count * 2.0 * x.sin() / (PI * f64::from(k)), x.sin() / x)
        }
    };
    let mut compliance = DMatrix::zeros(n, n);
    for k in (0..=HARMONICS).step_by(count as usize) {
        let (amplitude, mean) = pads(k);
        let (places, weights) = responses.ladder().weights(k);
        for a in 0..n {
            for b in 0..n {
                let between = responses.between(a, b);
                let own: f64 = places
                    .iter()
                    .zip(weights)
                    .map(|(&p, w)| w * between[p])
                    .sum();
                compliance[(a, b)] += amplitude * mean * own;
            }
        }
    }
    let (pressed, delta) = pressed(&compliance, &lengths, force / (2.0 * half.sin()));
    let share = |from: f64, to: f64| {
        let forces = centres.iter().zip(pressed.iter().zip(&lengths));
        let within = |(z, (q, l)): (&f64, (&f64, &f64))| match (from..=to).contains(z) {
            true => q * l,
            false => 0.0,
        };
        forces.map(within).sum::<f64>() * 2.0 * half.sin() / force
    };
    let centroid: f64 = centres
        .iter()
        .zip(pressed.iter().zip(&lengths))
        .map(|(z, (q, l))| z * q * l)
        .sum::<f64>()
        * 2.0
        * half.sin()
        / force
        / grip;
    let third_lobe = |z: f64| -> f64 {
        let (column, shape) = responses.surface().at(Surface::Outer, z);
        let nodes = responses.surface().nodes.outer[column].map(|m| responses.place(m));
        let (amplitude, _) = pads(3);
        let (places, weights) = responses.ladder().weights(3);
        (0..n)
            .map(|a| {
                let at = |p: usize| -> f64 {
                    let moved = responses.moved(a, p);
                    nodes.iter().zip(shape).map(|(m, s)| s * moved[*m][0]).sum()
                };
                let own: f64 = places.iter().zip(weights).map(|(&p, w)| w * at(p)).sum();
                -amplitude * pressed[a] * own
            })
            .sum()
    };
    case.compare(|name| match name {
        // the travel of a jaw closes the gap by its cosine, which the mean over the pad takes in
        "delta" => delta / (half.sin() / half),
        "centroid" => centroid,
        "front25" => share(0.75 * grip, grip),
        "front10" => share(0.9 * grip, grip),
        "back50" => share(0.0, 0.5 * grip),
        "amp_od_k3[z0]" => third_lobe(0.0),
        "amp_od_k3[Lg_2]" => third_lobe(0.5 * grip),
        "amp_od_k3[Lg]" => third_lobe(grip),
        "amp_od_k3[mid_overhang]" => third_lobe(0.5 * (grip + length)),
        "amp_od_k3[L]" => third_lobe(length),
        other => panic!("no output {other}"),
    });
}

/// Pressures (a radian and mm) of a rigid jaw on these compliances under a force, and how far it moves: by an active set.
fn pressed(compliance: &DMatrix<f64>, lengths: &[f64], force: f64) -> (DVector<f64>, f64) {
    let n = lengths.len();
    let mut active = vec![true; n];
    for _ in 0..100 {
        let list: Vec<usize> = (0..n).filter(|&k| active[k]).collect();
        let m = list.len();
        let matrix = DMatrix::from_fn(m + 1, m + 1, |i, j| match (i < m, j < m) {
            (true, true) => compliance[(list[i], list[j])],
            (true, false) => -lengths[list[i]],
            (false, true) => lengths[list[j]],
            (false, false) => 0.0,
        });
        let mut right = DVector::zeros(m + 1);
        right[m] = force;
        let x = matrix.lu().solve(&right).unwrap();
        let mut q = DVector::zeros(n);
        list.iter().enumerate().for_each(|(i, &k)| q[k] = x[i]);
        let gap = compliance * &q - DVector::from_row_slice(lengths) * x[m];
        let mut changed = false;
        for k in 0..n {
            let next = if active[k] {
                q[k] >= 0.0
            } else {
                gap[k] < -1e-12
            };
            changed |= next != active[k];
            active[k] = next;
        }
        if !changed {
            return (q, x[m]);
        }
    }
    panic!("the active set did not settle");
}
