//! The wall under the tool: how far it gives way, and what a cut with a tool force leaves.

use std::f64::consts::{PI, TAU};

use nalgebra::{DMatrix, DVector};
use ringwright_solver::geometry::Surface;
use ringwright_solver::process::{Method, Options, Outcome, Prepared, ToolDip, run};
use ringwright_tests::cases::OPTIONS;
use ringwright_tests::files::{self, Solved, number};
use ringwright_tests::reference::{self, Reference};

use crate::case_files::{lobes, ring, ring_of};

const PLACES: usize = 72;

const JAWS: &str =
    "[[hold.h]]\nscheme = \"jaws\"\ncount = 3\nforce = 1000\nbored_diameter = 110.25\nwidth = 20\n";

fn cut(surface: &str, diameter: f64, force: f64) -> String {
    format!(
        "[[step]]\nhold = \"h\"\n[[step.cut]]\nsurface = \"{surface}\"\ndiameter = {diameter:?}\nradial_force = {force:?}\n"
    )
}

fn s8(case: &Reference, surface: &str, diameter: f64) -> Solved {
    let [force, rho, width, tool] = ["F", "rho", "w", "Fr"].map(|key| case.input(key));
    files::solve(&format!(
        "{}[[hold.h]]\nscheme = \"jaws\"\ncount = {}\nforce = {force:?}\nbored_diameter = {:?}\nwidth = {width:?}\n{}",
        ring_of(case),
        case.input("N"),
        2.0 * rho,
        cut(surface, diameter, tool)
    ))
}

/// Every dip, over jaws and midway, in the bore and on the outside, and what each jaw feels of the tool: from `result.json`.
/// Truth: other program; exact series and finite elements written apart from these
#[test]
fn s8a_tool_force_with_the_jaws_locked() {
    let case = reference::section("S8a");
    assert_eq!(case.input("patch_half_angle_deg"), 1.0);
    let [bore, outside] = [("bore", 95.6), ("outer", 104.4)].map(|(s, d)| s8(&case, s, d));
    let dip_at = |solved: &Solved, degrees: &str| {
        let place = degrees.parse::<usize>().unwrap() / 5;
        let tool = &solved.json["steps"][0]["cuts"][0]["tool_dip"];
        assert_eq!(
            number(tool, &format!("/angles_deg/{place}")),
            5.0 * place as f64
        );
        number(tool, &format!("/dip/{place}"))
    };
    let change_at = |solved: &Solved, jaw: &str, degrees: &str| {
        let place = degrees.parse::<usize>().unwrap() / 5;
        let path = format!("/steps/0/cuts/0/tool_dip/contact_force_changes/{jaw}/{place}");
        number(&solved.json, &path)
    };
    case.compare(|name| {
        let parts: Vec<&str> = name.split('_').collect();
        let surface = |word: &str| if word == "bore" { &bore } else { &outside };
        match parts.as_slice() {
            ["clamp", "approach"] => number(&bore.json, "/steps/0/held/contacts/0/approach"),
            [word, "dip", "at", degrees] => {
                dip_at(surface(word), degrees.strip_suffix("deg").unwrap())
            }
            ["bore", "dip", "midway", ..] => dip_at(&bore, "60") - dip_at(&bore, "0"),
            [jaw, "reaction", "change", word, degrees] => change_at(
                surface(if *word == "od" { "outer" } else { "bore" }),
                jaw.strip_prefix("jaw").unwrap(),
                degrees,
            ),
            _ => panic!("{name}"),
        }
    });
}

fn options(method: Method) -> Options {
    Options { method, ..OPTIONS }
}

fn tool(outcome: &Outcome) -> &ToolDip {
    outcome.steps[0].cuts[0].tool_dip.as_ref().unwrap()
}

/// Displacement outwards of a thin ring under a radial line force of 1 N per mm of length, `angle` away from it, times `E I / R^3`: the ring does not
/// stretch, so a load `q cos(n t)` bends it by `q R^4 / (E I (n^2 - 1)^2)`, and the force has `q = 1 / (pi R)` of every lobe. Rigid shifts are
/// left out (derived here from the ring's equation `w'''''' + 2 w'''' + w'' = q'' R^4 / (E I)`).
fn influence(angle: f64) -> f64 {
    let lobe = |n: u32| {
        let bends = (f64::from(n).powi(2) - 1.0).powi(2);
        (f64::from(n) * angle).cos() / (PI * bends)
    };
    (2..4000).map(lobe).sum()
}

/// How far a thin ring on rigid radial supports at some angles gives way under a force at another, and what the supports take, of a unit force.
fn on_supports(supports: &[f64], at: f64) -> (f64, DVector<f64>) {
    let n = supports.len();
    // forces of the supports, then shifts along x and y
    let mut matrix = DMatrix::zeros(n + 2, n + 2);
    let mut sides = DVector::zeros(n + 2);
    for (i, &a) in supports.iter().enumerate() {
        for (j, &b) in supports.iter().enumerate() {
            matrix[(i, j)] = influence(a - b);
        }
        for (axis, along) in [a.cos(), a.sin()].into_iter().enumerate() {
            matrix[(i, n + axis)] = along;
            matrix[(n + axis, i)] = along;
        }
        sides[i] = -influence(a - at);
    }
    sides[n] = -at.cos();
    sides[n + 1] = -at.sin();
    let found = matrix.lu().solve(&sides).unwrap();
    let by_supports = supports.iter().zip(found.iter());
    let moved: f64 = by_supports.map(|(a, f)| f * influence(at - a)).sum();
    let shift = found[n] * at.cos() + found[n + 1] * at.sin();
    (
        influence(0.0) + moved + shift,
        found.rows(0, n).into_owned(),
    )
}

/// A ring of a hundredth of its radius on three crowned jaws, which touch along lines, gives way as a thin ring on three supports does. What a thin ring leaves
/// out is of the order of the wall over the radius: the supports stand outside, the tool in the bore.
/// Truth: analytical; a thin ring that does not stretch, derived here
#[test]
fn a_thin_ring_gives_way_as_on_three_supports() {
    let (mean, wall, length, young) = (50.0, 0.5, 10.0, 200_000.0);
    let text = files::ring(mean - 0.5 * wall, mean + 0.5 * wall, young, 0.3, length)
        + "[[hold.h]]\nscheme = \"jaws\"\ncount = 3\nforce = 1\ncrown_radius = 5\nwidth = 4\n[[step]]\nhold = \"h\"\n";
    let case = files::read(&text);
    let prepared = Prepared::new(&case, 0, &options(Method::MeanRing)).unwrap();
    let held = prepared.hold(&case).unwrap();
    let response = held.tool_response(Surface::Bore, 0.1).unwrap();
    let size = mean.powi(3) / (length * young * wall.powi(3) / 12.0);
    let supports = [0.0, TAU / 3.0, 2.0 * TAU / 3.0];
    let most = response.middles.diagonal().amax();
    for k in 0..PLACES {
        let at = TAU * k as f64 / PLACES as f64;
        let (thin, forces) = on_supports(&supports, at);
        let found = response.middles[(k, k)];
        assert!(
            (found - size * thin).abs() < 0.01 * most,
            "{k}: {found} {}",
            size * thin
        );
        for (body, force) in forces.iter().enumerate() {
            // a support's force is counted outwards, as the tool's
            let change = response.forces[(body, k)];
            assert!(
                (change + force).abs() < 0.01,
                "{k} {body}: {change} {force}"
            );
        }
    }
}

/// What a force at one place does at another is what it would do the other way round, on a part that is anything but symmetric, by either method; and the
/// dip at the middle of the tool differs from the mean over it by the dent alone, which is that of a half-plane under an even pressure.
/// Truth: invariance; Betti's reciprocity
#[test]
fn tool_forces_and_dips_exchange() {
    let text = ring()
        + "bore_offset = { distance = 0.3, angle = 40 }\n"
        + &lobes("outer", 2, 0.05)
        + "[[hold.h]]\nscheme = \"jaws\"\ncount = 4\nfirst_angle = 10\nforce = 300\nbored_diameter = 106\nwidth = 15\n"
        + &cut("bore", 97.0, 20.0);
    let case = files::read(&text);
    for method in [Method::MeanRing, Method::Mesh] {
        let prepared = Prepared::new(&case, 0, &options(method)).unwrap();
        let held = prepared.hold(&case).unwrap();
        for surface in Surface::BOTH {
            let response = held.tool_response(surface, 20.0).unwrap();
            let (middles, works) = (&response.middles, &response.works);
            let most = works.amax();
            assert!((works - works.transpose()).amax() < 1e-9 * most);
            // between places that are not the same, a reading at the middle is nearly the mean
            let apart = DMatrix::from_fn(PLACES, PLACES, |i, j| {
                if i == j {
                    0.0
                } else {
                    middles[(i, j)] - middles[(j, i)]
                }
            });
            assert!(
                apart.amax() < 2e-3 * most,
                "{method:?} {surface:?} {}",
                apart.amax() / most
            );
        }
    }
}

/// Over a jaw the wall gives way by its dent alone: what the middle of the tool sinks deeper than the mean over it is that of a half-plane under an even
/// pressure.
/// Truth: analytical; Flamant's half-plane, derived here
#[test]
fn the_dent_under_the_tool_is_that_of_a_half_plane() {
    let case = files::read(&(ring() + JAWS + &cut("bore", 96.0, 1.0)));
    let prepared = Prepared::new(&case, 0, &options(Method::MeanRing)).unwrap();
    let held = prepared.hold(&case).unwrap();
    let response = held.tool_response(Surface::Bore, 1.0).unwrap();
    // over -a to a under p: u = (2 p / (pi E)) ((a + x) ln(1 / (a + x)) + (a - x) ln(1 / (a - x))), so the middle lies
    // 2 p a (2 ln 2 - 1) / (pi E) below the mean, p = F / (2 a b)
    let dent = (2.0 * 2.0_f64.ln() - 1.0) / (PI * 70_000.0 * 20.0);
    let found = response.middles[(0, 0)] - response.works[(0, 0)];
    // the wall is six times as thick as the tool is wide
    assert!((found / dent - 1.0).abs() < 0.1, "{}", found / dent);
}

/// An uneven wall by the mean ring's series and what the outline adds, and by finite elements alone on a mesh graded to the contact.
/// Truth: invariance; two ways of solving
#[test]
fn an_uneven_wall_gives_way_alike_by_both_methods() {
    let uneven = ring() + "bore_offset = { distance = 0.5, angle = 30 }\n" + &lobes("both", 3, 0.1);
    for surface in ["bore", "outer"] {
        let diameter = if surface == "bore" { 97.0 } else { 103.0 };
        let case = files::read(&(uneven.clone() + JAWS + &cut(surface, diameter, 50.0)));
        let [ring, mesh] =
            [Method::MeanRing, Method::Mesh].map(|method| run(&case, &options(method)).unwrap());
        let (ring, mesh) = (tool(&ring), tool(&mesh));
        for (a, b) in [(&ring.dip, &mesh.dip), (&ring.finished, &mesh.finished)] {
            let most = b.iter().fold(0.0_f64, |m, &d| m.max(d));
            let apart = a.iter().zip(b).map(|(a, b)| (a - b).abs());
            let apart = apart.fold(0.0, f64::max);
            assert!(
                apart < 5e-3 * most,
                "{surface}: {} of the largest dip",
                apart / most
            );
        }
    }
}

/// The finished part in its hold stands at `R - dip` in the bore and `R + dip` outside, with the dip of the finished part, and the tool's lobes are left on it released.
/// The dip is that of a part which is as thin as the cut leaves it: what the same hold says of it before it is cut again.
/// Truth: analytical; by construction of the cut
#[test]
fn a_cut_stands_off_its_circle_by_the_dip() {
    for (surface, name, diameter) in [
        (Surface::Bore, "bore", 96.0),
        (Surface::Outer, "outer", 104.0),
    ] {
        let text = ring() + JAWS + &cut(name, diameter, 50.0);
        let outcome = run(&files::read(&text), &options(Method::MeanRing)).unwrap();
        let found = tool(&outcome);
        let stands = outcome.steps[0].cut.as_ref().unwrap().get(surface);
        let off = surface.outward();
        let every = stands.len() / PLACES;
        for (k, dip) in found.finished.iter().enumerate() {
            let wanted = 0.5 * diameter + off * dip;
            assert!((stands[k * every] - wanted).abs() < 2e-6, "{name} {k}");
        }
        // a touch more off the finished part: before that cut it gives way as it did at the end of the first
        let again = cut(name, diameter + off * -0.002, 50.0);
        let text = text + &again.replace("[[step]]\nhold = \"h\"\n", "");
        let two = run(&files::read(&text), &options(Method::MeanRing)).unwrap();
        let second = two.steps[0].cuts[1].tool_dip.as_ref().unwrap();
        let most = found.finished.iter().fold(0.0_f64, |m, d| m.max(*d));
        for (a, b) in second.dip.iter().zip(&found.finished) {
            assert!((a - b).abs() < 2e-3 * most, "{name}: {a} {b}");
        }
        // other than before the cut, when the wall was thicker and touched less of the jaws
        let apart = found.dip.iter().zip(&found.finished);
        let apart = apart.map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
        assert!(apart > 0.02 * most, "{name}: {apart}");
        let three = found.lobes.iter().find(|h| h.count == 3).unwrap();
        assert!(found.lobes.iter().all(|h| h.amplitude <= three.amplitude));
        assert!(found.roundness > 1.9 * three.amplitude && found.roundness < 2.2 * three.amplitude);
    }
}

/// Under a force that moves no zone the dip is the linear answer; a larger one opens and closes places and the dip leaves the line, in the bore to one side and
/// outside to the other, as either force turns the part's zones the other way.
/// Truth: invariance; linear where no zone moves
#[test]
fn the_dip_goes_with_small_forces() {
    let case = files::read(&(ring() + JAWS + &cut("bore", 96.0, 1.0)));
    let prepared = Prepared::new(&case, 0, &options(Method::MeanRing)).unwrap();
    let held = prepared.hold(&case).unwrap();
    let off_line = |force: f64| {
        let response = held.tool_response(Surface::Bore, force).unwrap();
        let line = (0..PLACES).map(|k| force * response.middles[(k, k)]);
        let most = response.dip.iter().fold(0.0_f64, |m, d| m.max(*d));
        let off = response.dip.iter().zip(line).map(|(d, l)| (d - l).abs());
        off.fold(0.0, f64::max) / most
    };
    let [small, large] = [1e-3, 50.0].map(off_line);
    assert!(small < 1e-5 && large > 1e-3, "{small} {large}");
}
