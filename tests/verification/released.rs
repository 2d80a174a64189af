//! The error estimate of the *released* shape against the truth: random rings held, cut and released.
//!
//! Superposition: without residual stress a cut surface is left where the tool's circle maps back to, so the released surface is the circle less
//! the radial displacement of the *finished* ring in the hold. That ring is round to first order; the answer here is of second order in
//! displacement over wall: the finished ring's own shape changes its displacement by that of a round ring which carries, on the cut
//! surface, what a layer `h` of metal under the hoop stress `s` would have carried there, `s_rr = -h s / r` and `s_rt = (h s)' / r`
//! (equilibrium of the layer, derived here). Displacements and stresses of the round ring are those of the exact series, under jaws of the
//! oracle's contact. No finite element is involved.

use std::f64::consts::{PI, TAU};

use rayon::prelude::*;
use ringwright_plugins::PressurePatches;
use ringwright_solver::case::Case;
use ringwright_solver::geometry::Surface;
use ringwright_solver::metrology::{Profile, least_squares_circle};
use ringwright_solver::process::run;
use ringwright_solver::scheme::{Face, Value, Values};
use ringwright_tests::oracle::series::{Annulus, HarmonicField, RadialLoad, Response, Traction};
use ringwright_tests::random::Random;
use ringwright_tests::{cases, oracle};

/// Rings tried.
const RINGS: usize = 60;

/// How far off the answer of second order may itself be, as a share: under patches on a wall of 0.23 of the radius it differs by `2e-5` from where fine
/// meshes and the program agree to `3e-7`.
const SECOND_ORDER: f64 = 2.5e-5;

/// Pads wrapped further than this are left out: where a pad dictates the ring's shape, its pressure follows the finished ring's own, and what a round ring tells is
/// off by several times displacement over wall (seen: 3.1e-3 to 5.2e-2, doubling with every doubling of oversize and force together, so it is not the mesh's).
const MOST_OF_A_PAD: f64 = 0.5;

/// Radial displacement (mm) and hoop stress (MPa) of the surface to be cut of the finished round ring, held, at [`oracle::READINGS`] angles.
struct Held {
    displacement: Vec<f64>,
    hoop: Vec<f64>,
}

/// Fills a turn from half a pitch: `count` equal loads, the first at 0, each its own mirror image.
fn by_symmetry(count: u32, half_pitch: &[f64]) -> Vec<f64> {
    let pitch = (oracle::READINGS / count) as usize;
    (0..oracle::READINGS as usize)
        .map(|k| {
            let within = k % pitch;
            half_pitch[within.min(pitch - within)]
        })
        .collect()
}

/// The angles of half a pitch, rad.
fn half_pitch(count: u32) -> Vec<f64> {
    (0..=oracle::READINGS / (2 * count))
        .map(|k| TAU * f64::from(k) / f64::from(oracle::READINGS))
        .collect()
}

fn under_patches(ring: &Annulus, count: u32, loads: &[RadialLoad], cut: Surface) -> Held {
    // what is left out has died away through the wall
    let most = (40.0 / ring.half_log_wall()).min(6000.0) as u32;
    let circle = Response::new(ring, loads, most).circle(ring.radius(cut));
    let states: Vec<_> = half_pitch(count)
        .into_iter()
        .map(|t| circle.at(t))
        .collect();
    let of = |f: fn(&ringwright_tests::oracle::series::PointState) -> f64| {
        by_symmetry(count, &states.iter().map(f).collect::<Vec<_>>())
    };
    Held {
        displacement: of(|s| s.radial_displacement),
        hoop: of(|s| s.hoop_stress),
    }
}

fn under_jaws(answer: &oracle::Answer, count: u32, cut: Surface) -> Held {
    let angles = half_pitch(count);
    Held {
        displacement: by_symmetry(count, &answer.displacements(cut, &angles)),
        hoop: by_symmetry(count, &answer.free_hoop_stress(&angles)),
    }
}

/// Released out-of-roundness of the cut surface, mm.
fn released(ring: &Annulus, count: u32, cut: Surface, held: &Held) -> f64 {
    let (r, n) = (ring.radius(cut), held.displacement.len());
    // the layer that the finished ring has more than the round one: what the displacement takes off
    let carried: Vec<f64> = held
        .displacement
        .iter()
        .zip(&held.hoop)
        .map(|(u, s)| -u * s / r)
        .collect();
    let mut own_shape = vec![0.0; n];
    for multiple in 0..=60 / count {
        let lobes = multiple * count;
        let angle = |k: usize| TAU * (lobes as usize * k % n) as f64 / n as f64;
        let share = if lobes == 0 { 1.0 } else { 2.0 } / n as f64;
        let coefficient = share * (0..n).map(|k| carried[k] * angle(k).cos()).sum::<f64>();
        let traction = Traction {
            radial: -coefficient,
            tangential: -f64::from(lobes) * coefficient,
        };
        let (outer, bore) = match cut {
            Surface::Outer => (traction, Traction::default()),
            Surface::Bore => (Traction::default(), traction),
        };
        let amplitude = HarmonicField::new(ring, lobes, outer, bore)
            .at(r)
            .radial_displacement;
        for (k, u) in own_shape.iter_mut().enumerate() {
            *u += amplitude * angle(k).cos();
        }
    }
    let left: Vec<f64> = (0..n)
        .map(|k| {
            let u = held.displacement[k];
            // the surface lies `-u` off the circle, where the radial strain of a free surface is `-nu s / E`
            let off_the_circle = u * ring.poisson_ratio * held.hoop[k] / ring.young_modulus;
            r - (u + off_the_circle + own_shape[k])
        })
        .collect();
    least_squares_circle(&Profile::equal(&left)).roundness
}

/// Largest less smallest.
fn spread(values: &[f64]) -> f64 {
    values.iter().fold(f64::MIN, |m, v| m.max(*v)) - values.iter().fold(f64::MAX, |m, v| m.min(*v))
}

/// A ring to be held, cut on the surface that is not gripped, and let go.
struct Trial {
    kind: &'static str,
    case: Case,
    cut: Surface,
    exact: f64,
    says: String,
}

fn trial(ring: usize, random: &mut impl FnMut(f64, f64) -> f64) -> Trial {
    let ro = random(20.0, 150.0);
    let wall = ro * 10_f64.powf(random(-1.6, -0.5));
    let depth = wall * random(0.05, 0.6);
    let count = [2, 3, 4, 6][random(0.0, 3.999) as usize];
    let half_angle = (random(0.1, 0.9) * PI / f64::from(count)).min(1.4);
    let cut = if ring % 4 == 1 {
        Surface::Outer
    } else {
        Surface::Bore
    };
    let stock = Annulus {
        inner_radius: ro - wall - if cut == Surface::Bore { depth } else { 0.0 },
        outer_radius: ro + if cut == Surface::Outer { depth } else { 0.0 },
        young_modulus: 105e3,
        poisson_ratio: 0.34,
        length: 10.0,
    };
    let finished = Annulus {
        inner_radius: ro - wall,
        outer_radius: ro,
        ..stock
    };
    // out of round by 1e-4 to 2e-3 of its wall, and by enough of its radius to be judged
    let n = f64::from(count);
    let mut wanted = (wall * 10_f64.powf(random(-4.0, -2.7))).max(8e-5 * ro);
    let mut force = 105e3 * 10.0 * wall.powi(3) / ro.powi(3) * wanted;
    let patches = ring % 4 < 2;
    let exact = ro * [0.99, 1.0][random(0.0, 1.999) as usize];
    let mut rho = if ring % 4 == 2 {
        exact
    } else {
        ro * (1.0 + random(0.01, 0.08))
    };
    let gripped = cut.other();
    let jaws = |annulus, rho, force| oracle::Jaws {
        annulus,
        count,
        surface: Surface::Outer,
        half_angle,
        face: Face::Concave { radius: rho },
        force,
    };
    // the kind of contact, how much of the pad it takes, and the finished ring in it
    let hold = |rho: f64, force: f64| {
        if patches {
            let loads = RadialLoad::ring_of(count, gripped, half_angle, force);
            ("patches", 0.0, under_patches(&finished, count, &loads, cut))
        } else {
            let answer = jaws(finished, rho, force).solve();
            let held = under_jaws(&answer, count, cut);
            match answer.arcs[0].start {
                0.0 => ("middle", answer.arcs[0].end / half_angle, held),
                _ => ("edges", 0.0, held),
            }
        }
    };
    let (mut kind, mut share, mut held) = hold(rho, force);
    // in proportion under patches and pads that carry on their edges, nearly so in wider ones
    for _ in 0..4 {
        let now = spread(&held.displacement);
        if share > MOST_OF_A_PAD {
            wanted = 0.5 * wanted.min(now);
        } else if (now / wanted - 1.0).abs() < 0.3 {
            break;
        }
        force *= wanted / now;
        (kind, share, held) = hold(rho, force);
    }
    if share > MOST_OF_A_PAD || spread(&held.displacement) < 5e-5 * ro {
        rho = exact;
        force *= 8e-5 * ro / spread(&hold(rho, force).2.displacement);
        (kind, _, held) = hold(rho, force);
    }
    let case = if patches {
        let mut values = Values::from([
            ("count", Value::Number(n)),
            ("force", Value::Number(force)),
            ("half_angle", Value::Number(half_angle.to_degrees())),
        ]);
        values.set("surface", Value::Text(gripped.name().to_owned()));
        cases::hold(cases::ring(&stock), PressurePatches, values)
    } else {
        cases::jaws(&jaws(stock, rho, force))
    };
    let says = format!(
        "N {count} wall/R {:.3} depth/wall {:.2} half angle {:.1} deg, force {force:.3}",
        wall / ro,
        depth / wall,
        half_angle.to_degrees()
    );
    let diameter = 2.0 * finished.radius(cut);
    Trial {
        kind,
        case: cases::cut(case, cut, diameter),
        cut,
        exact: released(&finished, count, cut, &held),
        says,
    }
}

/// True relative error of the released out-of-roundness within the estimate on at least 95 in 100 rings, and the median estimate not above 40 times the
/// error. The stated error is relative to the out-of-roundness itself here: it is far above what the estimate calls nothing.
/// Truth: other program; superposition on the series oracle of the tests
#[test]
fn the_estimate_of_the_released_shape_holds_on_random_rings() {
    let mut numbers = Random::new(20_261_129);
    let mut random = |low: f64, high: f64| numbers.between(low, high);
    let trials: Vec<Trial> = (0..RINGS).map(|ring| trial(ring, &mut random)).collect();
    let judged: Vec<Judged> = trials.par_iter().map(judge).collect();
    let missed: Vec<&str> = judged
        .iter()
        .filter(|j| j.error > j.estimate + SECOND_ORDER)
        .map(|j| j.says.as_str())
        .collect();
    let mut ratios: Vec<f64> = judged
        .iter()
        .map(|j| j.estimate / j.error.max(1e-9))
        .collect();
    ratios.sort_by(f64::total_cmp);
    let median = ratios[RINGS / 2];
    let summary = format!(
        "{} of {RINGS} missed, median ratio {median:.1}\n{}",
        missed.len(),
        missed.join("\n")
    );
    for kind in ["patches", "edges", "middle"] {
        let of = trials.iter().filter(|t| t.kind == kind).count();
        assert!(of >= 8, "too few of {kind}: {of}");
    }
    assert!(missed.len() * 20 <= RINGS, "{summary}");
    assert!(median <= 40.0, "{summary}");
}

/// What the program found.
struct Judged {
    estimate: f64,
    error: f64,
    says: String,
}

fn judge(trial: &Trial) -> Judged {
    let (kind, says) = (trial.kind, &trial.says);
    let outcome =
        run(&trial.case, &cases::OPTIONS).unwrap_or_else(|e| panic!("{kind}: {says}: {e}"));
    let step = &outcome.steps[0];
    assert_eq!(step.cuts[0].cleaned_up, 1.0, "{says}");
    let found = least_squares_circle(&Profile::equal(step.released.get(trial.cut))).roundness;
    assert!(
        trial.exact > 1e-5 * step.cuts[0].diameter,
        "{says}: too round to judge, {}",
        trial.exact
    );
    let error = (found / trial.exact - 1.0).abs();
    let estimate = step.estimate.relative_error.unwrap();
    Judged {
        estimate,
        error,
        says: format!(
            "{kind}: {says}, mesh {:?}, {found:.6} for {:.6}: error {error:.2e}, estimate {estimate:.2e}",
            step.mesh_size, trial.exact
        ),
    }
}
