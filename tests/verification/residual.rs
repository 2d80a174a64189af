//! Residual stress let out of rings, through the public interface of the solver: slit, turned off centre, bored.
//!
//! Stress of the stock: hoop `30 * 2 (r - rm) / t`, other components zero; bore 47.5, outside 52.5, E 70000, nu 0.33, length 20. Values: independent calculation (curved-beam
//! closed forms and own finite elements, two methods for most) with that set's own tolerances.

use std::f64::consts::TAU;

use ringwright_solver::contact::bore_means;
use ringwright_solver::element::{self, PlaneStress};
use ringwright_solver::geometry::{Outline, PerSurface, StockOutline, Surface};
use ringwright_solver::mesh::Mesh;
use ringwright_solver::metrology::{Harmonic, Profile, harmonics, least_squares_circle};
use ringwright_solver::series::Annulus;
use ringwright_tests::files::{self, harmonic, number};
use ringwright_tests::{body, q8, reference};

const BORE: f64 = 47.5;
const OUTER: f64 = 52.5;
const SKIN: f64 = 30.0;

const LAW: PlaneStress = PlaneStress {
    young_modulus: 70_000.0,
    poisson_ratio: 0.33,
    thickness: 20.0,
};

/// The ring slit, turned off centre, bored.
const SLIT: &str = "S7a1";
const TURNED_OFF_CENTRE: &str = "S7b1";
const BORED: &str = "S7c1";

/// The stock's stress at a point, Cartesian.
fn initial([x, y]: [f64; 2]) -> [f64; 3] {
    let r = x.hypot(y);
    let hoop = SKIN * 2.0 * (r - 0.5 * (BORE + OUTER)) / (OUTER - BORE);
    let (c, s) = (x / r, y / r);
    [hoop * s * s, hoop * c * c, -hoop * s * c]
}

fn relax(mesh: &Mesh, constraints: &[[usize; 2]]) -> Vec<[f64; 2]> {
    let mut load = vec![[0.0; 2]; mesh.nodes()];
    for (coords, nodes) in q8::elements(mesh) {
        let f = element::initial_stress_load(&LAW, &coords, &initial);
        for (n, f) in nodes.into_iter().zip(f) {
            load[n][0] += f[0];
            load[n][1] += f[1];
        }
    }
    body::solve(mesh, &LAW, constraints, &load)
}

/// A closed ring relaxed, its shift and turning taken off.
fn closed(outlines: &PerSurface<Outline>, layers: &[f64]) -> (Mesh, Vec<[f64; 2]>) {
    let mut ends = body::equal(0.0, TAU, 360);
    ends.pop();
    let mesh = Mesh::build(outlines, &ends, layers, true).unwrap();
    let u = settled(&mesh, relax(&mesh, &body::constraints(&mesh)));
    (mesh, u)
}

/// Takes off the bore's mean turn and shift.
fn settled(mesh: &Mesh, mut u: Vec<[f64; 2]>) -> Vec<[f64; 2]> {
    let spin: Vec<[f64; 2]> = mesh.coords().iter().map(|c| [-c[1], c[0]]).collect();
    let turn = bore_means(mesh, &u)[2] / bore_means(mesh, &spin)[2];
    for (v, s) in u.iter_mut().zip(&spin) {
        v[0] -= turn * s[0];
        v[1] -= turn * s[1];
    }
    let mean = bore_means(mesh, &u);
    for v in &mut u {
        v[0] -= mean[0];
        v[1] -= mean[1];
    }
    u
}

/// Mean radial displacement of a lattice row, mm.
fn mean_radial(mesh: &Mesh, u: &[[f64; 2]], row: usize) -> f64 {
    (0..mesh.around())
        .map(|c| body::radial(u[mesh.node(2 * c, row)], mesh.angles()[2 * c]))
        .sum::<f64>()
        / mesh.around() as f64
}

/// Hoop stress of pure bending of a curved bar, without its factor (Timoshenko and Goodier, *Theory of Elasticity*, art. 29, from memory).
fn curved_bar(r: f64) -> f64 {
    let (a, b) = (BORE, OUTER);
    -a * a * b * b / (r * r) * (b / a).ln() + b * b * (r / b).ln() + a * a * (a / r).ln() + b * b
        - a * a
}

/// The skin in tension opens a slit ring.
/// Truth: analytical, other program; curved bar, and finite elements written apart from these
#[test]
fn s7a_a_slit_ring_opens() {
    let (through, around) = (8, 240);
    let mesh = Mesh::build(
        &body::round(BORE, OUTER),
        &body::equal(0.0, TAU, around),
        &body::equal(0.0, 1.0, through),
        false,
    )
    .unwrap();
    let across = mesh.node(around, 0);
    let constraints = [
        [across, 0],
        [across, 1],
        [mesh.node(around, 2 * through), 1],
    ];
    let u = relax(&mesh, &constraints);
    let (last, rows) = (2 * around, 2 * through);
    let lip = |j: usize| u[mesh.node(0, j)][1] - u[mesh.node(last, j)][1];
    let weighted = {
        // Simpson's rule over the layers
        let (mut gap, mut arm) = (0.0, 0.0);
        for l in 0..through {
            for (k, w) in [(0, 1.0), (1, 4.0), (2, 1.0)] {
                let j = 2 * l + k;
                let r = BORE + mesh.layers()[j] * (OUTER - BORE);
                gap += w * curved_bar(r) * lip(j);
                arm += w * curved_bar(r) * r;
            }
        }
        gap / arm
    };
    let radial =
        |line: usize, row: usize| body::radial(u[mesh.node(line, row)], mesh.angles()[line]);
    let diameter = |quarter: bool, row: usize| {
        if quarter {
            radial(around / 2, row) + radial(3 * around / 2, row)
        } else {
            0.5 * (radial(0, row) + radial(last, row)) + radial(around, row)
        }
    };
    let (ring, relaxed) = closed(&body::round(BORE, OUTER), &body::equal(0.0, 1.0, 8));
    // the thin-ring rules of the set are its own arithmetic
    let slit = reference::section(SLIT).only(|name| !name.starts_with("thin_"));
    slit.compare(|name| match name {
        "opening_angle_weighted" => weighted,
        "closed_ur_od" => mean_radial(&ring, &relaxed, 16),
        "closed_ur_bore" => mean_radial(&ring, &relaxed, 0),
        "gap_od" => lip(rows),
        "gap_bore" => lip(0),
        "gap_midwall" => lip(through),
        "dod_perp" => diameter(true, rows),
        "dod_along" => diameter(false, rows),
        "dbore_perp" => diameter(true, 0),
        "dbore_along" => diameter(false, 0),
        _ => panic!("{name} is not known"),
    });
    // the thin-ring rule of the trade for the same strip: 4 pi S R / (E t) of mean radius (derived: curvature change 2 S / (E t) over a turn)
    let thin = 2.0 * SKIN / (70_000.0 * 5.0) * TAU * 50.0 * 50.0;
    assert!(
        (lip(through) / thin - 1.0).abs() < 2e-3,
        "{} {thin}",
        lip(through)
    );
}

/// A measured surface: its least-squares circle and its lobes by the angle about the circle's centre.
struct Measured {
    centre: [f64; 2],
    radius: f64,
    roundness: f64,
    lobes: Vec<Harmonic>,
}

/// Measures the moved points of a surface, as an instrument would: about the centre of their circle, by the angle about that centre. On a part 0.2 mm off centre the
/// lobes by reference angle, which the program's documents give, differ from these by 1e-6 mm.
fn measure(mesh: &Mesh, u: &[[f64; 2]], surface: Surface) -> Measured {
    let points: Vec<[f64; 2]> = mesh
        .boundary(surface)
        .iter()
        .map(|&n| [0, 1].map(|k| mesh.coords()[n][k] + u[n][k]))
        .collect();
    let about = |centre: [f64; 2]| -> (Vec<f64>, Vec<f64>) {
        points
            .iter()
            .enumerate()
            .map(|(k, p)| {
                let (x, y) = (p[0] - centre[0], p[1] - centre[1]);
                // the first point lies on the x axis to rounding
                let angle = y.atan2(x);
                (if k == 0 { 0.0 } else { angle.rem_euclid(TAU) }, x.hypot(y))
            })
            .unzip()
    };
    let (angles, radii) = about([0.0; 2]);
    let circle = least_squares_circle(&Profile::new(&angles, &radii).unwrap());
    let (angles, radii) = about(circle.centre);
    Measured {
        centre: circle.centre,
        radius: circle.radius,
        roundness: circle.roundness,
        lobes: harmonics(&Profile::new(&angles, &radii).unwrap(), [0.0; 2], 8),
    }
}

/// The outline cut in the stress-free reference and relaxed.
/// Truth: other program; finite elements written apart from these
#[test]
fn s7b_a_ring_turned_off_centre_bends() {
    let outlines = PerSurface {
        outer: Outline::Stock(StockOutline {
            centre: [0.2, 0.0],
            ..StockOutline::round(52.0)
        }),
        bore: Outline::round(BORE),
    };
    let (mesh, u) = closed(&outlines, &body::equal(0.0, 1.0, 4));
    let measured = PerSurface::from_fn(|s| measure(&mesh, &u, s));
    reference::section(TURNED_OFF_CENTRE).compare(|name| {
        if name == "eccentricity_od_minus_bore" {
            return measured.outer.centre[0] - measured.bore.centre[0];
        }
        let (surface, what) = name.split_once('_').unwrap();
        let shape = measured.get(if surface == "od" {
            Surface::Outer
        } else {
            Surface::Bore
        });
        match what.strip_prefix("harm_") {
            Some(n) => {
                let lobe = shape.lobes[n.parse::<usize>().unwrap() - 1];
                lobe.amplitude * (f64::from(lobe.count) * lobe.angle_deg.to_radians()).cos()
            }
            None if what == "oor" => shape.roundness,
            None => shape.radius,
        }
    });
}

/// A concentric bore changes the size, not the lobing.
/// Truth: other program; finite elements written apart from these
#[test]
fn s7c_a_concentric_bore_changes_the_size_alone() {
    // a row of nodes at the new bore: half of the metal's tenth
    let (stock, before) = closed(&body::round(BORE, OUTER), &[0.0, 0.1, 0.4, 0.7, 1.0]);
    let (bored, after) = closed(&body::round(48.0, OUTER), &body::equal(0.0, 1.0, 4));
    let outside = |mesh: &Mesh, u: &[[f64; 2]]| mean_radial(mesh, u, 2 * mesh.through());
    let (od0, od1) = (outside(&stock, &before), outside(&bored, &after));
    let bore1 = mean_radial(&bored, &after, 0);
    reference::section(BORED).compare(|name| match name {
        "dOD" => 2.0 * (od1 - od0),
        "bore_diameter_shift" => 2.0 * (bore1 - mean_radial(&stock, &before, 2)),
        "u_od_uncut" => od0,
        "u_od_bored" => od1,
        "u_bore_bored" => bore1,
        _ => panic!("{name} is not known"),
    });
    let radii: Vec<f64> = bored
        .boundary(Surface::Outer)
        .iter()
        .zip(bored.angles())
        .map(|(&n, &t)| OUTER + body::radial(after[n], t))
        .collect();
    let lobing = least_squares_circle(&Profile::equal(&radii)).roundness;
    assert!(lobing < 1e-6 * (od1 - od0).abs(), "{lobing:e}");
}

/// The stock as a case file has it, with the stress of its two skins, and what follows.
fn stressed(outer: f64, bore: f64, rest: &str) -> files::Solved {
    let stress = format!("[part.residual_hoop_stress]\nouter = {outer:?}\nbore = {bore:?}\n");
    files::solve(&(files::ring(BORE, OUTER, 70_000.0, 0.33, 20.0) + &stress + rest))
}

/// Whole runs on a stressed ring that nothing holds: as it is, bored, turned off centre. The program cuts the relaxed ring to size, the values above are for a reference cut to
/// size. A bore moves by 2 microns in half a millimetre, so one percent is allowed; turned off centre the lobes themselves are taken off again while they grow, which makes them a tenth
/// larger, so the field there is held against the relaxation of the same body by the means of this file.
/// Truth: other program; finite elements written apart from these
#[test]
fn runs_of_stressed_rings() {
    let value = |id: &str, name: &str| reference::section(id).output(name).value;
    let near = |found: f64, exact: f64, relative: f64| {
        assert!((found / exact - 1.0).abs() < relative, "{found} {exact}");
    };
    let bored = "[[step]]\nhold = \"free\"\n[[step.cut]]\nsurface = \"bore\"\ndiameter = 96.0\n";
    let run = stressed(SKIN, -SKIN, bored);
    let step = &run.outcome.steps[0];
    // the stock as it lies is the drawing's, everywhere alike: the ring stays about its axis
    for (r, nominal) in [(&step.stock.outer, OUTER), (&step.stock.bore, BORE)] {
        assert!(r.iter().all(|r| (r - nominal).abs() < 2e-6), "{}", r[0]);
    }
    for (r, held) in step.released.bore.iter().zip(&step.held.shape.bore) {
        assert!((r - 48.0).abs() < 1e-6, "{r}");
        assert!((held - BORE).abs() < 2e-6);
    }
    // the closed form of what a ring of the drawing's size would settle by, which the reference is smaller by
    let ring = Annulus {
        inner_radius: BORE,
        outer_radius: OUTER,
        young_modulus: 70_000.0,
        poisson_ratio: 0.33,
        length: 20.0,
    };
    let smaller = ring.settled(SKIN, -SKIN);
    near(smaller.outer, value(SLIT, "closed_ur_od"), 1e-6);
    near(smaller.bore, value(SLIT, "closed_ur_bore"), 1e-6);
    // and in the values for a bored ring the reference has the drawing's size
    let before = smaller.outer;
    for r in &step.released.outer {
        near(r - OUTER, value(BORED, "u_od_bored") - before, 0.01);
    }
    let turned = "[[step]]\nhold = \"free\"\nspindle_offset = { distance = 0.2, angle = 0 }\n\
                  [[step.cut]]\nsurface = \"outer\"\ndiameter = 104.0\n";
    let run = stressed(SKIN, -SKIN, turned);
    let released = &run.json["steps"][0]["released"];
    let two = value(TURNED_OFF_CENTRE, "bore_harm_2");
    near(harmonic(&released["bore"], 2), two, 0.15);
    let field = run.outcome.steps[0].fields.last().unwrap();
    let relaxed = settled(
        &field.mesh,
        relax(&field.mesh, &body::constraints(&field.mesh)),
    );
    for (u, v) in relaxed.iter().zip(&field.displacement) {
        assert!((u[0] - v[0]).hypot(u[1] - v[1]) < 1e-8, "{u:?} {v:?}");
    }
    // free, the tool leaves its circle
    assert!(number(&released["outer"], "/roundness_least_squares") < 1e-5);
    let other = stressed(-SKIN, SKIN, turned);
    near(
        harmonic(&other.json["steps"][0]["released"]["bore"], 2),
        -two,
        0.15,
    );
}

/// Stress that is in the ring changes neither where jaws first touch the free ring nor how far they move from there, but for the 2e-6 of its size. (Clapeyron: the ring is linear, and
/// what the stress does it does before the jaws come.)
/// Truth: invariance
#[test]
fn stress_does_not_change_the_approach_of_jaws() {
    let hold = "[[hold.h]]\nscheme = \"jaws\"\ncount = 3\nforce = 500.0\nbored_diameter = 110.25\nwidth = 20.0\n\
                [[step]]\nhold = \"h\"\n[mesh]\naround = 720\nthrough = 4\n";
    let approach = |stress: f64| {
        let run = stressed(stress, -stress, hold);
        number(&run.json, "/steps/0/held/contacts/0/approach")
    };
    let (plain, much) = (approach(0.0), approach(100.0));
    assert!((much / plain - 1.0).abs() < 1e-4, "{much} {plain}");
}
