//! A made-up outcome for the tests of this module: a ring in three jaws, squeezed into three lobes and bored.

pub mod tube;

use std::f64::consts::TAU;
use std::sync::Arc;

use crate::case::material::Class;
use crate::case::{
    Case, Chuck, Cut, Hold, Inspection, Material, Part, SectionThickness, Step, Tolerance,
};
use crate::geometry::{Outline, PerSurface, StockOutline, Surface};
use crate::mesh::Mesh;
use crate::process::{
    AfterCut, Balance, Caution, Contact, CutOutcome, Estimate, FieldState, GripOutcome, HeldState,
    Outcome, PROFILE_POINTS, Radii, Stage, StepOutcome, StressPlace, StressSummary, WallExtremes,
};
use crate::scheme::Placing;

pub const OUTER: f64 = 60.0;
pub const BORE: f64 = 57.0;
pub const BORED: f64 = 57.5;
/// Amplitude of the three lobes, mm.
pub const LOBE: f64 = 0.02;

pub fn sample_case() -> Case {
    let stock = PerSurface {
        outer: StockOutline::round(OUTER),
        bore: StockOutline::round(BORE),
    };
    Case {
        title: "Spacer ring </script><x> & \"co\"".into(),
        accuracy: 0.01,
        tolerance: Tolerance {
            roundness: Some(0.02),
            ..Tolerance::default()
        },
        inspection: Inspection::default(),
        part: Part {
            stock,
            length: 20.0,
            material: Material {
                name: "bronze".into(),
                class: Class::Metal,
                young_modulus: 105e3,
                poisson_ratio: 0.34,
                yield_strength: Some(125.0),
                density: None,
                cutting: None,
                thermal_expansion: None,
                long_time_modulus: None,
            },
            residual: None,
            measured: PerSurface::default(),
        },
        holds: vec![Hold {
            name: "bare".into(),
            members: Vec::new(),
        }],
        steps: vec![Step::new(
            "bare",
            vec![Cut::whole(Surface::Bore, 2.0 * BORED)],
        )],
        mesh: None,
        tube: None,
        chuck: Chuck::default(),
        section_thickness: SectionThickness::default(),
        assumed: vec!["round blank".into(), "rigid jaws".into()],
    }
}

fn radii(f: impl Fn(Surface, f64) -> f64) -> Radii {
    PerSurface::from_fn(|s| {
        (0..PROFILE_POINTS)
            .map(|k| f(s, TAU * k as f64 / PROFILE_POINTS as f64))
            .collect()
    })
}

fn contact(body: usize) -> Contact {
    let angle = 120.0 * (body - 1) as f64;
    Contact {
        called: "jaw".into(),
        gap: 0.0,
        round: false,
        set_force: Some(150.0),
        scheme: "jaws".into(),
        body,
        angle_deg: angle,
        surface: Surface::Outer,
        half_angle_deg: 9.6,
        force: 150.0,
        approach: 0.03,
        pressure_integral: 152.0,
        peak_pressure: None,
        edge_force_per_length: Some(3.7),
        pressure: vec![
            [angle - 9.6, 90.0],
            [angle - 9.4, 0.0],
            [angle + 9.4, 0.0],
            [angle + 9.6, 90.0],
        ],
        arcs: vec![[angle - 9.6, angle - 9.4], [angle + 9.4, angle + 9.6]],
    }
}

fn field(stage: Stage, bore: f64, lobe: f64) -> FieldState {
    let ends: Vec<f64> = (0..48).map(|k| TAU * f64::from(k) / 48.0).collect();
    let outlines = PerSurface {
        outer: Outline::round(OUTER),
        bore: Outline::round(bore),
    };
    let mesh =
        Mesh::build(&outlines, &ends, &[0.0, 0.5, 1.0], true).expect("a plain ring has a wall");
    // lobes that do not stretch the middle line: the tangent displacement balances the radial one
    let displacement = mesh
        .coords()
        .iter()
        .map(|p| {
            let t = p[1].atan2(p[0]);
            let (s, c) = t.sin_cos();
            let (ur, ut) = (-lobe * (3.0 * t).cos(), lobe / 3.0 * (3.0 * t).sin());
            [ur * c - ut * s, ur * s + ut * c]
        })
        .collect();
    let stress = mesh.coords().iter().map(|p| [p[0], p[1], 0.5]).collect();
    FieldState {
        stage,
        mesh: Arc::new(mesh),
        displacement,
        stress,
    }
}

/// Of a material that yields at 125 MPa.
fn stress(von_mises_away: f64) -> StressSummary {
    StressSummary {
        von_mises_max: None,
        von_mises_away,
        at: StressPlace {
            angle_deg: 60.0,
            radius: BORE,
            z: None,
            within_deg: 0.1,
        },
        yield_margin: Some(125.0 / von_mises_away - 1.0),
    }
}

fn bored() -> CutOutcome {
    CutOutcome {
        surface: Surface::Bore,
        diameter: 2.0 * BORED,
        cleaned_up: 1.0,
        depth_min: 0.48,
        depth_max: 0.52,
        stock_to_clean_up: 0.0,
        tool_dip: None,
    }
}

pub fn sample_outcome() -> Outcome {
    let nominal = |s| match s {
        Surface::Outer => OUTER,
        Surface::Bore => BORE,
    };
    let squeezed = |t: f64| -LOBE * (3.0 * t).cos();
    let shown = |t: f64, s: Surface| squeezed(t) * if s == Surface::Outer { 1.0 } else { 0.98 };
    Outcome {
        steps: vec![StepOutcome {
            hold: "bare".into(),
            placing: Placing::default(),
            from_squeeze: None,
            spindle: [0.0, 0.0],
            stock: radii(|s, _| nominal(s)),
            held: HeldState {
                shape: radii(|s, t| nominal(s) + shown(t, s)),
                displacement: PerSurface::from_fn(|s| {
                    let at = |k: u32| shown(f64::from(k).to_radians(), s);
                    (0..360).map(at).collect()
                }),
                contacts: (1..=3).map(contact).collect(),
                loads: Vec::new(),
                axial_force: 0.0,
                rigid_body_modes: vec!["turning about the axis".into()],
                stress: stress(25.0),
                energy: 179.58,
                balance: Balance {
                    force: 1e-10,
                    moment: 1e-9,
                },
            },
            cuts: vec![bored()],
            stress_between_cuts: Vec::new(),
            after_cut: Some(AfterCut {
                contacts: (1..=3).map(contact).collect(),
                stress: stress(40.0),
            }),
            cut: Some(radii(|s, t| match s {
                Surface::Outer => OUTER + squeezed(t),
                Surface::Bore => BORED,
            })),
            released: radii(|s, t| match s {
                Surface::Outer => OUTER + 0.0004 * (6.0 * t).cos(),
                Surface::Bore => BORED - squeezed(t) + 0.002 * (6.0 * t).cos(),
            }),
            wall: WallExtremes {
                min: 2.48,
                min_angle: 0.0,
                max: 2.52,
                max_angle: 60.0,
            },
            estimate: Estimate {
                quantity: "released out-of-roundness, bore".into(),
                relative_error: Some(0.004),
                absolute_error: Some(0.000_16),
                stress_relative_error: Some(0.01),
                converged: true,
            },
            errors: None,
            fields: vec![
                field(Stage::Held, BORE, LOBE),
                field(Stage::Cut, BORED, 1.2 * LOBE),
                field(Stage::Released, BORED, 0.0),
            ],
            mesh_size: [48, 2],
            tube: None,
            held_at_speed: None,
            grip: GripOutcome::default(),
        }],
        cautions: vec![Caution::NoSecondMesh { step: 0 }],
        advice: Vec::new(),
        clean_up: Vec::new(),
        long_time: None,
        inspection: None,
    }
}
