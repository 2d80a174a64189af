//! Broken on purpose: the bound of the unresolved contact, halved.
#![allow(clippy::unwrap_used)]

use std::cell::Cell;

use crate::case::{Case, CaseBuilder, FixedMesh, Step};
use crate::geometry::Surface;
use crate::process::sample::roundness;
use crate::process::testing::EqualJaws;
use crate::process::{KeepFields, Method, Options, StepOutcome, run};
use crate::scheme::{Drive, Face, Registry};

thread_local! {
    /// What the bound is multiplied by in this thread, and the last one met, mm.
    static SPOILT: Cell<(f64, f64)> = const { Cell::new((1.0, 0.0)) };
}

/// Multiplies the bound by what the test asks for.
pub(super) fn spoilt(bound: f64) -> f64 {
    let (share, _) = SPOILT.get();
    SPOILT.set((share, bound));
    share * bound
}

/// A ring with a wall of a fifth of its radius in three jaws of 1600 N.
fn case(half_angle: f64, face: Face) -> Case {
    let case = CaseBuilder::ring(100.0, 80.0, 20.0, "aluminium 6061-T6")
        .step(Step::held_by("free"))
        .build(&Registry::default())
        .unwrap();
    let jaws = EqualJaws {
        half_angle,
        face,
        drive: Drive::equal_force(3, 1600.0),
    };
    jaws.holding(case)
}

fn solved(case: &Case) -> StepOutcome {
    let options = Options {
        fields: KeepFields::None,
        estimate: true,
        method: Method::MeanRing,
        advice: true,
    };
    run(case, &options).unwrap().steps.remove(0)
}

/// Pads of two widths, bored 0.3 mm under the part so that they bear on their edges, and crowned ones; meshes whose elements are too wide to show how far in,
/// or how deep: what is stated of the error is mostly the bounds of where in its element the force lies and of the dent under it.
const BORED: Face = Face::Concave { radius: 49.7 };
const CROWNED: Face = Face::Convex { radius: 10.0 };
const UNRESOLVED: [(f64, Face, &[usize]); 4] = [
    (0.12, BORED, &[72, 120, 180, 240]),
    (0.25, BORED, &[72, 120, 180, 240, 300]),
    (0.03, CROWNED, &[72, 120, 180, 240]),
    (0.06, CROWNED, &[72, 120]),
];

/// How many of these cases are off from the same ring on the series by no more than is stated, with so much of the bound, and how many there
/// are.
fn inside(share: f64) -> (usize, usize) {
    let (mut inside, mut all) = (0, 0);
    for (half_angle, face, meshes) in UNRESOLVED {
        let mut case = case(half_angle, face);
        case.accuracy = 1e-3;
        let truth = solved(&case);
        for &around in meshes {
            case.mesh = Some(FixedMesh { around, through: 4 });
            SPOILT.set((share, 0.0));
            let found = solved(&case);
            let (_, bound) = SPOILT.replace((1.0, 0.0));
            let stated = found.estimate.absolute_error.unwrap();
            assert!(
                share * bound > 0.5 * stated,
                "{half_angle} {around}: {bound:e} of {stated:e} is no case of this"
            );
            let off = |s: Surface| {
                let [a, b] = [&found, &truth].map(|f| roundness(f.held.shape.get(s)));
                (a - b).abs()
            };
            let error = off(Surface::Outer).max(off(Surface::Bore));
            inside += usize::from(error <= stated);
            all += 1;
        }
    }
    (inside, all)
}

/// The bound covers what an unresolved force does to the shape, and half of it does not: the dents under the crowned pads need 0.71 to 0.88 of it.
#[test]
fn half_the_bound_of_an_unresolved_contact_does_not_cover_it() {
    let (covered, all) = inside(1.0);
    assert_eq!(covered, all, "with the whole bound");
    let (covered, all) = inside(0.5);
    assert!(covered < all, "half of the bound covers all {all} too");
}
