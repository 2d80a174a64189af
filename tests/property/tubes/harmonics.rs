//! Whether the harmonics that are solved for are enough.

use std::f64::consts::PI;

use nalgebra::{DMatrix, DVector};
use ringwright_solver::element::meridian::Isotropic;
use ringwright_solver::geometry::{Meridian, Surface};
use ringwright_solver::mesh::{AxialGrading, MeridianMesh, MeridianSizes};
use ringwright_solver::tube::TubeBody;
use ringwright_solver::tube::ladder::Ladder;
use ringwright_solver::tube::response::{Responses, strips};
use ringwright_tests::files;

use super::{OPTIONS, tube};

/// Three jaws on the first third of a thin tube.
const TEXT: &str = "[part]\nouter_diameter = 100.0\nbore_diameter = 92.0\nlength = 60.0\n\
    material = { young_modulus = 70000.0, poisson_ratio = 0.33 }\n[tube]\nstations = [5.0, 20.0, 58.0]\n\
    [[hold.h]]\nscheme = \"jaws\"\ncount = 3\nforce = 200.0\nbored_diameter = 100.0\narc = 24.0\ngrip_length = 20.0\n[[step]]\nhold = \"h\"\n";

/// Equal pieces of half a pad, each with an even pressure: its edges are loaded far more than its middle, as those of a rigid pad are.
const PIECES: usize = 6;

/// Harmonics that the pads' Fourier series is summed to.
const SUMMED: u32 = 1500;

/// Lobes looked at.
const LOBES: [u32; 3] = [3, 6, 9];

/// The same three jaws pressed on a body by the tests' own equilibrium of pieces of pads, told by a ladder of harmonics.
struct Pressed {
    travel: f64,
    /// Amplitudes of the lobes of the outside at the stations, mm.
    amplitudes: Vec<f64>,
}

/// Amplitude of a harmonic of three jaws whose pieces this one is, both halves, under one newton a radian and mm; and the mean of the harmonic over it.
fn piece(index: usize, k: u32) -> [f64; 2] {
    let width = 12.0_f64.to_radians() / PIECES as f64;
    let order = f64::from(k);
    if k == 0 {
        return [3.0 * width / PI, 1.0];
    }
    let [from, to] = [index, index + 1].map(|m| (order * width * m as f64).sin());
    let integral = (to - from) / order;
    [6.0 * integral / PI, integral / width]
}

/// Pressures that are not negative where the pad touches, and how far it moves (last): sets until one is its own.
fn equilibrium(compliance: &DMatrix<f64>, right: &DVector<f64>) -> DVector<f64> {
    let last = right.len() - 1;
    let mut active = vec![true; last];
    for _ in 0..50 {
        let list: Vec<usize> = (0..=last).filter(|&k| k == last || active[k]).collect();
        let own = DMatrix::from_fn(list.len(), list.len(), |i, j| {
            compliance[(list[i], list[j])]
        });
        let load = DVector::from_fn(list.len(), |i, _| right[list[i]]);
        let solved = own.lu().solve(&load).unwrap();
        let mut found = DVector::zeros(last + 1);
        list.iter()
            .zip(solved.iter())
            .for_each(|(&k, x)| found[k] = *x);
        // what the part stands out by beyond the pad, were it not pressed: negative where it would run into it
        let open = compliance * &found;
        let next: Vec<bool> = (0..last)
            .map(|k| {
                if active[k] {
                    found[k] > 0.0
                } else {
                    open[k] < 0.0
                }
            })
            .collect();
        if next == active {
            return found;
        }
        active = next;
    }
    panic!("no set is its own");
}

fn press(body: &TubeBody, highest: u32, stations: &[f64]) -> Pressed {
    let strips = strips(body.mesh().heights(), Surface::Outer, [0.0, 20.0]);
    let lengths: Vec<f64> = strips.iter().map(|s| s.length()).collect();
    let along = lengths.len();
    let responses = Responses::new(body, strips, Ladder::up_to(highest)).unwrap();
    let count = PIECES * along;
    let mut compliance = DMatrix::zeros(count + 1, count + 1);
    for k in (0..=SUMMED).step_by(3) {
        let (places, weights) = responses.ladder().weights(k);
        let between = DMatrix::from_fn(along, along, |a, b| {
            let own = responses.between(a, b);
            places
                .iter()
                .zip(weights)
                .map(|(&p, w)| w * own[p])
                .sum::<f64>()
        });
        for i in 0..PIECES {
            for j in 0..PIECES {
                let share = piece(j, k)[0] * piece(i, k)[1];
                let mut block = compliance.view_mut((i * along, j * along), (along, along));
                block += &between * share;
            }
        }
    }
    // the pad is rigid and moves along its axis; its force is given
    let mut right = DVector::zeros(count + 1);
    right[count] = 200.0;
    for i in 0..PIECES {
        let [integral, mean] = piece(i, 1);
        for (a, length) in lengths.iter().enumerate() {
            compliance[(i * along + a, count)] = -mean * length;
            compliance[(count, i * along + a)] = integral * PI / 3.0 * length;
        }
    }
    let found = equilibrium(&compliance, &right);
    let amplitude = |z: f64, k: u32| -> f64 {
        let (column, shape) = responses.surface().at(Surface::Outer, z);
        let nodes = responses.surface().nodes.outer[column].map(|m| responses.place(m));
        let (places, weights) = responses.ladder().weights(k);
        let unit = |a: usize| -> f64 {
            let at = |p: usize| -> f64 {
                let moved = responses.moved(a, p);
                nodes.iter().zip(shape).map(|(m, s)| s * moved[*m][0]).sum()
            };
            places.iter().zip(weights).map(|(&p, w)| w * at(p)).sum()
        };
        let of = |i: usize| -> f64 {
            let strips = (0..along).map(|a| found[i * along + a] * unit(a));
            piece(i, k)[0] * strips.sum::<f64>()
        };
        (0..PIECES).map(of).sum()
    };
    Pressed {
        travel: found[count],
        amplitudes: stations
            .iter()
            .flat_map(|&z| LOBES.map(|k| amplitude(z, k)))
            .collect(),
    }
}

/// Twice the harmonics that a run solves for change the travel of its jaws and the lobes at its stations by less than it states of them. Half of them do
/// change what they leave to interpolation, so the two are not the same sums.
/// Truth: own earlier run; the same body with harmonics solved for twice as far
#[test]
fn twice_the_harmonics_change_less_than_is_stated() {
    let case = files::read(TEXT);
    let outcome = ringwright_solver::process::run(&case, &OPTIONS).unwrap();
    let (step, told) = tube(&outcome);
    let law = Isotropic {
        young_modulus: 70_000.0,
        poisson_ratio: 0.33,
    };
    let outline = Meridian::tube(50.0, 46.0, 60.0).unwrap();
    let marks = [0.0, 20.0].map(|z| AxialGrading { z, size: 0.4 });
    let sizes = MeridianSizes {
        along: 3.0,
        through: 1.0,
        growth: 1.5,
    };
    let body = TubeBody::new(MeridianMesh::build(&outline, &marks, &sizes), law);
    let [half, once, twice] = [told.harmonics / 2, told.harmonics, 2 * told.harmonics]
        .map(|highest| press(&body, highest, &case.tube.as_ref().unwrap().stations));
    let stated = step.errors.as_ref().unwrap().contacts[0].approach;
    let off = |a: &Pressed| (a.travel - twice.travel).abs();
    println!(
        "{} harmonics: travel with half of them off by {:.1e}, {:.6} for {:.6} of {:.6}, stated {stated:.1e}",
        told.harmonics,
        off(&half),
        once.travel,
        twice.travel,
        step.held.contacts[0].approach
    );
    // the same hold, though its pressure is told in pieces
    let told_travel = step.held.contacts[0].approach;
    assert!(
        (once.travel / told_travel - 1.0).abs() < 0.05,
        "{}",
        once.travel
    );
    assert!(off(&once) < stated, "{} {stated}", off(&once));
    assert!(off(&half) > off(&once), "{} {}", off(&half), off(&once));
    let pairs = once.amplitudes.chunks(3).zip(twice.amplitudes.chunks(3));
    for (station, (a, b)) in told.stations.iter().zip(pairs) {
        let stated = station.errors.as_ref().unwrap()[0]
            .get(Surface::Outer)
            .lobes();
        for (x, y) in a.iter().zip(b) {
            println!("at {}: {x:.3e} for {y:.3e}, stated {stated:.1e}", station.z);
            assert!((x - y).abs() < stated, "{x} {y} {stated}");
        }
    }
}
