//! The mean ring's factor on a fixed mesh: against the sparse factor, and broken on purpose.
#![allow(clippy::unwrap_used)]

use std::cell::Cell;

use crate::case::{Case, CaseBuilder, FixedMesh, Step};
use crate::element::PlaneStress;
use crate::geometry::Surface;
use crate::process::testing::EqualJaws;
use crate::process::{KeepFields, Method, Options, StepOutcome, run};
use crate::scheme::{Drive, Face, Registry};

thread_local! {
    /// By what the mean ring of this thread is stiffer than the part; `None` does without one.
    static STIFFER: Cell<Option<f64>> = const { Cell::new(Some(1.0)) };
    /// Holds that this thread closed on a mean ring.
    static CLOSED: Cell<usize> = const { Cell::new(0) };
}

/// The material of the mean ring, as the test wants it.
pub(super) fn ring_law(law: &PlaneStress) -> Option<PlaneStress> {
    STIFFER.get().map(|factor| PlaneStress {
        young_modulus: factor * law.young_modulus,
        ..*law
    })
}

/// A hold was closed on a mean ring.
pub(super) fn closed() {
    CLOSED.set(CLOSED.get() + 1);
}

/// Equally spread numbers from 0 to 1 (the multiplier of Knuth's MMIX).
struct Draws(u64);

impl Draws {
    fn next(&mut self) -> f64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1_u64 << 53) as f64
    }

    fn between(&mut self, from: f64, to: f64) -> f64 {
        from + (to - from) * self.next()
    }
}

/// An accuracy at which what a cut leaves out cannot be seen, and the one of a quick answer.
const FINE: f64 = 1e-5;
const QUICK: f64 = 1e-2;

/// A lobed ring of aluminium on a fixed mesh in jaws bored somewhat over it; every other one is bored in the hold.
fn case(number: u64, accuracy: f64) -> Case {
    let mut draws = Draws(number);
    let wall = draws.between(2.0, 9.0);
    let bore = 105.0 - 2.0 * wall;
    let mut step = Step::held_by("free");
    if number.is_multiple_of(2) {
        step = step.cut(Surface::Bore, bore + 0.16 * wall);
    }
    let mut ring = CaseBuilder::ring(105.0, bore, 20.0, "aluminium 6061-T6").accuracy(accuracy);
    for surface in Surface::BOTH {
        let count = draws.between(2.0, 7.0) as u32;
        let amplitude = draws.between(1e-3, 0.05) * wall;
        ring = ring.lobes([surface], count, amplitude, draws.between(0.0, 180.0));
    }
    let mut case = ring.step(step).build(&Registry::default()).unwrap();
    case.mesh = Some(FixedMesh {
        around: 240,
        through: 2,
    });
    // jaws that find their places alone would leave the part free to lie a little to the side where a single element carries each
    let jaws = EqualJaws {
        half_angle: 0.19,
        face: Face::Concave {
            radius: draws.between(52.8, 54.0),
        },
        drive: Drive::SelfCentring { force: 600.0 },
    };
    jaws.holding(case)
}

/// A case on a mean ring so much stiffer, or with the sparse factor, and how often it was closed on a mean ring.
fn solved(number: u64, stiffer: Option<f64>, accuracy: f64) -> (StepOutcome, usize) {
    STIFFER.set(stiffer);
    CLOSED.set(0);
    let options = Options {
        fields: KeepFields::None,
        estimate: false,
        method: Method::MeanRing,
        advice: true,
    };
    let outcome = run(&case(number, accuracy), &options);
    STIFFER.set(Some(1.0));
    (outcome.unwrap().steps.remove(0), CLOSED.get())
}

/// Largest difference of two outcomes' radii, held and released, as a share of what the hold moves.
fn apart(a: &StepOutcome, b: &StepOutcome) -> f64 {
    let mut worst = 0.0_f64;
    let mut most = 0.0_f64;
    for s in Surface::BOTH {
        let moved = a.held.displacement.get(s).iter();
        most = moved.fold(most, |m, u| m.max(u.abs()));
        for (a, b) in [
            (a.held.shape.get(s), b.held.shape.get(s)),
            (a.released.get(s), b.released.get(s)),
        ] {
            let difference = a.iter().zip(b).map(|(a, b)| (a - b).abs());
            worst = difference.fold(worst, f64::max);
        }
    }
    worst / most
}

/// Twelve random lobed rings, six of them bored in the hold, come out on the mean ring as with the sparse factor: every radius to a
/// millionth of what the hold moves.
///
/// Truth: invariance; another factor of the same equations.
#[test]
fn a_mean_ring_gives_what_the_sparse_factor_gives() {
    for number in 0..12 {
        let (sparse, none) = solved(number, None, FINE);
        let (near, closed) = solved(number, Some(1.0), FINE);
        assert!(none == 0 && closed > 0, "case {number}: {none}, {closed}");
        let apart = apart(&sparse, &near);
        assert!(apart < 1e-6, "case {number}: {apart:e}");
    }
}

/// A mean ring 10 percent too stiff or too soft moves no radius by more than a millionth of what the hold moves: it decides how many
/// corrections there are and nothing else.
///
/// Truth: invariance.
#[test]
fn a_mean_ring_off_by_a_tenth_moves_nothing() {
    for number in [2, 3] {
        let (right, _) = solved(number, Some(1.0), FINE);
        for factor in [0.9, 1.1] {
            let (spoilt, closed) = solved(number, Some(factor), FINE);
            assert!(closed > 0);
            let apart = apart(&right, &spoilt);
            assert!(apart < 1e-6, "case {number}, {factor}: {apart:e}");
        }
    }
}

/// What a held body leaves out while it is cut is less than half of the tenth of the accuracy by which its outline may be off, whatever the mean ring.
///
/// Truth: invariance; the sparse factor, whose digits are all there.
#[test]
fn a_cut_leaves_out_little_of_what_is_asked() {
    for number in (0..12).step_by(2) {
        let (sparse, _) = solved(number, None, QUICK);
        for factor in [0.9, 1.0, 1.1] {
            let (quick, closed) = solved(number, Some(factor), QUICK);
            assert!(closed > 0);
            let apart = apart(&sparse, &quick);
            assert!(apart < 0.05 * QUICK, "case {number}, {factor}: {apart:e}");
        }
    }
}

/// A mean ring that is hopelessly off is given up for the sparse factor, whose answer comes out to the last bit.
///
/// Truth: invariance.
#[test]
fn what_does_not_settle_falls_back_on_the_sparse_factor() {
    let (sparse, _) = solved(3, None, QUICK);
    let (given_up, closed) = solved(3, Some(1e-3), QUICK);
    assert_eq!(closed, 0);
    assert_eq!(apart(&sparse, &given_up), 0.0);
}
