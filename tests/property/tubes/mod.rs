//! What is stated of a tube's numbers against finer answers.

mod drawn;
mod harmonics;

use std::collections::BTreeMap;
use std::fmt::Write;
use std::time::Instant;

use ringwright_solver::case::Case;
use ringwright_solver::geometry::Surface;
use ringwright_solver::metrology::{Profile, least_squares_circle};
use ringwright_solver::process::{
    Contact, GripAlong, KeepFields, Method, Options, Outcome, Radii, Station, StepOutcome,
    TubeOutcome,
};
use ringwright_tests::random::Random;
use ringwright_tests::{PANICKED, files, tried, whatever};

use drawn::Size;

/// Cases tried in a default run and in a long one.
const CASES: [usize; 2] = [5, 100];

/// What stands for the truth states at most this share of what is stated of a case, in a default run and in a long one; there, where it takes no longer,
/// a share of the accuracy that a case asks for.
const TRUTH: [f64; 2] = [0.75, 0.5];
const FINER: f64 = 25.0;

/// Times as long as a division takes the next one.
const NEXT: f64 = 6.0;

/// Time that one run may take in a default run and in a long one, s.
const SECONDS: [usize; 2] = [60, 90];

/// Accuracy that a case asks for by itself.
const ACCURACY: f64 = 0.01;

/// Finest accuracy that is asked for: plates that slide leave a part round to rounding.
const LEAST_ACCURACY: f64 = 1e-7;

/// Share of the radius that out-of-roundness is measured against at least, as the solver's estimate is.
const LEAST: f64 = 1e-5;

/// Share of the driving quantity and of the stations that must lie inside what is stated, where many are tried.
const INSIDE: f64 = 0.95;

/// Standard deviations of a count that is in truth [`INSIDE`] by which it may fall short where few are tried.
const ALLOWED: f64 = 2.0;

/// Times that the driving quantity may be stated too high in the median.
const MEDIAN: f64 = 10.0;

/// Differences below this are rounding, mm or N or MPa.
const ROUNDING: f64 = 1e-12;

/// One in so many cases may be refused because it did not settle or not to the accuracy asked: pads bored to the part's own radius touch where the wall
/// comes out by a thousandth, and jaws go to whichever of several screws they meet first.
const UNSETTLED: usize = 33;

const OPTIONS: Options = Options {
    fields: KeepFields::None,
    estimate: true,
    method: Method::MeanRing,
    advice: true,
};

/// Cases after which a run says how it stands.
const OFTEN: usize = 10;

/// Kinds of figures that are asked for, beside what is only told.
const DRIVING: &str = "driving quantity";
const STATIONS: [&str; 2] = ["stations held", "stations released"];

fn roundness(radii: &[f64]) -> f64 {
    least_squares_circle(&Profile::equal(radii)).roundness
}

fn mean_radius(radii: &[f64]) -> f64 {
    least_squares_circle(&Profile::equal(radii)).radius
}

fn tube(outcome: &Outcome) -> (&StepOutcome, &TubeOutcome) {
    let step = &outcome.steps[0];
    (step, step.tube.as_ref().unwrap())
}

/// A case with one station more: at a position, mm.
fn with_station(case: &Case, z: f64) -> Case {
    let mut case = case.clone();
    let stations = &mut case.tube.as_mut().unwrap().stations;
    if !stations.contains(&z) {
        stations.push(z);
        stations.sort_by(f64::total_cmp);
    }
    case
}

/// What stands for the truth: the same case with elements that state far less, and as fine as [`FINER`] asks for where there is time for that.
fn truth(case: &Case, stated: f64, size: Size, seconds: u64) -> Result<Outcome, String> {
    let with = |accuracy: f64| {
        let mut fine = case.clone();
        fine.accuracy = accuracy.max(LEAST_ACCURACY);
        whatever(&fine, &OPTIONS, seconds)
    };
    let begun = Instant::now();
    let share = match size {
        Size::Light => TRUTH[0],
        Size::Any => TRUTH[1],
    };
    let found = with(share * stated)?;
    let reached = tube(&found).0.estimate.relative_error.unwrap();
    let wanted = ACCURACY / FINER;
    let next = NEXT * begun.elapsed().as_secs_f64();
    if size == Size::Light || reached <= wanted || next > seconds as f64 {
        return Ok(found);
    }
    Ok(with(wanted).unwrap_or(found))
}

/// Figures of one kind and their errors.
#[derive(Default)]
struct Kind {
    inside: usize,
    ratios: Vec<f64>,
    says: Vec<(f64, String)>,
}

impl Kind {
    fn add(&mut self, error: f64, stated: f64, says: &str) {
        if error <= stated {
            self.inside += 1;
        } else {
            let line = format!("off by {error:.2e}, stated {stated:.2e}: {says}");
            self.says.push((error / stated.max(1e-300), line));
        }
        self.ratios.push(stated / error.max(1e-12));
    }

    fn of(&self) -> usize {
        self.ratios.len()
    }

    /// Whether so many are inside that the share asked for may be the true one.
    fn holds(&self, allowed: f64) -> bool {
        let of = self.of() as f64;
        let least = of * INSIDE - allowed * (of * INSIDE * (1.0 - INSIDE)).sqrt();
        self.inside as f64 >= least
    }

    /// Median of stated over true error.
    fn median(&self) -> f64 {
        let mut ratios = self.ratios.clone();
        ratios.sort_by(f64::total_cmp);
        ratios.get(ratios.len() / 2).copied().unwrap_or(0.0)
    }

    /// The kind in a line, and its misses, worst first.
    fn told(&self, name: &str) -> String {
        let (inside, of, median) = (self.inside, self.of(), self.median());
        let mut text = format!(
            "{name}: {inside} of {of} inside ({:.1} percent), stated {median:.1} times the true error in the median\n",
            100.0 * inside as f64 / of.max(1) as f64
        );
        let mut misses: Vec<_> = self.says.iter().collect();
        misses.sort_by(|a, b| b.0.total_cmp(&a.0));
        for (_, line) in misses {
            let _ = writeln!(text, "    {line}");
        }
        text
    }
}

/// What is told of all cases.
#[derive(Default)]
struct Figures {
    kinds: BTreeMap<&'static str, Kind>,
    /// Figures without a stated error: how far they are off, as shares.
    spreads: BTreeMap<&'static str, Vec<f64>>,
}

impl Figures {
    fn add(&mut self, kind: &'static str, [found, exact]: [f64; 2], stated: f64, says: &str) {
        let error = (found - exact).abs();
        // what is exact by construction, forces that are set say, tells nothing of an estimate
        if error > (1e-9 * exact.abs()).max(ROUNDING) {
            let says = format!("{says}: {found:.6e} for {exact:.6e}");
            self.kinds
                .entry(kind)
                .or_default()
                .add(error, stated, &says);
        }
    }

    fn spread(&mut self, kind: &'static str, off: f64) {
        self.spreads.entry(kind).or_default().push(off);
    }

    fn told(&self) -> String {
        let mut text: String = self
            .kinds
            .iter()
            .map(|(name, kind)| kind.told(name))
            .collect();
        for (name, offs) in &self.spreads {
            let mut sorted = offs.clone();
            sorted.sort_by(f64::total_cmp);
            let at = |share: f64| sorted[((sorted.len() - 1) as f64 * share) as usize];
            let _ = writeln!(
                text,
                "{name}, nothing stated: off by {:.1e} in the median, {:.1e} in 95 of 100, {:.1e} at most",
                at(0.5),
                at(0.95),
                at(1.0)
            );
        }
        text
    }

    /// Everything that is told of a case beside what stands for the truth.
    fn case(&mut self, says: &str, case: &Case, found: &Outcome, exact: &Outcome) {
        let ((a, tube_a), (b, tube_b)) = (tube(found), tube(exact));
        let at = |z: f64| tube_b.stations.iter().find(|s| s.z == z).unwrap();
        self.driving(says, case, a, at(tube_a.section));
        for station in &tube_a.stations {
            let says = format!("{says} at {}", station.z);
            self.station(&says, station, at(station.z));
        }
        let errors = a.errors.as_ref().unwrap();
        self.contacts(says, [&a.held.contacts, &b.held.contacts], &errors.contacts);
        if let (Some(x), Some(y)) = (&a.after_cut, &b.after_cut) {
            let says = format!("{says} after the cut");
            let errors = &errors.contacts_after_cut;
            self.contacts(&says, [&x.contacts, &y.contacts], errors);
        }
        self.grips(&tube_a.grips, &tube_b.grips);
        for (x, y) in tube_a.along.iter().zip(&tube_b.along) {
            let stated = x.errors.unwrap();
            self.add("taper", [x.taper, y.taper], stated[0], says);
            self.add("barrel", [x.barrel, y.barrel], stated[1], says);
            self.add("range", [x.range, y.range], stated[2], says);
        }
        let stresses = [a, b].map(|s| {
            let after = s.after_cut.iter().map(|c| c.stress.von_mises_away);
            std::iter::once(s.held.stress.von_mises_away).chain(after)
        });
        let [x, y] = stresses;
        for (x, y) in x.zip(y) {
            let stated = a.estimate.stress_relative_error.unwrap() * x;
            self.add("stress", [x, y], stated, says);
        }
    }

    fn driving(&mut self, says: &str, case: &Case, a: &StepOutcome, b: &Station) {
        let cuts = &case.steps[0].cuts;
        let both = |held: [&Radii; 2], s: Surface| held.map(|r| roundness(r.get(s)));
        let mut worst = (f64::NEG_INFINITY, [0.0; 2]);
        for s in Surface::BOTH {
            let pair = match cuts.is_empty() {
                true => both([&a.held.shape, &b.held], s),
                false if cuts.iter().all(|c| c.surface != s) => continue,
                false => both([&a.released, &b.released], s),
            };
            let least = LEAST * case.part.stock.get(s).radius;
            let error = (pair[0] - pair[1]).abs() / pair[1].max(least);
            if error > worst.0 {
                worst = (error, pair);
            }
        }
        let stated = a.estimate.relative_error.unwrap();
        let says = format!("{says}: {:.6e} for {:.6e}", worst.1[0], worst.1[1]);
        let kind = self.kinds.entry(DRIVING).or_default();
        kind.add(worst.0, stated, &says);
    }

    fn station(&mut self, says: &str, a: &Station, b: &Station) {
        let errors = a.errors.as_ref().unwrap();
        let states = [(&a.held, &b.held), (&a.released, &b.released)];
        let means = ["mean radius held", "mean radius released"];
        for (k, (x, y)) in states.into_iter().enumerate() {
            for s in Surface::BOTH {
                let says = format!("{says} {}", s.name());
                let error = errors[k].get(s);
                let pair = [x, y].map(|r| roundness(r.get(s)));
                self.add(STATIONS[k], pair, error.roundness(), &says);
                let pair = [x, y].map(|r| mean_radius(r.get(s)));
                self.add(means[k], pair, error.mean_radius(), &says);
            }
        }
    }

    /// Of the bodies of a scheme, which share an estimate, the one that is farthest off counts.
    fn contacts(
        &mut self,
        says: &str,
        [a, b]: [&[Contact]; 2],
        stated: &[ringwright_solver::process::ContactError],
    ) {
        let mut at = 0;
        for scheme in a.chunk_by(|p, q| p.scheme == q.scheme) {
            let (others, error) = (&b[at..at + scheme.len()], &stated[at]);
            at += scheme.len();
            let says = format!("{says} {}", scheme[0].called);
            let worst = |of: &dyn Fn(&Contact) -> f64| {
                let pairs = scheme.iter().zip(others).map(|(x, y)| [of(x), of(y)]);
                let apart = |p: &[f64; 2]| (p[0] - p[1]).abs();
                let most = pairs.max_by(|p, q| apart(p).total_cmp(&apart(q)));
                most.unwrap_or_default()
            };
            self.add("force", worst(&|c| c.force), error.force, &says);
            self.add("approach", worst(&|c| c.approach), error.approach, &says);
        }
    }

    fn grips(&mut self, a: &[GripAlong], b: &[GripAlong]) {
        for (x, y) in a.iter().zip(b) {
            if let (Some(c), Some(d)) = (x.centroid, y.centroid) {
                let length = x.reach[1] - x.reach[0];
                self.spread(
                    "centroid of a grip, share of its length",
                    (c - d).abs() / length,
                );
                let off = (x.front_quarter - y.front_quarter).abs();
                self.spread("front quarter of a grip, share of its force", off);
            }
        }
    }
}

/// Random jobs on tubes at default accuracy against the same with elements that state far less: every number is held to the error that is stated with it.
/// [`CASES`] of them, light ones in a default run; those whose finer answer takes too long are left out and counted, half at most. Of the driving quantity and the stations 95 in 100 are
/// asked for, in a run of few less what chance may take.
/// Truth: own earlier run; the same case with elements that state at most half of the error, three quarters in a default run
#[test]
fn what_is_stated_of_tubes_covers_finer_answers() {
    let (cases, seconds) = (tried(CASES), tried(SECONDS) as u64);
    let size = match cases == CASES[1] {
        true => Size::Any,
        false => Size::Light,
    };
    let mut random = Random::new(20_261_202);
    let mut figures = Figures::default();
    let (mut refused, mut untold) = (String::new(), String::new());
    let (mut refusals, mut panics, mut unsettled, mut large, mut left_out) = (0, 0, 0, 0, 0);
    for k in 1..=cases {
        let text = drawn::job(&mut random, size);
        let case = files::read(&text);
        let begun = Instant::now();
        let found = match whatever(&case, &OPTIONS, seconds) {
            Ok(found) => found,
            Err(e) => {
                println!("case {k}: {e}\n{text}");
                // more pads and finer ones than are solved for, or not in time: said so, and no fault of the case
                if e.contains("TooLarge") || e.contains("TimeLimit") {
                    large += 1;
                    let _ = writeln!(untold, "case {k}: {e}\n{text}");
                    continue;
                }
                if e.contains("NotConverged") {
                    unsettled += 1;
                    let _ = writeln!(untold, "case {k}: {e}\n{text}");
                    continue;
                }
                refusals += 1;
                panics += usize::from(e == PANICKED);
                let _ = writeln!(refused, "case {k}: {e}\n{text}");
                continue;
            }
        };
        let took = begun.elapsed().as_secs_f64();
        let (step, of_tube) = tube(&found);
        let stated = step.estimate.relative_error.unwrap();
        let asked = with_station(&case, of_tube.section);
        let exact = match truth(&asked, stated, size, seconds) {
            Ok(exact) => exact,
            Err(e) => {
                println!("case {k}, {took:.1} s: no truth: {e}\n{text}");
                left_out += 1;
                let _ = writeln!(untold, "case {k}: {e}\n{text}");
                continue;
            }
        };
        let total = begun.elapsed().as_secs_f64();
        println!(
            "case {k}: {took:.1} s, with its truth {total:.1} s, stated {stated:.1e}, then {:.1e}, {:?} and {:?}\n{text}",
            tube(&exact).0.estimate.relative_error.unwrap(),
            step.mesh_size,
            tube(&exact).0.mesh_size
        );
        figures.case(&format!("case {k}"), &case, &found, &exact);
        if figures.kinds[DRIVING].of() % OFTEN == 0 {
            println!("so far, {k} cases:\n{}", figures.told());
        }
    }
    let told = format!(
        "{cases} cases, {refusals} refused, {panics} of them by a panic, {unsettled} not settled, {large} too large or not in time, {left_out} without a truth in time\n{}",
        figures.told()
    );
    println!("{told}\nrefused:\n{refused}\nno truth:\n{untold}");
    assert_eq!(refusals, 0, "{refused}");
    assert!(unsettled * UNSETTLED <= cases, "{untold}");
    assert!(large * 5 <= cases, "{untold}");
    assert!(figures.kinds[DRIVING].of() * 2 >= cases, "{untold}");
    let allowed = if cases < CASES[1] { ALLOWED } else { 0.0 };
    for name in [DRIVING].into_iter().chain(STATIONS) {
        assert!(figures.kinds[name].holds(allowed), "{name}: {told}");
    }
    assert!(figures.kinds[DRIVING].median() <= MEDIAN, "{told}");
}

/// Lobes that are thicker than the elements beside a step and the end of a grip are wide: what they do to the wall settles.
/// Truth: invariance; a sound job has an answer
#[test]
fn lobes_thicker_than_elements_settle() {
    let text = "accuracy = 0.002\n[part]\nouter_diameter = 60.1786\nbore_diameter = 53.734\nlength = 12.4602\nmaterial = \"grey iron class 30\"\n\
                [[part.lobes]]\nsurface = \"outer\"\ncount = 6\namplitude = 0.08\nangle = 250.0\n[tube]\n\
                outline = [[0.0, 60.1786, 53.734], [9.1217, 60.1786, 53.734], [9.1217, 58.2452, 53.734], [12.4602, 58.2452, 53.734]]\n\
                [[hold.h]]\nscheme = \"points\"\ncount = 4\nforce = 52.26\ngrip_length = 6.7641\n[[step]]\nhold = \"h\"\n";
    let found = whatever(&files::read(text), &OPTIONS, 120).unwrap();
    assert!(tube(&found).0.estimate.converged);
}

/// A face of which a part lifts and comes down again while the rest slides out: what sticks, slides and stands off settles, and friction stays within
/// what it can take.
/// Truth: invariance; Coulomb's law bounds the friction
#[test]
fn a_flange_between_rubbing_plates_settles() {
    let text = "[part]\nouter_diameter = 97.635\nbore_diameter = 93.8068\nlength = 74.113\nmaterial = \"titanium Ti-6Al-4V annealed\"\n[tube]\n\
                outline = [[0.0, 97.635, 93.8068], [52.0198, 97.635, 93.8068], [52.0198, 105.2912, 93.8068], [74.113, 105.2912, 93.8068]]\n\
                [[hold.h]]\nscheme = \"end-clamp\"\naxial_force = 20050\nfriction = 0.0917\nend_condition = \"friction\"\n\
                [[step]]\nhold = \"h\"\nflipped = true\n";
    let found = whatever(&files::read(text), &OPTIONS, 120).unwrap();
    let plates = tube(&found).1.plates.as_ref().unwrap();
    for used in plates.friction_used {
        assert!(
            used.abs() > 0.01 && used.abs() <= 0.0917 * (1.0 + 1e-9),
            "{used}"
        );
    }
}
