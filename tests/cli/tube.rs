//! A part along its length, as a case says it: what arrives of `[tube]`, of grips and of cuts over a part of the length, and what is refused.

use std::fs;
use std::sync::Arc;

use ringwright_solver::case::{
    Case, CaseBuilder, Grip, Inspection, Member, Problem, Reach, Step, Support, Tube, Turned, read,
};
use ringwright_solver::geometry::{Meridian, MeridianPoint, Surface};
use ringwright_solver::scheme::{
    EndClamp, EndCondition, HoldingScheme, Parameter, Registry, SchemeError, Section, Supports,
    Values,
};

use crate::call;

/// A sleeve with a flange at the gripped end.
const CASE: &str = r#"units = "mm"
[part]
outer_diameter = 60.0
bore_diameter = 50.0
length = 40.0
material = "steel 1045 hot rolled"
[tube]
stations = [0.0, 10.0, 40.0]
outline = [
  [0.0, 80.0, 50.0],
  [10.0, 80.0, 50.0],
  [10.0, 60.0, 50.0],
  [40.0, 60.0, 50.0],
]
[[hold.chuck]]
scheme = "jaws"
count = 3
force = 500.0
width = 12.0
grip_from = 12.0
grip_length = 8.0
[[step]]
hold = "chuck"
[[step.cut]]
surface = "bore"
diameter = 52.0
from = 5.0
to = 30.0
end_diameter = 53.0
"#;

fn good(text: &str) -> Case {
    read(text, &ringwright_plugins::registry()).unwrap_or_else(|p| panic!("{text}\n{p:#?}"))
}

fn bad(text: &str) -> Vec<Problem> {
    match read(text, &ringwright_plugins::registry()) {
        Ok(_) => panic!("not refused:\n{text}"),
        Err(problems) => problems,
    }
}

/// The case with `old` changed to `new`, each once.
fn with(changes: &[(&str, &str)]) -> String {
    changes.iter().fold(CASE.to_owned(), |text, (old, new)| {
        assert!(text.contains(old), "{old} is not in the case");
        text.replacen(old, new, 1)
    })
}

/// One way to break the case: what changes, the key that is refused on the line of the first `at`, and the words.
struct Slip<'s> {
    changes: &'s [(&'s str, &'s str)],
    field: &'s str,
    at: &'s str,
    says: &'s str,
}

fn expect(slips: &[Slip]) {
    for s in slips {
        let text = with(s.changes);
        let at = text
            .find(s.at)
            .unwrap_or_else(|| panic!("no {} in\n{text}", s.at));
        let line = 1 + text[..at].matches('\n').count();
        let problems = bad(&text);
        assert!(
            problems
                .iter()
                .any(|p| p.line == line && p.field == s.field && p.message.contains(s.says)),
            "{text}\nshould be refused at line {line} as {} saying {:?}; got:\n{problems:#?}",
            s.field,
            s.says
        );
    }
}

const fn slip<'s>(
    changes: &'s [(&'s str, &'s str)],
    field: &'s str,
    at: &'s str,
    says: &'s str,
) -> Slip<'s> {
    Slip {
        changes,
        field,
        at,
        says,
    }
}

fn flanged() -> Meridian {
    let rows = [[0.0, 40.0], [10.0, 40.0], [10.0, 30.0], [40.0, 30.0]];
    let bore = 25.0;
    let points = rows.map(|[z, outer]| MeridianPoint { z, outer, bore });
    Meridian::through(&points).unwrap()
}

fn jaws() -> Member {
    Member::of("jaws")
        .with("count", 3)
        .with("force", 500.0)
        .with("width", 12.0)
}

fn sleeve() -> CaseBuilder {
    CaseBuilder::ring(60.0, 50.0, 40.0, "steel 1045 hot rolled")
}

fn tube() -> Tube {
    Tube {
        stations: vec![0.0, 10.0, 40.0],
        outline: Some(flanged()),
    }
}

#[test]
fn a_tube_arrives_and_is_that_made_in_code() {
    let c = good(CASE);
    assert_eq!(c.tube, Some(tube()));
    let grip = Grip {
        from: 12.0,
        length: Some(8.0),
    };
    assert_eq!(c.holds[0].members[0].grip, grip);
    assert!(!c.holds[0].members[0].values.has("grip_from"));
    let reach = Reach {
        from: 5.0,
        to: Some(30.0),
        end_diameter: Some(53.0),
    };
    assert_eq!(c.steps[0].cuts[0].reach, reach);
    assert!(!c.assumed.iter().any(|a| a.contains("full length")));
    let made = sleeve()
        .tube(tube())
        .hold("chuck", [jaws().grip(12.0, 8.0)])
        .step(Step::held_by("chuck").cut_along(Surface::Bore, 52.0, reach))
        .build(&ringwright_plugins::registry())
        .unwrap();
    assert_eq!((&made.tube, &made.steps), (&c.tube, &c.steps));
    assert_eq!(made.holds[0].members[0].grip, grip);
    assert_eq!(made.assumed, c.assumed);
}

/// The same lengths in inches, by the file's unit and as text.
#[test]
fn lengths_along_the_part_are_lengths_as_all_others() {
    let inches = r#"units = "inch"
[part]
outer_diameter = "60 mm"
bore_diameter = 2.0
length = "1 1/2 in"
material = "steel 1045 hot rolled"
[tube]
stations = [0.0, "12.7 mm", 1.5]
outline = [[0, "60 mm", 2], [1.5, 2.5, 2.0]]
[[hold.chuck]]
scheme = "jaws"
count = 3
force = 100
width = 0.5
grip_from = 0.25
grip_length = "1/4 in"
[[step]]
hold = "chuck"
[[step.cut]]
surface = "bore"
diameter = 2.02
from = "5 mm"
to = 1
end_diameter = "52 mm"
"#;
    let c = good(inches);
    let near = |x: f64, y: f64| assert!((x - y).abs() < 1e-12 * y.max(1.0), "{x} {y}");
    let tube = c.tube.unwrap();
    for (x, y) in tube.stations.iter().zip([0.0, 12.7, 38.1]) {
        near(*x, y);
    }
    let outline = tube.outline.unwrap();
    assert_eq!(outline.ends(), [0.0, c.part.length]);
    near(outline.radius(Surface::Outer, 0.0), 30.0);
    near(outline.radius(Surface::Outer, c.part.length), 31.75);
    near(outline.radius(Surface::Bore, 20.0), 25.4);
    let grip = c.holds[0].members[0].grip;
    near(grip.from, 6.35);
    near(grip.length.unwrap(), 6.35);
    let reach = c.steps[0].cuts[0].reach;
    near(reach.from, 5.0);
    near(reach.to.unwrap(), 25.4);
    near(reach.end_diameter.unwrap(), 52.0);
}

/// An empty table has the part along its length all the same, and a grip says where it is with and without one.
#[test]
fn what_is_left_out_is_the_whole_length() {
    let bare = |tube: &str, grip: &str| {
        format!(
            "[part]\nouter_diameter = 60\nbore_diameter = 50\nlength = 0.3\nmaterial = \"PEEK\"\n{tube}[[hold.a]]\nscheme = \"jaws\"\n\
             count = 3\nforce = 5\nwidth = 9\n{grip}[[step]]\nhold = \"a\"\n[[step.cut]]\nsurface = \"bore\"\ndiameter = 51\n"
        )
    };
    let c = good(&bare("[tube]\n", ""));
    assert_eq!(c.tube, Some(Tube::default()));
    assert_eq!(c.holds[0].members[0].grip, Grip::default());
    assert_eq!(c.steps[0].cuts[0].reach, Reach::default());
    let said = |c: &Case| c.assumed.iter().any(|a| a == "grip over the full length");
    assert!(said(&c));
    let c = good(&bare("", "grip_from = 0.1\n"));
    assert_eq!(c.tube, None);
    let grip = c.holds[0].members[0].grip;
    assert_eq!((grip.from, grip.length), (0.1, None));
    assert!(!said(&c));
    // 0.1 and 0.2 are a little more than 0.3 together
    let c = good(&bare("", "grip_from = 0.1\ngrip_length = 0.2\n"));
    assert_eq!(c.holds[0].members[0].grip.length, None);
    let c = good(&bare("[tube]\n", "grip_length = 0.3\n"));
    assert_eq!(c.holds[0].members[0].grip, Grip::default());
    let c = good(&(bare("[tube]\n", "") + "to = 0.3\n"));
    assert_eq!(c.steps[0].cuts[0].reach.to, None);
}

#[test]
fn grips_that_the_part_does_not_have() {
    expect(&[
        slip(
            &[("grip_length = 8.0", "grip_length = 30.0")],
            "hold.chuck[0].grip_length",
            "grip_length",
            "the grip ends at 42.000 mm, beyond the part, which is 40.000 mm long; give at most 28.000 mm",
        ),
        slip(
            &[("grip_from = 12.0", "grip_from = 40.0")],
            "hold.chuck[0].grip_from",
            "grip_from",
            "the grip begins at 40.000 mm, but the part is 40.000 mm long; give less than that",
        ),
        slip(
            &[("grip_from = 12.0", "grip_from = -1")],
            "hold.chuck[0].grip_from",
            "grip_from",
            "is -1; it must be 0 mm or more",
        ),
        slip(
            &[("grip_length = 8.0", "grip_length = 0")],
            "hold.chuck[0].grip_length",
            "grip_length",
            "is 0; it must be above zero",
        ),
        slip(
            &[("grip_length = 8.0", "grip_length = \"8 N\"")],
            "hold.chuck[0].grip_length",
            "grip_length",
            "is a unit of force, and this is a length",
        ),
        slip(
            &[("grip_length = 8.0", "grip_lenght = 8.0")],
            "hold.chuck[0].grip_lenght",
            "grip_lenght",
            "did you mean \"grip_length\"?",
        ),
        slip(
            &[(
                "[[step]]",
                "[[hold.ends]]\nscheme = \"end-clamp\"\naxial_force = 100\ngrip_from = 3\n[[step]]",
            )],
            "hold.ends[0].grip_from",
            "grip_from = 3",
            "end-clamp presses on no surface along the part, so there is no grip to place; leave it out",
        ),
    ]);
    // without [tube] alike
    let slice = "[part]\nouter_diameter = 60\nbore_diameter = 50\nlength = 9\nmaterial = \"PEEK\"\n[[hold.a]]\nscheme = \"points\"\n\
                 count = 3\nforce = 5\ngrip_from = 5\ngrip_length = 5\n[[step]]\nhold = \"a\"\n";
    let problems = bad(slice);
    assert_eq!(
        (problems[0].line, &*problems[0].field),
        (11, "hold.a[0].grip_length")
    );
}

/// Plates as a scheme that does not say of itself that it presses on no surface, as one of an outside program cannot.
struct Plates;

impl HoldingScheme for Plates {
    fn name(&self) -> &str {
        "plates"
    }

    fn summary(&self) -> &str {
        "plates on both ends"
    }

    fn parameters(&self) -> &[Parameter] {
        &[]
    }

    fn example(&self) -> &str {
        ""
    }

    fn supports(&self, _: &Section, _: &Values) -> Result<Supports, SchemeError> {
        Ok(Supports {
            end_clamp: Some(EndClamp {
                force: 100.0,
                friction: None,
                ends: EndCondition::Sliding,
            }),
            ..Supports::default()
        })
    }
}

/// Where a scheme does not say that it grips nothing, its answer does.
#[test]
fn a_grip_without_anything_that_presses_is_refused() {
    let registry = Registry::default().add(Arc::new(Plates));
    let clamped = |member| {
        sleeve()
            .hold("ends", [member])
            .step(Step::held_by("ends"))
            .build(&registry)
    };
    assert!(clamped(Member::of("plates")).is_ok());
    for (member, key) in [
        (Member::of("plates").grip(5.0, None), "grip_from"),
        (Member::of("plates").grip(5.0, 3.0), "grip_length"),
    ] {
        let problems = clamped(member).unwrap_err().0;
        assert_eq!(problems[0].field, format!("hold.ends[0].{key}"));
        let says = "plates presses on no surface along the part";
        assert!(problems[0].message.contains(says), "{problems:?}");
    }
}

#[test]
fn stations_that_are_not_on_the_part() {
    const STATIONS: &str = "stations = [0.0, 10.0, 40.0]";
    expect(&[
        slip(
            &[(STATIONS, "stations = [0.0, 40.1]")],
            "tube.stations[1]",
            "stations",
            "40.100 mm lies beyond the part, which is 40.000 mm long",
        ),
        slip(
            &[(STATIONS, "stations = [0.0,\n20.0,\n10.0]")],
            "tube.stations[2]",
            "10.0]",
            "10.000 mm is not beyond the station before it, 20.000 mm",
        ),
        slip(
            &[(STATIONS, "stations = [5.0, 5.0]")],
            "tube.stations[1]",
            "stations",
            "give each once, rising",
        ),
        slip(
            &[(STATIONS, "stations = [-1.0]")],
            "tube.stations[0]",
            "stations",
            "is -1.0; it must be zero or more",
        ),
        slip(
            &[(STATIONS, "stations = 3")],
            "tube.stations",
            "stations",
            "expected a list of positions",
        ),
        slip(
            &[(STATIONS, "station = [3]")],
            "tube.station",
            "station",
            "did you mean \"stations\"?",
        ),
    ]);
    let many: Vec<String> = (0..1001)
        .map(|k| (0.01 * f64::from(k)).to_string())
        .collect();
    let many = format!("stations = [{}]", many.join(", "));
    expect(&[slip(
        &[(STATIONS, &many)],
        "tube.stations",
        "stations",
        "1001 stations; 1000 are the most",
    )]);
}

#[test]
fn outlines_of_no_part() {
    const LAST: &str = "  [40.0, 60.0, 50.0],\n";
    expect(&[
        slip(
            &[("[10.0, 60.0, 50.0]", "[9.0, 60.0, 50.0]")],
            "tube.outline[2]",
            "[9.0",
            "lies at 9.000 mm, nearer to the gripped end than the point before it, at 10.000 mm",
        ),
        slip(
            &[("[10.0, 60.0, 50.0]", "[10.0, 60.0, 60.0]")],
            "tube.outline[2]",
            "[10.0, 60.0, 60.0]",
            "the bore, 60.000 mm, is not smaller than the outside, 60.000 mm",
        ),
        slip(
            &[(
                "[10.0, 60.0, 50.0]",
                "[10.0, 60.0, 50.0], [10.0, 61.0, 50.0]",
            )],
            "tube.outline[3]",
            "[10.0, 61.0",
            "is the third point at 10.000 mm; a step has two",
        ),
        slip(
            &[
                ("[0.0, 80.0, 50.0]", "[0.0, 80.0, 62.0]"),
                ("[10.0, 80.0, 50.0]", "[10.0, 80.0, 62.0]"),
            ],
            "tube.outline[2]",
            "[10.0, 60.0, 50.0]",
            "do not meet: outside 80.000 mm and bore 62.000 mm before it, outside 60.000 mm and bore 50.000 mm after it",
        ),
        slip(
            &[("[40.0, 60.0, 50.0]", "[39.0, 60.0, 50.0]")],
            "tube.outline",
            "outline",
            "ends at 39.000 mm, but the part is 40.000 mm long (part.length)",
        ),
        slip(
            &[("[0.0, 80.0, 50.0]", "[1.0, 80.0, 50.0]")],
            "tube.outline",
            "outline",
            "begins at 1.000 mm; the gripped end is 0",
        ),
        slip(
            &[("[0.0, 80.0, 50.0]", "[0.0, 80.0]")],
            "tube.outline[0]",
            "[0.0, 80.0]",
            "expected three lengths: [z, outer_diameter, bore_diameter]",
        ),
        slip(
            &[("[0.0, 80.0, 50.0]", "[0.0, -80.0, 50.0]")],
            "tube.outline[0][1]",
            "[0.0, -80.0",
            "is -80.0; it must be above zero",
        ),
        slip(
            &[
                ("  [0.0, 80.0, 50.0],\n  [10.0, 80.0, 50.0],\n", ""),
                (LAST, ""),
            ],
            "tube.outline",
            "outline",
            "has no length; give at least two points",
        ),
        slip(
            &[("[10.0, 60.0, 50.0]", "[10.0000001, 60.0, 50.0]")],
            "tube.outline",
            "outline",
            "give a step one position, or move them apart",
        ),
        slip(
            &[("outer_diameter = 60.0", "outer_diameter = 61.0")],
            "part.outer_diameter",
            "outer_diameter",
            "61.000 mm is at no point of tube.outline, whose outside has 80.000 mm, 60.000 mm; give the diameter where the part is held",
        ),
        slip(
            &[("bore_diameter = 50.0", "bore_diameter = 49.0")],
            "part.bore_diameter",
            "bore_diameter",
            "whose bore has 50.000 mm",
        ),
        slip(
            &[
                (
                    "[10.0, 60.0, 50.0]",
                    "[10.0, 60.0, 50.0], [20.0, 51.0, 50.0]",
                ),
                (
                    "[tube]",
                    "[[part.lobes]]\nsurface = \"outer\"\ncount = 2\namplitude = 0.6\n[tube]",
                ),
            ],
            "part.lobes",
            "[[part.lobes]]",
            "leaves no wall at 90.0 deg (-0.100 mm) where the outline is thinnest, 0.500 mm",
        ),
    ]);
    // a floor has no bore, and a point on the axis of the bore is not a fault
    good(&with(&[(
        "[0.0, 80.0, 50.0],\n",
        "[0.0, 80.0, 0.0],\n[4.0, 80.0, 0], [4.0, 80.0, 50.0],\n",
    )]));
}

#[test]
fn cuts_that_the_part_does_not_have() {
    expect(&[
        slip(
            &[("to = 30.0", "to = 41.0")],
            "step[0].cut[0].to",
            "to = 41",
            "the cut ends at 41.000 mm, beyond the part, which is 40.000 mm long; give no more than that",
        ),
        slip(
            &[("from = 5.0", "from = 40.0")],
            "step[0].cut[0].from",
            "from = 40.0",
            "the cut begins at 40.000 mm, but the part is 40.000 mm long",
        ),
        slip(
            &[("from = 5.0", "from = 30.0")],
            "step[0].cut[0].to",
            "to = 30",
            "the cut ends at 30.000 mm, which is not beyond its beginning at 30.000 mm",
        ),
        slip(
            &[("from = 5.0", "from = -5.0")],
            "step[0].cut[0].from",
            "from = -5",
            "is -5.0; it must be zero or more",
        ),
        slip(
            &[("to = 30.0", "to = 0")],
            "step[0].cut[0].to",
            "to = 0",
            "is 0; it must be above zero",
        ),
        slip(
            &[("end_diameter = 53.0", "end_diameter = 0")],
            "step[0].cut[0].end_diameter",
            "end_diameter",
            "is 0; it must be above zero",
        ),
        slip(
            &[("end_diameter = 53.0", "end_diamter = 53.0")],
            "step[0].cut[0].end_diamter",
            "end_diamter",
            "did you mean \"end_diameter\"?",
        ),
    ]);
}

#[test]
fn cuts_through_the_wall_of_a_tube() {
    const CUT: &str =
        "surface = \"bore\"\ndiameter = 52.0\nfrom = 5.0\nto = 30.0\nend_diameter = 53.0\n";
    let one = |cut: &'static str| [(CUT, cut)];
    for (changes, field, says) in [
        (
            one("surface = \"bore\"\ndiameter = 60.0\n"),
            "step[0].cut[0].diameter",
            "boring to 60.000 mm cuts through the wall: the outside is 60.000 mm at 10.000 mm from the gripped end; stay below that",
        ),
        // within the flange, but its shoulder is gone
        (
            one("surface = \"bore\"\ndiameter = 62.0\nto = 10.0\n"),
            "step[0].cut[0].diameter",
            "the outside is 60.000 mm at 10.000 mm from the gripped end",
        ),
        (
            one("surface = \"outer\"\ndiameter = 60.0\nend_diameter = 45.0\n"),
            "step[0].cut[0].end_diameter",
            "turning to 45.000 mm cuts through the wall: the bore is 50.000 mm at 40.000 mm from the gripped end; stay above that",
        ),
        // two cuts that each leave a wall, but not both
        (
            one(
                "surface = \"outer\"\ndiameter = 54.0\nfrom = 20.0\n[[step.cut]]\nsurface = \"bore\"\ndiameter = 54.0\nfrom = 15.0\n",
            ),
            "step[0].cut[1].diameter",
            "the outside is 54.000 mm at 20.000 mm",
        ),
        (
            one("surface = \"bore\"\ndiameter = 35.0\nfrom = 12.0\n"),
            "step[0].cut[0].diameter",
            "removes nothing: the bore is already 50.000 mm there",
        ),
    ] {
        let problems = bad(&with(&changes));
        assert!(
            problems
                .iter()
                .any(|p| p.field == field && p.message.contains(says)),
            "{changes:?}\n{problems:#?}"
        );
    }
    // the flange may be bored wider than the hub is thick, and what is turned end for end is cut from its other end
    for cut in [
        "surface = \"bore\"\ndiameter = 62.0\nto = 8.0\n",
        "surface = \"outer\"\ndiameter = 70.0\n",
        "surface = \"outer\"\ndiameter = 54.0\nfrom = 20.0\n[[step]]\nhold = \"free\"\nflipped = true\n[[step.cut]]\nsurface = \"bore\"\n\
         diameter = 55.0\nfrom = 25.0\nto = 32.0\n",
    ] {
        good(&with(&one(cut)));
    }
    let flipped = "surface = \"outer\"\ndiameter = 54.0\nfrom = 20.0\n[[step]]\nhold = \"free\"\nflipped = true\n[[step.cut]]\n\
                   surface = \"bore\"\ndiameter = 55.0\nfrom = 5.0\nto = 12.0\n";
    let problems = bad(&with(&one(flipped)));
    assert!(
        problems[0].message.contains("from the gripped end"),
        "{problems:#?}"
    );
}

/// Pads are sized by cuts over the whole length alone, and beside a flange by such as reach the nominal diameter.
#[test]
fn the_nominal_section_follows_whole_cuts() {
    let cut = |keys: &str| {
        let text = CASE.split("[[step.cut]]").next().unwrap();
        let c = good(&format!(
            "{text}[[step.cut]]\n{keys}[[step]]\nhold = \"free\"\n"
        ));
        let section = c.section_at(1);
        (2.0 * section.outer_radius, 2.0 * section.bore_radius)
    };
    assert_eq!(cut("surface = \"bore\"\ndiameter = 52\n"), (60.0, 52.0));
    let partly = "surface = \"bore\"\ndiameter = 52\nfrom = 1\n";
    assert_eq!(cut(partly), (60.0, 50.0));
    let cone = "surface = \"bore\"\ndiameter = 52\nend_diameter = 51\n";
    assert_eq!(cut(cone), (60.0, 50.0));
    let level = "surface = \"bore\"\ndiameter = 52\nend_diameter = 52\n";
    assert_eq!(cut(level), (60.0, 52.0));
    let beside = "surface = \"outer\"\ndiameter = 70\n";
    assert_eq!(cut(beside), (60.0, 50.0));
    assert_eq!(cut("surface = \"outer\"\ndiameter = 58\n"), (58.0, 50.0));
}

/// A limit of size may be meant for any diameter that the finished part has.
#[test]
fn limits_of_size_know_all_diameters() {
    for (limits, taken) in [
        ("[52.4, 52.6]", true),
        ("[50, 50.1]", true),
        ("[60, 61]", false),
    ] {
        let text = format!("[tolerance.bore]\ndiameter = {limits}\n{CASE}")
            .replace("units = \"mm\"\n", "");
        let read = read(&text, &ringwright_plugins::registry());
        assert_eq!(read.is_ok(), taken, "{limits} {read:?}");
    }
}

#[test]
fn keys_along_the_length_need_a_tube() {
    let slice =
        CASE.split("[tube]").next().unwrap().to_owned() + &CASE[CASE.find("[[hold").unwrap()..];
    let problems = bad(&slice);
    for key in ["from", "to", "end_diameter"] {
        let field = format!("step[0].cut[0].{key}");
        let problem = problems.iter().find(|p| p.field == field).unwrap();
        assert!(problem.message.starts_with("needs [tube]"), "{problem}");
        let text = slice.lines().nth(problem.line - 1).unwrap();
        assert!(text.starts_with(key), "{text}");
    }
    assert_eq!(problems.len(), 3, "{problems:#?}");
}

#[test]
fn what_goes_with_a_slice_alone_is_refused() {
    expect(&[
        slip(
            &[("[tube]", "[mesh]\naround = 60\nthrough = 2\n[tube]")],
            "mesh",
            "[mesh]",
            "with [tube] the part is meshed along its length",
        ),
        slip(
            &[("hold = \"chuck\"", "hold = \"chuck\"\nturned = \"any\"")],
            "step[0].turned",
            "turned",
            "with [tube] the worst way to turn the part is not searched for; give an angle",
        ),
        slip(
            &[(
                "hold = \"chuck\"",
                "hold = \"chuck\"\nstress_relieved = true",
            )],
            "step[0].stress_relieved",
            "stress_relieved",
            "with [tube] no residual stress is modelled",
        ),
        slip(
            &[(
                "[tube]",
                "residual_hoop_stress = { outer = 10, bore = -10 }\n[tube]",
            )],
            "part.residual_hoop_stress",
            "residual",
            "with [tube] residual stress is not let out",
        ),
        slip(
            &[(
                "[tube]",
                "residual_hoop_stress = { slit = { gap = 0.1 } }\n[tube]",
            )],
            "part.residual_hoop_stress",
            "residual",
            "leave [tube] out",
        ),
        slip(
            &[(
                "[tube]",
                "[inspection]\ngauge = { kind = \"two-point\" }\nmeasuring_force = 1\n[tube]",
            )],
            "inspection.measuring_force",
            "measuring_force",
            "with [tube] what the gauge flexes is not computed",
        ),
        slip(
            &[("[tube]", "[inspection]\nsupport = \"edge\"\n[tube]")],
            "inspection.support",
            "support",
            "with [tube] the part is measured lying on its face",
        ),
    ]);
    for taken in [
        "[inspection]\nsupport = \"flat\"\n[tube]",
        "[inspection]\ngauge = { kind = \"two-point\" }\n[tube]",
    ] {
        good(&with(&[("[tube]", taken)]));
    }
    good(&with(&[(
        "hold = \"chuck\"",
        "hold = \"chuck\"\nturned = 30\nstress_relieved = false",
    )]));
}

/// In a slice two pads at one angle are in each other's way, along a tube they may stand side by side.
#[test]
fn pads_may_stand_side_by_side_along_a_tube() {
    let second = |from: f64| {
        format!(
            "[[hold.chuck]]\nscheme = \"jaws\"\ncount = 3\nforce = 50\nwidth = 12\ngrip_from = {from}\n[[step]]"
        )
    };
    good(&with(&[("[[step]]", &second(20.0))]));
    let problems = bad(&with(&[("[[step]]", &second(19.0))]));
    assert!(problems[0].message.contains("overlaps"), "{problems:#?}");
}

/// The same problems with the same keys and words by file and in code.
#[test]
fn in_code_the_same_is_told() {
    let held = |grip: Member| {
        sleeve()
            .tube(tube())
            .hold("chuck", [grip])
            .step(Step::held_by("chuck"))
    };
    let text = |changes: &[(&str, &str)]| {
        let text = with(changes);
        text.split("[[step.cut]]").next().unwrap().to_owned()
    };
    let reach = |from, to: f64| Reach {
        from,
        to: Some(to),
        end_diameter: Some(53.0),
    };
    let cut = |from, to| {
        let step = Step::held_by("chuck").cut_along(Surface::Bore, 52.0, reach(from, to));
        sleeve()
            .tube(tube())
            .hold("chuck", [jaws().grip(12.0, 8.0)])
            .step(step)
    };
    let mut any = Step::held_by("chuck");
    any.turned = Turned::Any;
    any.stress_relieved = true;
    let short = Tube {
        stations: vec![0.0, 50.0, 20.0],
        outline: Meridian::tube(30.0, 25.0, 39.0).ok(),
    };
    let edge = Inspection {
        support: Support::Edge,
        ..Inspection::default()
    };
    let cases: Vec<(CaseBuilder, String)> = vec![
        (
            held(jaws().grip(12.0, 30.0)),
            text(&[("grip_length = 8.0", "grip_length = 30.0")]),
        ),
        (
            held(jaws().grip(-1.0, None)),
            text(&[("grip_from = 12.0\ngrip_length = 8.0", "grip_from = -1")]),
        ),
        (
            held(jaws().grip(50.0, 8.0)),
            text(&[("grip_from = 12.0", "grip_from = 50")]),
        ),
        (cut(5.0, 41.0), with(&[("to = 30.0", "to = 41")])),
        (cut(35.0, 30.0), with(&[("from = 5.0", "from = 35")])),
        (cut(-5.0, 30.0), with(&[("from = 5.0", "from = -5")])),
        (
            sleeve()
                .hold("chuck", [jaws().grip(12.0, 8.0)])
                .step(Step::held_by("chuck").cut_along(Surface::Bore, 52.0, reach(5.0, 30.0))),
            CASE.split("[tube]").next().unwrap().to_owned() + &CASE[CASE.find("[[hold").unwrap()..],
        ),
        (
            sleeve()
                .tube(tube())
                .mesh(60, 2)
                .residual_hoop_stress(10.0, -10.0)
                .inspection(edge)
                .hold("chuck", [jaws().grip(12.0, 8.0)])
                .step(any),
            text(&[
                (
                    "[tube]",
                    "residual_hoop_stress = { outer = 10, bore = -10 }\n[inspection]\nsupport = \"edge\"\n[mesh]\naround = 60\nthrough = 2\n\
                     [tube]",
                ),
                (
                    "hold = \"chuck\"",
                    "hold = \"chuck\"\nturned = \"any\"\nstress_relieved = true",
                ),
            ]),
        ),
        (
            sleeve()
                .tube(short)
                .hold("chuck", [jaws().grip(12.0, 8.0)])
                .step(Step::held_by("chuck")),
            {
                let text = text(&[("[0.0, 10.0, 40.0]", "[0, 50, 20]")]);
                let (from, to) = (text.find("outline").unwrap(), text.find("[[hold").unwrap());
                format!(
                    "{}outline = [[0, 60, 50], [39, 60, 50]]\n{}",
                    &text[..from],
                    &text[to..]
                )
            },
        ),
    ];
    for (made, text) in cases {
        let made = made.build(&ringwright_plugins::registry());
        let words = |p: &Problem| (p.field.clone(), p.message.clone(), p.kind);
        let mut made: Vec<_> = made.unwrap_err().0.iter().map(words).collect();
        let mut read: Vec<_> = bad(&text).iter().map(words).collect();
        made.sort_by(|a, b| (&a.0, &a.1).cmp(&(&b.0, &b.1)));
        read.sort_by(|a, b| (&a.0, &a.1).cmp(&(&b.0, &b.1)));
        assert_eq!(made, read, "{text}");
    }
}

/// What cannot be placed in code alone: numbers that are none, in any place, and no panic.
#[test]
fn nonsense_in_code_is_refused() {
    for x in [f64::NAN, f64::INFINITY, -1.0, 1e300] {
        let reach = Reach {
            from: x,
            to: Some(x),
            end_diameter: Some(x),
        };
        let made = sleeve()
            .tube(Tube {
                stations: vec![x],
                outline: None,
            })
            .hold("chuck", [jaws().grip(x, x)])
            .step(Step::held_by("chuck").cut_along(Surface::Outer, 59.0, reach))
            .build(&ringwright_plugins::registry());
        let problems = made.unwrap_err();
        for field in [
            "tube.stations[0]",
            "hold.chuck[0].grip_from",
            "step[0].cut[0].from",
        ] {
            assert!(
                problems.0.iter().any(|p| p.field == field),
                "{x}: {field}\n{problems}"
            );
        }
    }
}

/// The program says it with file, line and exit 3.
#[test]
fn the_program_refuses_a_tube_with_its_line() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("case.toml");
    fs::write(&path, CASE).unwrap();
    let c = call(&["check", path.to_str().unwrap()]);
    assert_eq!((c.exit, c.err.as_str()), (0, ""));
    fs::write(&path, with(&[("[10.0, 60.0, 50.0]", "[9.0, 60.0, 50.0]")])).unwrap();
    let c = call(&["check", path.to_str().unwrap()]);
    assert_eq!(c.exit, 3);
    let start = format!("{}:12:3: tube.outline[2]: lies at 9.000 mm", path.display());
    assert!(c.err.contains(&start), "{}", c.err);
}

/// Both keys of a grip are said once for all schemes.
#[test]
fn the_keys_of_a_grip_are_listed_once() {
    for args in [vec!["schemes"], vec!["schemes", "--markdown"]] {
        let c = call(&args);
        for key in ["grip_from", "grip_length"] {
            assert_eq!(c.out.matches(key).count(), 1, "{args:?} {key}");
        }
    }
    assert!(
        call(&["schemes", "jaws"])
            .out
            .contains("grip_from, grip_length")
    );
    assert!(!call(&["schemes", "end-clamp"]).out.contains("grip_from"));
}
