//! Round rings solved twice: by the closed-form series and by finite elements, and by the oracle where it has an answer.

use std::f64::consts::{PI, TAU};
use std::fmt::Write;

use ringwright_solver::case::{Case, FixedMesh};
use ringwright_solver::geometry::Surface;
use ringwright_solver::metrology::{Profile, harmonics, least_squares_circle};
use ringwright_solver::process::{KeepFields, Method, Options, StepOutcome};
use ringwright_tests::oracle::series::{Annulus, RadialLoad, Response};
use ringwright_tests::random::Random;
use ringwright_tests::{PANICKED, files, generator, oracle, tried, whatever};

/// Holds tried in a default run and in a long one.
const HOLDS: [usize; 2] = [40, 500];

/// Elements round and through of the finite elements.
const MESH: [usize; 2] = [720, 8];

/// Terms of the oracle's series: with walls of half a percent of the radius the last is `exp(-10)`.
const TERMS: u32 = 3000;

/// Lobe counts compared with the oracle: too few to feel over what width a force on a line is spread.
const LOBES: std::ops::RangeInclusive<u32> = 2..=8;

/// Share of the radius that out-of-roundness is measured against at least, as the solver's estimate is.
const LEAST: f64 = 1e-5;

const OPTIONS: Options = Options {
    fields: KeepFields::None,
    estimate: true,
    method: Method::MeanRing,
    advice: true,
};

fn annulus(case: &Case) -> Annulus {
    let material = &case.part.material;
    Annulus {
        inner_radius: case.part.stock.bore.radius,
        outer_radius: case.part.stock.outer.radius,
        young_modulus: material.young_modulus,
        poisson_ratio: material.poisson_ratio,
        length: case.part.length,
    }
}

/// Held out-of-roundness of a surface, mm.
fn roundness(step: &StepOutcome, s: Surface) -> f64 {
    least_squares_circle(&Profile::equal(step.held.shape.get(s))).roundness
}

/// What the oracle says of a step's dead loads, if nothing but dead loads holds the ring: the largest error of out-of-roundness (of patches; a
/// force on a line leaves a dent without bound) and of lobes, as a share of the out-of-roundness. Beyond what 3,600 samples make of waves shorter than
/// they are apart: they take the dents under forces on lines for lobes of `2 F / (pi E L n)`, `n` their number.
fn beside_oracle(case: &Case, step: &StepOutcome) -> Option<f64> {
    let loads = &step.held.loads;
    if loads.is_empty() || !step.held.contacts.is_empty() || step.held.axial_force != 0.0 {
        return None;
    }
    let ring = annulus(case);
    let all: Vec<RadialLoad> = loads
        .iter()
        .map(|l| RadialLoad {
            surface: l.surface,
            angle: l.angle_deg.to_radians(),
            half_angle: l.half_angle_deg.to_radians(),
            force: l.force,
        })
        .collect();
    let patches = all.iter().all(|l| l.half_angle > 0.0);
    let lines = all.iter().filter(|l| l.half_angle == 0.0);
    let folded = 2.0 * lines.map(|l| l.force.abs()).sum::<f64>()
        / (PI * ring.young_modulus * ring.length * f64::from(oracle::READINGS));
    let exact = patches.then(|| oracle::loads(&ring, &all));
    let response = Response::new(&ring, &all, TERMS);
    let mut worst = 0.0_f64;
    for s in Surface::BOTH {
        let found = roundness(step, s);
        let least = LEAST * ring.radius(s);
        if let Some(exact) = &exact {
            let exact = *exact.get(s);
            worst = worst.max((found - exact).abs() / exact.max(least));
        }
        let circle = response.circle(ring.radius(s));
        let radii: Vec<f64> = (0..3600)
            .map(|k| ring.radius(s) + circle.at(TAU * f64::from(k) / 3600.0).radial_displacement)
            .collect();
        let most = *LOBES.end();
        let [exact, own] = [&radii, step.held.shape.get(s)].map(|radii| {
            let profile = Profile::equal(radii);
            harmonics(&profile, least_squares_circle(&profile).centre, most)
        });
        for (e, f) in exact
            .iter()
            .zip(&own)
            .filter(|h| LOBES.contains(&h.0.count))
        {
            let apart = (e.amplitude - f.amplitude).abs() - folded;
            worst = worst.max(apart / found.max(least));
        }
    }
    Some(worst)
}

/// How the comparisons of one kind ended.
#[derive(Default)]
struct Count {
    inside: usize,
    of: usize,
    says: String,
}

impl Count {
    fn add(&mut self, error: f64, estimate: f64, text: &str) {
        self.of += 1;
        if error <= estimate {
            self.inside += 1;
        } else {
            let _ = writeln!(
                self.says,
                "off by {error:.2e}, stated {estimate:.2e}:\n{text}"
            );
        }
    }
}

/// Out-of-roundness of both surfaces, held, as the series has it and as finite elements of 720x8 have it, differs by no more than the two
/// state together; and each is within what it states of the oracle, where nothing but dead loads holds the ring. 40 random holds, 500 with
/// `RINGWRIGHT_LONG` set. Refusals are counted: a hold that one refuses (loose) the other must not solve.
///
/// Wanted are 95 in 100 of each. Of the 500 holds 411 of 430 that both solve are, 102 of 104 of the series against the oracle and all of the elements; of the 40
/// some four are equal forces that leave the part where it lies, and the elements let it slide.
/// Of the 500 one in twenty is refused by one: split sleeves whose contact does not settle on equal elements, or takes too long behind the series, and touches
/// that the elements are too wide to show.
/// Truth: other program, invariance; the series oracle of the tests, and two ways to one answer
#[test]
fn series_and_finite_elements_agree_on_random_holds() {
    let holds = tried(HOLDS);
    let registry = ringwright_plugins::registry();
    let mut random = Random::new(20_261_130);
    let [mut both, mut series, mut elements] = [(); 3].map(|()| Count::default());
    let (mut refused, mut one_refused, mut panicked, mut refusals) = (0, 0_usize, 0, String::new());
    for _ in 0..holds {
        let text = generator::round_hold(&mut random, &registry);
        let case = files::read(&text);
        let mut meshed = case.clone();
        meshed.mesh = Some(FixedMesh {
            around: MESH[0],
            through: MESH[1],
        });
        let (by_series, by_elements) = (
            whatever(&case, &OPTIONS, 60),
            whatever(&meshed, &OPTIONS, 60),
        );
        let (a, b) = match (by_series, by_elements) {
            (Ok(a), Ok(b)) => (a, b),
            (Err(a), Err(b)) => {
                if a == PANICKED || b == PANICKED {
                    panicked += 1;
                    let _ = writeln!(refusals, "series: {a}; elements: {b}\n{text}");
                }
                refused += 1;
                continue;
            }
            (a, b) => {
                let [a, b] = [a, b].map(|r| r.err().unwrap_or_default());
                panicked += usize::from(a == PANICKED || b == PANICKED);
                one_refused += 1;
                let _ = writeln!(refusals, "series: {a}; elements: {b}\n{text}");
                continue;
            }
        };
        let (a, b) = (&a.steps[0], &b.steps[0]);
        let [ea, eb] = [a, b].map(|s| s.estimate.relative_error.unwrap());
        let apart = Surface::BOTH.map(|s| {
            let (x, y) = (roundness(a, s), roundness(b, s));
            let least = LEAST * case.part.stock.get(s).radius;
            (x - y).abs() / x.max(least)
        });
        both.add(apart[0].max(apart[1]), ea + eb, &text);
        for (count, step, estimate) in [(&mut series, a, ea), (&mut elements, b, eb)] {
            if let Some(error) = beside_oracle(&case, step) {
                count.add(error, estimate, &text);
            }
        }
    }
    println!(
        "{holds} holds, {refused} refused by both, {one_refused} by one; {panicked} panicked; apart by no more than stated: {} of {}; within what it states of the oracle: series {} of {}, \
         elements {} of {}\nrefused by one:\n{refusals}\nseries against elements:\n{}\nseries:\n{}\nelements:\n{}",
        both.inside,
        both.of,
        series.inside,
        series.of,
        elements.inside,
        elements.of,
        both.says,
        series.says,
        elements.says
    );
    // one in twenty of many; of the 40 of a default run four are: a touch of some nanometres and split sleeves
    let few = if holds < HOLDS[1] { 2 } else { 0 };
    let many = one_refused.saturating_sub(few);
    assert!(many * 15 <= holds, "{refusals}");
    assert!(
        both.of >= holds / 2 && series.of >= holds / 20,
        "too few were compared"
    );
    // one of few is more than a twentieth
    let wanted = if holds < HOLDS[1] { 85 } else { 95 };
    assert!(both.inside * 100 >= wanted * both.of, "{}", both.says);
    assert!(series.inside * 100 >= wanted * series.of, "{}", series.says);
    assert!(
        elements.inside * 100 >= 95 * elements.of,
        "{}",
        elements.says
    );
}

/// A split sleeve whose pads are wide enough to reach over its slit: an answer or a refusal, never a panic.
/// Truth: invariance; bad input never panics
#[test]
fn a_split_sleeve_does_not_panic() {
    let text = "[part]\nouter_diameter = 76.71567239207165\nbore_diameter = 72.85246729685184\nlength = 14.504277654338338\n\
                material = \"grey iron class 30\"\n[[hold.first]]\nscheme = \"split-sleeve\"\ncount = 6\n\
                total_force = 9.185838444768395\nbored_diameter = 76.66183778\nwidth = 0.5479730628435916\n\
                sleeve_thickness = 0.08126710161685229\n[[step]]\nhold = \"first\"\n";
    let found = whatever(&files::read(text), &OPTIONS, 60);
    assert_ne!(found.err().as_deref(), Some(PANICKED));
}

/// Three equal segments of a mandrel in a round ring leave no lobes but multiples of three, to a tenth of the accuracy.
/// Truth: invariance
#[test]
fn three_segments_of_a_mandrel_leave_multiples_of_three_lobes() {
    let text = "[part]\nouter_diameter = 2.7476562554906208\nbore_diameter = 2.34375841887602\nlength = 5.176170205745991\n\
                material = \"aluminium 6061-T6\"\n[[hold.first]]\nscheme = \"mandrel\"\nsegments = 3\n\
                diameter = 2.7279074587984056\nslot_width = 0.09222387410368964\nforce = 0.2888305668303688\n\
                [[step]]\nhold = \"first\"\n";
    let found = whatever(&files::read(text), &OPTIONS, 60).unwrap();
    let profile = Profile::equal(found.steps[0].held.shape.get(Surface::Bore));
    let lobes = harmonics(&profile, least_squares_circle(&profile).centre, 3);
    assert!(lobes[1].amplitude < 1e-3 * lobes[2].amplitude, "{lobes:?}");
}
