//! The slit test: closed forms against independently computed rows, and the linear stress against rings slit in finite elements.

use std::f64::consts::TAU;

use ringwright_solver::element::{self, PlaneStress};
use ringwright_solver::mesh::Mesh;
use ringwright_solver::series::{
    Annulus, SlitRing, opening_from_diameters, opening_from_gap, thin_stress,
};
use ringwright_tests::{body, files, q8};

fn annulus(inner_radius: f64, outer_radius: f64) -> Annulus {
    Annulus {
        inner_radius,
        outer_radius,
        young_modulus: 200_000.0,
        poisson_ratio: 0.3,
        length: 10.0,
    }
}

/// One ring of the reference set: bore radius, opening in degrees, moment, hoop stress at bore and outside, mean radius
/// opened, thin rule. Outside 50, E 200000.
struct Row(f64, f64, f64, f64, f64, f64, f64);

/// Independent calculation (Volterra wedge with Golovin bending; force and moment balance of that field verified there).
const ROWS: [Row; 5] = [
    Row(
        49.0,
        2.0,
        -1.870531978,
        -11.29930745,
        11.14814512,
        49.77653631,
        11.22334456,
    ),
    Row(
        45.0,
        2.0,
        -243.574632,
        -60.58781086,
        56.47942876,
        47.76536313,
        58.47953216,
    ),
    Row(
        45.0,
        0.5,
        -60.893658,
        -15.14695272,
        14.11985719,
        47.56606398,
        14.61988304,
    ),
    Row(
        40.0,
        2.0,
        -2054.211128,
        -133.159109,
        114.7781702,
        45.25139665,
        123.4567901,
    ),
    Row(
        30.0,
        2.0,
        -18360.64574,
        -331.2944857,
        236.2895407,
        40.22346369,
        277.7777778,
    ),
];

/// Truth: other program; the closed forms written apart from these
#[test]
fn closed_forms_meet_the_reference_rows() {
    for Row(ri, deg, moment, inner, outer, opened, thin) in ROWS {
        let near = |found: f64, exact: f64| {
            assert!(
                (found / exact - 1.0).abs() < 1e-8,
                "ri {ri}: {found} {exact}"
            );
        };
        let slit = SlitRing {
            annulus: annulus(ri, 50.0),
            opening: f64::to_radians(deg),
        };
        near(slit.moment(), moment);
        near(slit.stress(ri)[1], inner);
        near(slit.stress(50.0)[1], outer);
        near(slit.mean_radius_after(), opened);
        let (before, after) = (ri + 50.0, 2.0 * slit.mean_radius_after());
        near(thin_stress(200_000.0, 50.0 - ri, before, after), thin);
        near(opening_from_diameters(before, after), slit.opening);
    }
}

/// The field is in equilibrium, carries no force, and its moment is the one told (Simpson's rule and differences).
/// Truth: analytical
#[test]
fn the_exact_field_balances() {
    for ri in [20.0, 45.0, 49.9] {
        let slit = SlitRing {
            annulus: annulus(ri, 50.0),
            opening: 0.03,
        };
        let (n, mut force, mut moment) = (2000, 0.0, 0.0);
        let step = (50.0 - ri) / f64::from(n);
        for k in 0..=n {
            let r = ri + step * f64::from(k);
            let w = step / 3.0
                * if k == 0 || k == n {
                    1.0
                } else {
                    f64::from(2 + 2 * (k % 2))
                };
            force += w * slit.stress(r)[1];
            moment -= w * slit.stress(r)[1] * r;
        }
        let size = slit.stress(50.0)[1] * (50.0 - ri);
        assert!(force.abs() < 1e-9 * size, "{ri}: {force}");
        assert!(
            (moment / slit.moment() - 1.0).abs() < 1e-7,
            "{ri}: {moment} {}",
            slit.moment()
        );
        for r in [ri, 50.0] {
            assert!(
                slit.stress(r)[0].abs() < 1e-10 * slit.stress(50.0)[1],
                "{ri} {r}"
            );
        }
        let (r, h) = (0.5 * (ri + 50.0), 1e-4 * (50.0 - ri));
        let [low, high] = [r - h, r + h].map(|r| slit.stress(r)[0]);
        let slope = (high - low) / (2.0 * h);
        let [radial, hoop] = slit.stress(r);
        let left = r * slope + radial - hoop;
        assert!(left.abs() < 1e-6 * slit.stress(50.0)[1], "{ri}: {left}");
    }
}

/// A gap made from an opening gives the opening back; drawn out by the geometry of an arc whose middle keeps its length.
/// Truth: analytical
#[test]
fn a_gap_tells_the_opening() {
    let ring = annulus(45.0, 50.0);
    for deg in [-3.0, -0.2, 0.0, 0.5, 2.0, 60.0_f64] {
        for saw in [0.0, 0.5, 6.0] {
            // the metal left turns through its share of its arc
            let arc = TAU - 2.0 * (0.5 * saw / 50.0_f64).asin();
            let share = 1.0 - deg.to_radians() / TAU;
            let gap = 2.0 * (47.5 / share + 2.5) * (0.5 * (TAU - arc * share)).sin();
            if gap < 0.0 {
                continue;
            }
            let found = opening_from_gap(&ring, gap, saw).unwrap();
            assert!(
                (found - deg.to_radians()).abs() < 1e-12,
                "{deg} {saw}: {found}"
            );
        }
    }
    assert!(opening_from_gap(&ring, 95.0, 0.0).is_none());
}

/// How far a ring with stress `skin` outside and `-skin` in the bore opens when slit, by finite elements: the turn of the ring's
/// middle, read at sections a quarter turn off the slit so that the lips' own warping has died away, scaled to the whole turn.
fn opened(ring: &Annulus, skin: f64, around: usize, through: usize) -> f64 {
    let law = PlaneStress {
        young_modulus: ring.young_modulus,
        poisson_ratio: ring.poisson_ratio,
        thickness: ring.length,
    };
    let (ri, ro) = (ring.inner_radius, ring.outer_radius);
    let mesh = Mesh::build(
        &body::round(ri, ro),
        &body::equal(0.0, TAU, around),
        &body::equal(0.0, 1.0, through),
        false,
    )
    .unwrap();
    let initial = |[x, y]: [f64; 2]| {
        let r = x.hypot(y);
        let hoop = skin * (2.0 * r - ri - ro) / (ro - ri);
        let (c, s) = (x / r, y / r);
        [hoop * s * s, hoop * c * c, -hoop * s * c]
    };
    let mut load = vec![[0.0; 2]; mesh.nodes()];
    for (coords, nodes) in q8::elements(&mesh) {
        let f = element::initial_stress_load(&law, &coords, &initial);
        for (n, f) in nodes.into_iter().zip(f) {
            load[n][0] += f[0];
            load[n][1] += f[1];
        }
    }
    let back = mesh.node(around, 0);
    let u = body::solve(
        &mesh,
        &law,
        &[[back, 0], [back, 1], [mesh.node(around, 2 * through), 1]],
        &load,
    );
    let turn = |line: usize| {
        let hoop = |j: usize| {
            let (s, c) = mesh.angles()[line].sin_cos();
            let v = u[mesh.node(line, j)];
            c * v[1] - s * v[0]
        };
        (hoop(2 * through) - hoop(0)) / (ro - ri)
    };
    // between 90 and 270 degrees lies half of the turn
    2.0 * (turn(around / 2) - turn(3 * around / 2))
}

/// The linear stress opens a ring slit in finite elements by the angle it was worked out from; the error falls with the mesh.
/// Truth: analytical; a reciprocal theorem, tried on finite elements
#[test]
fn the_linear_stress_opens_a_slit_ring_as_far() {
    for ri in [49.0, 45.0, 40.0, 30.0, 15.0] {
        let slit = SlitRing {
            annulus: annulus(ri, 50.0),
            opening: 2.0_f64.to_radians(),
        };
        let skin = slit.linear_stress();
        // columns about as long as the wall is thick
        let around = 2 * ((std::f64::consts::PI * (ri + 50.0) / (50.0 - ri)) as usize / 2).max(48);
        let miss =
            |k: usize| (opened(&slit.annulus, skin, k * around, 4 * k) / slit.opening - 1.0).abs();
        let (coarse, fine) = (miss(1), miss(2));
        assert!(fine < 1e-4, "{ri}: {fine:e}");
        assert!(
            fine < 0.1 * coarse || fine < 1e-9,
            "{ri}: {coarse:e} {fine:e}"
        );
    }
}

/// Case files: the three ways to type one test give one stress, and the words say what was found and what is used.
/// Truth: analytical; by construction of the input
#[test]
fn a_case_takes_a_slit_test() {
    let stress = |slit: &str| {
        let ring = files::ring(45.0, 50.0, 200_000.0, 0.3, 10.0);
        let text = format!(
            "{ring}residual_hoop_stress = {{ slit = {{ {slit} }} }}\n[[step]]\nhold = \"free\"\n"
        );
        let case = files::read(&text);
        (case.part.residual.unwrap(), case.assumed)
    };
    let slit = SlitRing {
        annulus: annulus(45.0, 50.0),
        opening: 2.0_f64.to_radians(),
    };
    let middle = 2.0 * slit.mean_radius_after();
    let gap = 2.0 * (0.5 * middle + 2.5) * 1.0_f64.to_radians().sin();
    for typed in [
        format!(
            "diameter_before = 100.0, diameter_after = {:?}",
            middle + 5.0
        ),
        format!(
            "diameter_before = 90.0, diameter_after = {:?}, surface = \"bore\"",
            middle - 5.0
        ),
        format!("diameter_before = 95.0, diameter_after = {middle:?}, surface = \"mean\""),
        format!("gap = {gap:?}"),
    ] {
        let (residual, assumed) = stress(&typed);
        assert!(
            (residual.outer / slit.linear_stress() - 1.0).abs() < 1e-9,
            "{typed}: {residual:?}"
        );
        assert_eq!(residual.bore, -residual.outer);
        let words = assumed.iter().find(|a| a.starts_with("slit test")).unwrap();
        for figure in ["opened by 2.00 deg", "58.48", "56.48", "-60.59"] {
            assert!(words.contains(figure), "{words}");
        }
        let used = slit.linear_stress();
        let figures = format!(
            "used: linear through the wall, {used:.2} outside and {:.2} in the bore",
            -used
        );
        assert!(words.contains(&figures), "{words}");
    }
    assert_eq!(
        stress("diameter_before = 100, diameter_after = 100")
            .0
            .outer,
        0.0
    );
    assert!(
        stress("diameter_before = 100, diameter_after = 99.5")
            .0
            .outer
            < 0.0
    );
    assert!(stress("gap = 1.0, saw_width = 2.0").0.outer < 0.0);
    // more than the metal can hold elastically is taken, and said
    let yielding = |strength: f64| {
        let ring = files::ring(45.0, 50.0, 200_000.0, 0.3, 10.0)
            .replace(" }", &format!(", yield_strength = {strength} }}"));
        let slit = "diameter_before = 100, diameter_after = 100.5";
        files::read(&format!(
            "{ring}residual_hoop_stress = {{ slit = {{ {slit} }} }}\n[[step]]\nhold = \"free\"\n"
        ))
        .assumed
        .iter()
        .any(|a| a.contains("more than the yield strength"))
    };
    assert!(yielding(50.0) && !yielding(60.0));
}

/// A wall of a ten-millionth of the radius: the differences of nearly equal terms keep their digits, and the thin rule is the limit.
/// Truth: analytical
#[test]
fn the_thinnest_wall_meets_the_thin_rule() {
    let opening = 0.01;
    let slit = SlitRing {
        annulus: annulus(999.9999, 1000.0),
        opening,
    };
    let middle = 1999.9999;
    let thin = thin_stress(200_000.0, 0.0001, middle, middle / (1.0 - opening / TAU));
    let near =
        |found: f64, wanted: f64| assert!((found / wanted - 1.0).abs() < 1e-4, "{found} {wanted}");
    near(slit.linear_stress(), thin);
    // bending of a flat strip: moment per length of wall^2 / 6 times the stress at its face
    near(slit.moment(), -thin * 1e-8 / 6.0);
}
