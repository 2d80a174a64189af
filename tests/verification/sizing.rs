//! Sized jaws: a problem with a known answer, and what is told of a window tried by itself.

use ringwright_solver::size::{Limit, SizeError, Sized, read_size, size};
use ringwright_solver::study::Base;
use ringwright_solver::watch::{Progress, Stop, Unwatched, Watch};
use ringwright_tests::files::{self, number};
use ringwright_tests::random::Random;

fn tried(text: &str, watch: &dyn Watch) -> Result<Sized, SizeError> {
    let registry = ringwright_plugins::registry();
    let base = Base {
        text,
        changes: &[],
        folder: None,
        registry: &registry,
    };
    let task = read_size(&base).unwrap();
    size(&task, &base, watch)
}

fn sized(text: &str) -> Sized {
    tried(text, &Unwatched).unwrap()
}

fn ring(hold: &str, more: &str) -> String {
    format!(
        "accuracy = 0.02\n[tolerance]\nroundness = 0.02\n[part]\nouter_diameter = 120\nbore_diameter = 110\nlength = 20\nmaterial = \"aluminium 6061-T6\"\n\
         [[hold.h]]\nscheme = \"jaws\"\ncount = 3\n{hold}\n[[step]]\nhold = \"h\"\n[[step.cut]]\nsurface = \"bore\"\ndiameter = 110.6\n{more}"
    )
}

/// Pads bored under size bear on their edges. Of two lines of force 60 degrees apart the third lobes cancel, `cos 3 (30 deg) = 0`: pads of 60 degrees leave the ring roundest.
/// Truth: analytical; Fourier series of two line forces a jaw
#[test]
fn bearing_lines_sixty_degrees_apart_kill_the_third_lobe() {
    let text = ring(
        "force = 300\nbored_diameter = 118\narc = 40",
        "[size]\nhold = \"h\"\n[size.free]\n\"hold.h[0].arc\" = [36.0, 84.0]\n",
    );
    let found = sized(&text);
    assert!((found.best[0] - 60.0).abs() < 1.5, "{:?}", found.best);
    assert!(found.feasible && found.most.1 == Limit::Tolerance);
    let at = |arc: f64| {
        let solved = files::solve(&text.replace("arc = 40", &format!("arc = {arc:?}")));
        number(&solved.json, "/steps/0/released/bore/harmonics/2/amplitude")
    };
    assert!(at(60.0) < 0.03 * at(40.0), "{} {}", at(60.0), at(40.0));
}

/// What is told of the best and of its window holds when it is tried: no random point is better, the ends meet every limit, and a little beyond they do not; the same for what the blank may be off by.
/// Truth: invariance; the same case with values of its own
#[test]
fn what_is_told_of_a_size_holds_when_it_is_tried() {
    let text = ring(
        "force = 600\nbored_diameter = 120\narc = 100\nfriction = 0.12\naxial_stop = true",
        "tangential_force = 25\naxial_force = 10\nradial_force = 0\n[size]\nhold = \"h\"\n\
         [size.free]\n\"hold.h[0].bored_diameter\" = [119.7, 120.5]\n\"hold.h[0].force\" = [20.0, 3000.0]\n[size.spread]\n\"part.outer_diameter\" = 0.03\n",
    );
    let found = sized(&text);
    assert!(found.feasible);
    // the largest share of a limit over the spread
    let share = |bored: f64, force: f64, off: f64| {
        let text = text
            .replace(
                "bored_diameter = 120\n",
                &format!("bored_diameter = {bored:?}\n"),
            )
            .replace("force = 600", &format!("force = {force:?}"));
        let worst = [-off, 0.0, off].map(|off| {
            let outer = 120.0 + off;
            let solved = files::solve(&text.replace(
                "outer_diameter = 120",
                &format!("outer_diameter = {outer:?}"),
            ));
            let limit = number(&solved.json["verdict"]["limits"][0], "/found/1") / 0.02;
            let slip = 1.5 / number(&solved.json["steps"][0]["grip"], "/slip_safety");
            limit.max(slip)
        });
        worst.into_iter().fold(0.0, f64::max)
    };
    let [bored, force] = [found.best[0], found.best[1]];
    let best = share(bored, force, 0.03);
    assert!(
        (best / found.most.0 - 1.0).abs() < 0.03,
        "{best} {}",
        found.most.0
    );
    let mut random = Random::new(20_261_201);
    for _ in 0..12 {
        let (a, b) = (random.between(119.7, 120.5), random.between(20.0, 3000.0));
        let own = share(a, b, 0.03);
        assert!(own > 0.95 * best, "{a} {b}: {own}, and {best}");
    }
    let [window, forces] = [0, 1].map(|k| found.window[k].unwrap());
    for (k, side) in window.iter().enumerate() {
        let outward = [-0.02, 0.02][k];
        assert_eq!(side.by, Limit::Tolerance);
        assert!(share(side.at, force, 0.03) < 1.02);
        assert!(share(side.at + outward, force, 0.03) > 1.0);
    }
    assert_eq!(forces[0].by, Limit::Slip);
    assert!(share(bored, forces[0].at, 0.03) < 1.02);
    assert!(share(bored, 0.9 * forces[0].at, 0.03) > 1.0);
    let bears = found.bears[0].1;
    assert!(bears > 0.03, "{bears}");
    assert!(share(bored, force, bears) < 1.02);
    assert!(share(bored, force, bears + 0.01) > 1.0);
}

/// Somebody who has seen enough.
struct Ends;

impl Watch for Ends {
    fn at(&self, _: &Progress) -> Result<(), Stop> {
        Err(Stop::Interrupted)
    }
}

/// What cannot be sized says why.
/// Truth: invariance; the ways in which there is nothing to size
#[test]
fn what_cannot_be_sized_says_why() {
    let free = "[size]\nhold = \"h\"\n[size.free]\n\"hold.h[0].force\" = [100.0, 200.0]\n";
    let hold = "force = 150\nbored_diameter = 120\narc = 60";
    let text = ring(hold, free);
    assert!(matches!(tried(&text, &Ends), Err(SizeError::Stopped(_))));
    let unlimited = text.replace("[tolerance]\nroundness = 0.02\n", "");
    assert!(matches!(
        tried(&unlimited, &Unwatched),
        Err(SizeError::NoLimit)
    ));
    let crushed = text.replace("[100.0, 200.0]", "[1e6, 2e6]");
    let why = tried(&crushed, &Unwatched).unwrap_err();
    assert!(
        matches!(&why, SizeError::NoAnswer(words) if !words.is_empty()),
        "{why}"
    );
}
