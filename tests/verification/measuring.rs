//! What a gauge's force and the part's own weight do to a ring, against thin-ring theory and for any mesh.
//!
//! Thin rings bend without stretching: a force `F` into the ring at angle `a`, carried evenly by the metal, moves the wall by
//! `u = -(F R^3 / (pi E I)) sum_(n >= 2) cos n (angle - a) / (n^2 - 1)^2` (derived: bending energy
//! `pi E I (n^2 - 1)^2 u_n^2 / (2 R^3)` of each lobe against the work of the force; even loads do no work on any lobe but the first).

use std::f64::consts::PI;

use ringwright_solver::case::{Case, Inspection, Support, SurfaceTolerance};
use ringwright_solver::element::PlaneStress;
use ringwright_solver::geometry::{Lobe, Outline, PerSurface, StockOutline, Surface};
use ringwright_solver::metrology::{Gauge, ReferenceCircle, Vee};
use ringwright_solver::process::{Caution, ForceFlex, GaugeFlex, NotComputed, gauge_flex};
use ringwright_solver::report::words::orientation;
use ringwright_tests::{body, files};

const LAW: PlaneStress = PlaneStress {
    young_modulus: 200_000.0,
    poisson_ratio: 0.3,
    thickness: 10.0,
};
const DENSITY: f64 = 7850.0;
/// Mean radius, mm.
const RADIUS: f64 = 100.0;

fn ring(wall: f64) -> PerSurface<Outline> {
    body::round(RADIUS - 0.5 * wall, RADIUS + 0.5 * wall)
}

/// `R^3 / (E I)`, mm/N.
fn softness(wall: f64) -> f64 {
    RADIUS.powi(3) / (LAW.young_modulus * LAW.thickness * wall.powi(3) / 12.0)
}

fn flex(outlines: &PerSurface<Outline>, inspection: &Inspection, mesh: [usize; 2]) -> GaugeFlex {
    gauge_flex(outlines, &LAW, Some(DENSITY), inspection, mesh).unwrap()
}

fn pressed(outlines: &PerSurface<Outline>, gauge: Gauge, mesh: [usize; 2]) -> Vec<ForceFlex> {
    let inspection = Inspection {
        gauge: Some(gauge),
        measuring_force: Some(2.0),
        ..Inspection::default()
    };
    let flex = flex(outlines, &inspection, mesh);
    assert!(flex.balance < 1e-7, "{}", flex.balance);
    assert!(flex.weight.is_none() && flex.not_computed.is_empty());
    flex.force
}

fn on(list: &[ForceFlex], surface: Surface) -> ForceFlex {
    *list.iter().find(|f| f.surface == surface).unwrap()
}

/// A micrometer squeezes a ring by `(pi/4 - 2/pi) P R^3 / (E I)` (Timoshenko, *Strength of Materials*; Roark), the better the
/// thinner the ring: what is left is the stretch and shear that the formula leaves out, of the order of wall over radius squared.
/// Truth: analytical
#[test]
fn a_micrometer_squeezes_a_thin_ring_by_the_formula() {
    let mut before = f64::INFINITY;
    for wall in [16.0, 8.0, 4.0, 2.0] {
        let list = pressed(&ring(wall), Gauge::TwoPoint, [480, 4]);
        let formula = (PI / 4.0 - 2.0 / PI) * 2.0 * softness(wall);
        let outer = on(&list, Surface::Outer);
        let miss = outer.change / -formula - 1.0;
        assert!(miss.abs() < 0.35 * before, "{wall}: {miss:e} {before:e}");
        assert!(outer.variation < 1e-6 * formula);
        // pressed apart in the bore the diameter grows
        let bore = on(&list, Surface::Bore);
        assert!((bore.change / -outer.change - 1.0).abs() < 0.05);
        before = miss.abs();
    }
    assert!(before < 2e-3, "{before:e}");
}

/// Every gauge: what it reads of the lobes that its own force makes is `-(F R^3 / (pi E I)) sum |factor(n)|^2 / (n^2 - 1)^2`, as
/// its force has the shares of its reading.
/// Truth: analytical
#[test]
fn every_gauge_bends_a_thin_ring_by_its_own_factors() {
    let wall = 2.0;
    for (gauge, surface, scale) in [
        (Gauge::Radius, Surface::Outer, 1.0),
        (Gauge::Radius, Surface::Bore, -1.0),
        (Gauge::TwoPoint, Surface::Outer, 1.0),
        (Gauge::Plate, Surface::Outer, 1.0),
        // each of three contacts with the whole force: half as much again as the shares of the reading
        (Gauge::ThreePoint, Surface::Bore, -1.5),
        (Gauge::Vee(Vee::summit(60.0)), Surface::Outer, 1.0),
        (Gauge::Vee(Vee::summit(90.0)), Surface::Outer, 1.0),
        (Gauge::Vee(Vee::summit(120.0)), Surface::Outer, 1.0),
        (Gauge::Vee(Vee::rider(90.0)), Surface::Outer, 1.0),
    ] {
        let sum: f64 = (2..2000)
            .map(|n| {
                let stiff = f64::from(n) * f64::from(n) - 1.0;
                (gauge.factor(n) / stiff).powi(2)
            })
            .sum();
        let wanted = -scale * 2.0 * softness(wall) / PI * sum;
        let list = pressed(&ring(wall), gauge, [480, 4]);
        let found = on(&list, surface).change;
        assert!(
            (found / wanted - 1.0).abs() < 5e-3,
            "{gauge:?}: {found} {wanted}"
        );
        // on an even wall every way up is alike
        let variation = on(&list, surface).variation;
        assert!(variation < 1e-6 * wanted.abs(), "{gauge:?}: {variation}");
        let reached = list.len();
        let both = matches!(gauge, Gauge::Radius | Gauge::TwoPoint);
        assert_eq!(reached, if both { 2 } else { 1 }, "{gauge:?}");
    }
}

/// A ring standing on one line: `(2 - pi/2) w R^4 / (E I)` wider and `(pi^2/4 - 2) w R^4 / (E I)` lower for a weight `w` a length
/// of its middle (Roark, ring under its own weight, from memory; the series of the head of this file sums to the same:
/// `sum 1 / (4 k^2 - 1)^2 = (pi^2 - 8) / 16`).
/// Truth: analytical
#[test]
fn a_thin_ring_on_edge_sags_by_the_formula() {
    let mut before = f64::INFINITY;
    for wall in [8.0, 4.0, 2.0] {
        let inspection = Inspection {
            support: Support::Edge,
            ..Inspection::default()
        };
        let sag = flex(&ring(wall), &inspection, [480, 4]);
        assert!(sag.force.is_empty() && sag.balance < 1e-7);
        let sag = sag.weight.unwrap();
        let per_length = DENSITY * 1e-9 * 9.80665 * LAW.thickness * wall;
        assert!((sag.weight / (per_length * 2.0 * PI * RADIUS) - 1.0).abs() < 1e-9);
        let unit = per_length * RADIUS * softness(wall);
        let wider = sag.horizontal / ((2.0 - 0.5 * PI) * unit) - 1.0;
        let lower = sag.vertical / ((2.0 - 0.25 * PI * PI) * unit) - 1.0;
        let miss = wider.abs().max(lower.abs());
        assert!(miss < 0.35 * before, "{wall}: {miss:e} {before:e}");
        before = miss;
        // the deepest place is the foot, about the least-squares circle; the lobes of the series give the zone
        let lobes: Vec<f64> = (0..3600)
            .map(|k| {
                let t = 2.0 * PI * f64::from(k) / 3600.0;
                let sum: f64 = (2..60)
                    .map(|n| (f64::from(n) * t).cos() / (f64::from(n * n) - 1.0).powi(2))
                    .sum();
                -sum * 2.0 * unit
            })
            .collect();
        let zone = lobes.iter().fold(f64::MIN, |m, x| m.max(*x))
            - lobes.iter().fold(f64::MAX, |m, x| m.min(*x));
        assert!((sag.out_of_roundness / zone - 1.0).abs() < 0.05, "{wall}");
    }
    assert!(before < 3e-3, "{before:e}");
}

/// In a V a ring stands on two lines, each with `W / (2 sin(angle / 2))`: its diameter over the V by superposition of the series.
/// Truth: analytical
#[test]
fn a_thin_ring_in_a_vee_sags_by_superposition() {
    let wall = 2.0;
    for angle in [60.0, 90.0, 120.0_f64] {
        let inspection = Inspection {
            support: Support::Vee {
                included_angle_deg: angle,
            },
            ..Inspection::default()
        };
        let sag = flex(&ring(wall), &inspection, [480, 4]).weight.unwrap();
        let off = PI / 2.0 - 0.5 * angle.to_radians();
        let each = sag.weight / (2.0 * (0.5 * angle.to_radians()).sin());
        // the sum of radial displacements at the ends of a diameter, from the foot
        let across = |t: f64| {
            let sum: f64 = (1..500)
                .map(|k| {
                    let n = 2.0 * f64::from(k);
                    4.0 * (n * off).cos() * (n * t).cos() / (n * n - 1.0).powi(2)
                })
                .sum();
            -each * softness(wall) / PI * sum
        };
        for (found, wanted) in [
            (sag.vertical, across(0.0)),
            (sag.horizontal, across(0.5 * PI)),
        ] {
            let size = across(0.0).abs().max(across(0.5 * PI).abs());
            assert!(
                (found - wanted).abs() < 5e-3 * size,
                "{angle}: {found} {wanted}"
            );
        }
    }
}

/// The same flexing on meshes four times apart, thick wall and thin, and nowhere near a node.
/// Truth: own earlier run; the same on a mesh four times as fine
#[test]
fn the_flexing_does_not_depend_on_the_mesh() {
    for wall in [5.0, 40.0] {
        for gauge in [
            Gauge::TwoPoint,
            Gauge::Vee(Vee::summit(70.0)),
            Gauge::Radius,
        ] {
            let [coarse, fine] =
                [[240, 4], [960, 12]].map(|mesh| pressed(&ring(wall), gauge, mesh));
            for (coarse, fine) in coarse.iter().zip(&fine) {
                assert!(
                    (coarse.change / fine.change - 1.0).abs() < 1e-3,
                    "{wall} {gauge:?}: {coarse:?} {fine:?}"
                );
            }
        }
    }
}

/// A wall that is thin on one side gives more there: the reading varies round the turn, and what stands on it sags differently.
/// Truth: invariance
#[test]
fn an_uneven_wall_reads_unevenly() {
    let mut outlines = ring(6.0);
    let waves = StockOutline {
        lobes: vec![Lobe {
            count: 2,
            amplitude: 0.5,
            phase: 0.3,
        }],
        ..StockOutline::round(RADIUS - 3.0)
    };
    outlines.bore = Outline::Stock(waves);
    let list = pressed(&outlines, Gauge::TwoPoint, [240, 4]);
    let outer = on(&list, Surface::Outer);
    assert!(outer.variation > 0.01 * outer.change.abs(), "{outer:?}");
    let even = on(
        &pressed(&ring(6.0), Gauge::TwoPoint, [240, 4]),
        Surface::Outer,
    );
    assert!(even.variation < 1e-6 * even.change.abs(), "{even:?}");
    // what the turn has in the mean is near what the mean wall gives, not at either end of the variation
    let off = (outer.change - even.change).abs();
    assert!(off < 0.3 * outer.variation, "{outer:?} {even:?}");
}

/// A bore off centre, the wall thin at 90 deg. A force that the metal carries evenly turns about the middle of the metal, and is balanced there
/// (evaluated in `pressed`); a ring that stands bends most over its support, so it sags most with the thin spot there.
/// Truth: invariance; which of two is larger
#[test]
fn a_bore_off_centre_sags_most_on_its_thin_side() {
    let mut outlines = ring(6.0);
    outlines.bore = Outline::Stock(StockOutline {
        centre: [0.0, 1.0],
        ..StockOutline::round(RADIUS - 3.0)
    });
    let outer = on(&pressed(&outlines, Gauge::Radius, [240, 4]), Surface::Outer);
    assert!(
        outer.change < 0.0 && outer.variation > 0.1 * -outer.change,
        "{outer:?}"
    );
    let inspection = Inspection {
        support: Support::Edge,
        ..Inspection::default()
    };
    let weight = flex(&outlines, &inspection, [240, 4]).weight.unwrap();
    // the places evaluated are 15 deg apart, and one beside it may do as well
    assert!((weight.up_deg - 270.0).abs() < 15.1, "{weight:?}");
}

/// What a file says of inspection and tolerance arrives, in our units, and what it leaves out is the default.
/// Truth: analytical; by construction of the input
#[test]
fn the_keys_arrive() {
    let head = "units = \"inch\"\n[part]\nouter_diameter = 4\nbore_diameter = 3.5\nlength = 1\nmaterial = \"PEEK\"\n\
                [[step]]\nhold = \"free\"\n";
    let case = files::read(&format!(
        "{head}[inspection]\ncircle = \"maximum-inscribed\"\nfilter_upr = 50\nmeasuring_force = \"2 N\"\nsupport = \"vee\"\n\
         vee_angle = 108\ntemperature = 22\n\
         gauge = {{ kind = \"vee\", included_angle = 60, indicator = \"rider\" }}\n\
         [tolerance]\nroundness = 0.001\n[tolerance.bore]\nroundness = \"2 thou\"\ndiameter = [3.5, \"3.502 in\"]\n\
         average_diameter = [3.5, 3.501]\nwall_variation = 0.001\nrunout = 0.002\nfilter_upr = 15\n\
         circle = \"least-squares\"\n"
    ));
    let wanted = Inspection {
        circle: ReferenceCircle::MaximumInscribed,
        filter_upr: Some(50.0),
        gauge: Some(Gauge::Vee(Vee::rider(60.0))),
        measuring_force: Some(2.0),
        support: Support::Vee {
            included_angle_deg: 108.0,
        },
        temperature: 22.0,
    };
    assert_eq!(case.inspection, wanted);
    assert_eq!(
        orientation(case.inspection.support),
        "in a 108 deg V, axis level"
    );
    assert_eq!(case.tolerance.roundness, Some(0.001 * 25.4));
    let bore = &case.tolerance.surfaces.bore;
    let near = |found: Option<f64>, mm: f64| assert!((found.unwrap() - mm).abs() < 1e-12);
    near(bore.roundness, 0.0508);
    near(bore.diameter.map(|d| d[1]), 88.9508);
    near(bore.average_diameter.map(|d| d[0]), 88.9);
    near(bore.wall_variation, 0.0254);
    near(bore.runout, 0.0508);
    assert_eq!(bore.filter_upr, Some(15.0));
    assert_eq!(bore.circle, Some(ReferenceCircle::LeastSquares));
    assert_eq!(case.tolerance.surfaces.outer, SurfaceTolerance::default());
    let plain = files::read(head);
    assert_eq!(plain.inspection, Inspection::default());
    let assumed = |case: &Case, what: &str| case.assumed.iter().any(|a| a.contains(what));
    assert!(!assumed(&case, "lying on its face"));
    for (word, circle) in [
        ("minimum-zone", ReferenceCircle::MinimumZone),
        ("least-squares", ReferenceCircle::LeastSquares),
        (
            "minimum-circumscribed",
            ReferenceCircle::MinimumCircumscribed,
        ),
        ("maximum-inscribed", ReferenceCircle::MaximumInscribed),
    ] {
        let case = files::read(&format!("{head}[inspection]\ncircle = \"{word}\"\n"));
        assert_eq!(case.inspection.circle, circle);
        assert!(assumed(&case, "lying on its face"));
    }
}

/// A case file: the figures of the finished part, cautions beside its tolerance, and the missing density told.
/// Truth: analytical; by construction of the input
#[test]
fn a_case_says_what_measuring_does() {
    let head = files::ring(47.0, 50.0, 200_000.0, 0.3, 20.0);
    let rest = |inspection: &str, tolerance: &str| {
        format!(
            "{head}[tolerance]\nroundness = {tolerance}\n[inspection]\n{inspection}\n[[step]]\nhold = \"free\"\n\
             [[step.cut]]\nsurface = \"bore\"\ndiameter = 95.0\n"
        )
    };
    let press = "gauge = { kind = \"two-point\" }\nmeasuring_force = 5";
    let run = files::solve(&rest(press, "0.05"));
    let flex = run.outcome.inspection.unwrap();
    let bore = on(&flex.force, Surface::Bore);
    // the finished wall, 2.5 mm, not the stock's
    let formula = (PI / 4.0 - 2.0 / PI) * 5.0 * 48.75_f64.powi(3) * 12.0
        / (200_000.0 * 20.0 * 2.5_f64.powi(3));
    assert!(
        (bore.change / formula - 1.0).abs() < 0.03,
        "{} {formula}",
        bore.change
    );
    let said = |cautions: &[Caution], what: &str| {
        let mut cautions = cautions.iter().map(ToString::to_string);
        cautions.any(|c| c.contains(what))
    };
    assert!(
        said(&run.outcome.cautions, "flexes the part"),
        "{:?}",
        run.outcome.cautions
    );
    // a surface's own limits come before the general one; a size may be wanted more closely than a roundness
    let own = "0.2\n[tolerance.bore]\nroundness = 0.05";
    let run = files::solve(&rest(press, own));
    let cautions = &run.outcome.cautions;
    assert!(said(cautions, "roundness wanted, 0.050 mm"), "{cautions:?}");
    let size = "0.2\n[tolerance.bore]\ndiameter = [94.95, 95.05]";
    let run = files::solve(&rest(press, size));
    let cautions = &run.outcome.cautions;
    assert!(
        said(cautions, "range of diameters wanted, 0.100 mm"),
        "{cautions:?}"
    );
    let run = files::solve(&rest(press, "0.2"));
    assert!(!said(&run.outcome.cautions, "measuring"));
    let run = files::solve(&rest("support = \"edge\"", "0.02"));
    let flex = run.outcome.inspection.unwrap();
    assert!(flex.weight.is_none() && flex.not_computed == [NotComputed::Weight]);
    let missing = run.json["inspection"]["not_computed"][0].as_str().unwrap();
    assert!(missing.contains("density"), "{missing}");
    // the document says what was found
    let heavy = rest(
        &format!("{press}\nsupport = \"edge\"\ntemperature = 23.5"),
        "0.002",
    )
    .replace("poisson_ratio", "density = 7850, poisson_ratio")
    .replace(
        "[tolerance]",
        "[[part.lobes]]\nsurface = \"outer\"\ncount = 3\namplitude = 0.3\nangle = 50\n[tolerance]",
    );
    let run = files::solve(&heavy);
    let (told, flex) = (&run.json["inspection"], run.outcome.inspection.unwrap());
    let same = |pointer: &str, value: f64| {
        assert!(
            (files::number(told, pointer) - value).abs() <= 1e-11 * value.abs(),
            "{pointer}"
        )
    };
    let weight = flex.weight.unwrap();
    // the general zone is for what is cut, the bore
    let sags = "own weight puts it out of round";
    let said = run.outcome.cautions.iter().map(ToString::to_string);
    let by_weight: Vec<_> = said.filter(|c| c.contains(sags)).collect();
    assert!(
        by_weight.len() == 1 && by_weight[0].contains("(bore)"),
        "{by_weight:?}"
    );
    assert!(weight.up_deg > 0.0);
    same("/temperature", 23.5);
    same("/own_weight/weight", weight.weight);
    same("/own_weight/up", weight.up_deg);
    same("/own_weight/out_of_roundness", weight.out_of_roundness);
    same("/own_weight/vertical", weight.vertical);
    same("/own_weight/horizontal", weight.horizontal);
    for (k, f) in flex.force.iter().enumerate() {
        same(&format!("/measuring_force/{k}/change"), f.change);
        same(&format!("/measuring_force/{k}/variation"), f.variation);
    }
    let plain = files::solve(&rest("circle = \"least-squares\"", "0.02"));
    assert!(plain.outcome.inspection.is_none());
}
