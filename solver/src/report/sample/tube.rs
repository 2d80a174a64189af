//! The ring made longer: a tube whose three lobes fade along a straight line from the gripped end, in jaws that press with their front
//! edge; and the same between plates.

use super::*;
use crate::case::Tube;
use crate::process::{
    CutAlong, GripAlong, MeridianField, NotChecked, PlatesOutcome, Station, TubeOutcome, TubeState,
};

/// Length of the tube, mm.
pub const LENGTH: f64 = 60.0;
/// How far the jaws reach from the gripped end, mm.
pub const GRIP: f64 = 20.0;
/// Where the jaws let go of its back, mm.
pub const CLEAR: f64 = 12.0;

/// The lobes at a position, as a share of those at the gripped end: a straight line that changes sign near the free end.
pub fn fading(z: f64) -> f64 {
    1.0 - 1.2 * z / LENGTH
}

pub fn tube_case() -> Case {
    let mut case = sample_case();
    case.part.length = LENGTH;
    case.tube = Some(Tube {
        stations: vec![0.0, 20.0, 40.0, 60.0],
        outline: None,
    });
    case
}

fn station(z: f64) -> Station {
    let (mut slice, share) = (sample_outcome().steps.remove(0), fading(z));
    let fade = |radii: &mut Radii| {
        for s in Surface::BOTH {
            let list = radii.get_mut(s);
            let mean = list.iter().sum::<f64>() / list.len() as f64;
            for r in list {
                *r = mean + share * (*r - mean);
            }
        }
    };
    fade(&mut slice.held.shape);
    fade(&mut slice.held.displacement);
    fade(&mut slice.released);
    Station {
        z,
        stock: slice.stock,
        held: slice.held.shape,
        held_displacement: slice.held.displacement,
        cut: slice.cut,
        released: slice.released,
        errors: None,
    }
}

fn grip() -> GripAlong {
    let line = |k: u32| {
        let z = 1.0 + 2.0 * f64::from(k);
        let force = if z < CLEAR {
            0.0
        } else {
            ((z - CLEAR) / 4.0).exp()
        };
        [z, 4.0 * force]
    };
    GripAlong {
        reach: [0.0, GRIP],
        centroid: Some(18.8),
        front_quarter: 0.98,
        front_tenth: 0.71,
        back_half: 0.0,
        touching: vec![[CLEAR, GRIP]],
        line_force: (0..10).map(line).collect(),
    }
}

fn state(stage: Stage, bore: f64, lobe: f64) -> TubeState {
    let z: Vec<f64> = (0..=12).map(|k| LENGTH * f64::from(k) / 12.0).collect();
    let angles = 72;
    let at = |k: usize| TAU * k as f64 / angles as f64;
    let grid = |f: &dyn Fn(f64, f64) -> [f64; 3]| {
        let rows = z.iter();
        rows.flat_map(|&z| (0..angles).map(move |k| f(z, at(k))))
            .collect::<Vec<_>>()
    };
    let moved = grid(&|z, t| {
        let w = lobe * fading(z);
        [-w * (3.0 * t).cos(), 1e-3, w / 3.0 * (3.0 * t).sin()]
    });
    let points = z.len() * angles;
    TubeState {
        stage,
        angles,
        reference: PerSurface {
            outer: vec![OUTER; points],
            bore: vec![bore; points],
        },
        displacement: PerSurface {
            outer: moved.clone(),
            bore: moved,
        },
        z,
    }
}

/// One element over the whole wall, in millimetres from the gripped end.
fn meridian(stage: Stage) -> MeridianField {
    let corners = [[BORE, 0.0], [OUTER, 0.0], [OUTER, LENGTH], [BORE, LENGTH]];
    let middle = |a: usize, b: usize| [0, 1].map(|k| 0.5 * (corners[a][k] + corners[b][k]));
    let middles = [middle(0, 1), middle(1, 2), middle(2, 3), middle(3, 0)];
    MeridianField {
        stage,
        angle_deg: 60.0,
        nodes: corners.into_iter().chain(middles).collect(),
        elements: vec![[0, 1, 2, 3, 4, 5, 6, 7]],
        boundary: crate::geometry::PerSurface::default(),
        displacement: vec![[0.01, 0.001, 0.002]; 8],
        stress: vec![[1.0, 2.0, 30.0, 4.0, 5.0, 6.0]; 8],
    }
}

pub fn tube_outcome() -> Outcome {
    let mut outcome = sample_outcome();
    let step = &mut outcome.steps[0];
    step.fields.clear();
    step.mesh_size = [24, 4];
    // what a cut leaves in the bore is what the hold bent the other way
    let mut bored = state(Stage::Released, BORED, -LOBE);
    // while the outside springs back
    bored.displacement.outer.fill([0.0; 3]);
    step.tube = Some(TubeOutcome {
        length: LENGTH,
        flipped: false,
        section: 0.0,
        stations: [0.0, 20.0, 40.0, 60.0].map(station).to_vec(),
        judged: PerSurface::default(),
        grips: vec![grip(); 3],
        grips_after_cut: vec![grip(); 3],
        along: vec![CutAlong {
            surface: Surface::Bore,
            reach: [0.0, LENGTH],
            taper: -0.004,
            barrel: 0.0012,
            range: 0.043,
            errors: Some([3e-5, 1e-5, 3e-4]),
        }],
        plates: None,
        states: vec![
            state(Stage::Held, BORE, LOBE),
            state(Stage::Cut, BORED, 1.2 * LOBE),
            bored,
        ],
        fields: [Stage::Held, Stage::Cut, Stage::Released]
            .map(meridian)
            .to_vec(),
        mesh_size: [24, 4],
        harmonics: 30,
    });
    outcome
}

/// The same tube between two plates, nothing else on it.
pub fn plates_outcome() -> Outcome {
    let mut outcome = tube_outcome();
    let step = &mut outcome.steps[0];
    step.held.contacts.clear();
    step.held.axial_force = 20e3;
    step.grip.torque.available = Some([104e3; 2]);
    step.grip.open.push(NotChecked::CuttingForce { cut: 0 });
    if let Some(after) = &mut step.after_cut {
        after.contacts.clear();
    }
    if let Some(tube) = &mut step.tube {
        tube.grips.clear();
        tube.grips_after_cut.clear();
        let bulge = (0..=12)
            .map(|k| {
                let x = f64::from(k) / 12.0;
                [LENGTH * x, 0.0054 * (std::f64::consts::PI * x).sin()]
            })
            .collect::<Vec<_>>();
        tube.plates = Some(PlatesOutcome {
            force: 20e3,
            friction: Some(0.15),
            sliding: false,
            approach: 0.019,
            bulge: PerSurface {
                outer: bulge.clone(),
                bore: bulge,
            },
            mean_pressure: [18.1, 18.1],
            friction_used: [0.061, 0.061],
            sliding_share: [0.0, 0.0],
            driven_face: [60.0, 57.0],
            torque: Some(104e3),
            buckling: Some([1.1e6, 310e3]),
            located: false,
        });
    }
    outcome
}
