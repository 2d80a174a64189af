//! Rows of a study against whole runs: what is left out, and what is kept from row to row, changes nothing.

use rayon::prelude::*;
use ringwright_solver::case::Change;
use ringwright_solver::geometry::Surface;
use ringwright_solver::process::{Caution, Kept, Options, hold_alone, run};
use ringwright_solver::study::{Base, Cell, FIGURES, Row, evaluate};
use ringwright_solver::watch::Unwatched;
use ringwright_tests::files;

/// The ring of the speed jobs: three jaws bored over size on a stout aluminium ring.
fn ring(hold: &str, more: &str) -> String {
    format!(
        "accuracy = 0.01\n[part]\nouter_diameter = 120\nbore_diameter = 100\nlength = 20\nmaterial = {{ young_modulus = 70e3, poisson_ratio = 0.33 }}\n\
         [[hold.bare]]\nscheme = \"jaws\"\ncount = 3\n{hold}\n[[step]]\nhold = \"bare\"\n{more}"
    )
}

const OVER: &str = "force = 2000\nbored_diameter = 121.2\nwidth = 20";
const MESH: &str = "[mesh]\naround = 360\nthrough = 4\n";

/// A part that is held alone, with what was kept of other parts, is that of the whole run: shape, contacts, cautions, and the stated error but for what is of second order in it.
/// Truth: invariance; the same case with its field and with nothing kept
#[test]
fn a_part_held_alone_is_that_of_the_whole_run() {
    let edges = "force = 500\nbored_diameter = 119\narc = 40";
    let unlike = "force = 900\nbored_diameter = 120.4\nwidth = 30\n[[hold.bare]]\nscheme = \"screws\"\ncount = 3\nfirst_angle = 60\ncrown_radius = 20\ngap = 0.0";
    let cases = [
        ring(OVER, MESH),
        ring(OVER, ""),
        ring(edges, MESH),
        ring(edges, ""),
        ring(unlike, MESH),
        ring(unlike, ""),
        ring("force = 2000\nbored_diameter = 126\nwidth = 20", MESH),
    ];
    let kept = Kept::of_many();
    let options = Options::of_figures();
    for text in cases {
        let case = files::read(&text);
        let whole = run(&case, &options).unwrap();
        let whole_step = &whole.steps[0];
        let held = hold_alone(&case, &options, &Unwatched, &kept)
            .unwrap()
            .unwrap();
        for s in Surface::BOTH {
            let pairs = held.held.get(s).iter().zip(whole_step.held.shape.get(s));
            let off = pairs.fold(0.0_f64, |m, (a, b)| m.max((a - b).abs()));
            assert!(off < 1e-9, "{text}: {off}");
        }
        assert_eq!(held.contacts.len(), whole_step.held.contacts.len());
        for (a, b) in held.contacts.iter().zip(&whole_step.held.contacts) {
            assert!(
                (a.force - b.force).abs() < 1e-6 * b.force.max(1.0),
                "{text}"
            );
            assert_eq!(a.arcs.len(), b.arcs.len(), "{text}");
            let ends = a.arcs.iter().flatten().zip(b.arcs.iter().flatten());
            assert!(
                ends.into_iter().all(|(a, b)| (a - b).abs() < 1e-6),
                "{text}"
            );
        }
        let of = |e: &ringwright_solver::process::Estimate| e.relative_error.unwrap();
        let (own, stated) = (of(&held.estimate), of(&whole_step.estimate));
        assert!((own / stated - 1.0).abs() < 0.01, "{text}: {own} {stated}");
        // their figures as they are told
        let words =
            |all: &[Caution]| -> Vec<String> { all.iter().map(ToString::to_string).collect() };
        assert_eq!(words(&held.cautions), words(&whole.cautions), "{text}");
    }
}

/// What is not held alone is said to be more: a cut, a yield strength, a second step.
/// Truth: invariance; by what the case asks
#[test]
fn more_than_a_hold_is_solved_whole() {
    let cut = "[[step.cut]]\nsurface = \"bore\"\ndiameter = 100.6\n";
    let strong = ring(OVER, MESH).replace("0.33 }", "0.33, yield_strength = 250 }");
    let twice = ring(OVER, "[[step]]\nhold = \"bare\"\n");
    for text in [ring(OVER, cut), strong, twice] {
        let case = files::read(&text);
        let options = Options::of_figures();
        let held = hold_alone(&case, &options, &Unwatched, &Kept::of_many()).unwrap();
        assert!(held.is_none(), "{text}");
    }
}

/// The row of J1b is the out-of-roundness that an independent program finds, 0.09045 mm (the known answer of `benches/cases.rs`).
/// Truth: other program; own finite elements of an independent implementation
#[test]
fn a_row_is_the_answer_of_an_independent_program() {
    for more in [MESH, ""] {
        let text = ring(OVER, more);
        let row = rows(&text, &[vec![]], |base, changes| {
            evaluate(base, &changes[0], &Unwatched, &Kept::of_many()).unwrap()
        });
        let column = FIGURES
            .iter()
            .position(|c| c.name == "held_roundness_outer_mm")
            .unwrap();
        let Cell::Number(roundness) = row.cells[column] else {
            panic!("{row:?}");
        };
        assert!((roundness / 0.09045 - 1.0).abs() < 1e-3, "{roundness}");
    }
}

fn rows<T>(
    text: &str,
    changes: &[Vec<Change>],
    work: impl FnOnce(&Base, &[Vec<Change>]) -> T,
) -> T {
    let registry = ringwright_plugins::registry();
    let base = Base {
        text,
        changes: &[],
        folder: None,
        registry: &registry,
    };
    work(&base, changes)
}

/// Rows are the same to the last bit whatever was asked before and beside them: each with nothing kept, all one after the other, backwards, and on all threads at once.
/// Truth: invariance; order and threads
#[test]
fn rows_do_not_depend_on_each_other() {
    let set = |path: &str, value: f64| Change::new(path, format!("{value:?}"));
    let mut all = Vec::new();
    for diameter in [120.0, 121.2, 124.0] {
        for force in [400.0, 2000.0] {
            for blank in [120.0, 120.05] {
                all.push(vec![
                    set("hold.bare[0].bored_diameter", diameter),
                    set("hold.bare[0].force", force),
                    set("part.outer_diameter", blank),
                ]);
            }
        }
    }
    let cut = "[[step.cut]]\nsurface = \"bore\"\ndiameter = 100.6\n";
    let coarse = "[mesh]\naround = 120\nthrough = 2\n";
    for more in [
        coarse.to_owned(),
        String::new(),
        format!("{cut}{coarse}"),
        cut.to_owned(),
    ] {
        let text = ring(OVER, &more);
        rows(&text, &all, |base, all| {
            let kept = Kept::of_many();
            let one = |c: &Vec<Change>| evaluate(base, c, &Unwatched, &kept).unwrap();
            let bits = |row: &Row| format!("{row:?}");
            let alone: Vec<String> = all
                .iter()
                .map(|c| bits(&evaluate(base, c, &Unwatched, &Kept::default()).unwrap()))
                .collect();
            let forwards: Vec<String> = all.iter().map(|c| bits(&one(c))).collect();
            let mut backwards: Vec<String> = all.iter().rev().map(|c| bits(&one(c))).collect();
            backwards.reverse();
            let beside: Vec<String> = all.par_iter().map(|c| bits(&one(c))).collect();
            assert_eq!(forwards, alone, "{more}");
            assert_eq!(backwards, alone, "{more}");
            assert_eq!(beside, alone, "{more}");
        });
    }
}
