//! A case made in code is what the same case read from a file is, and of what is wrong with it the same is said.

use ringwright_solver::case::{Case, CaseBuilder, HoldMember, Member, Place, Problem, Step, read};
use ringwright_solver::geometry::Surface;
use ringwright_solver::process::{Options, Reason, Unfit, run, starting_mesh};
use ringwright_solver::watch::Unwatched;

const HEAD: &str = "[part]\nouter_diameter = 110.0\nbore_diameter = 100.0\nlength = 20.0\nmaterial = \"aluminium 6061-T6\"\n";

fn ring() -> CaseBuilder {
    CaseBuilder::ring(110.0, 100.0, 20.0, "aluminium 6061-T6")
}

fn jaws() -> Member {
    Member::of("jaws")
        .with("count", 3)
        .with("force", 600.0)
        .with("width", 12.0)
}

const JAWS: &str = "[[hold.chuck]]\nscheme = \"jaws\"\ncount = 3\nforce = 600.0\nwidth = 12.0\n";
const STEP: &str = "[[step]]\nhold = \"chuck\"\n";

fn held(members: impl IntoIterator<Item = Member>) -> CaseBuilder {
    ring().hold("chuck", members).step(Step::held_by("chuck"))
}

fn from_file(text: &str) -> Result<Case, Vec<Problem>> {
    read(text, &ringwright_plugins::registry())
}

/// Everything that a case holds.
#[test]
fn a_case_in_code_is_that_of_the_file() {
    let screws = Member::of("screws")
        .with("count", 3)
        .with("first_angle", 60.0)
        .with("crown_radius", "10 mm")
        .with("gap", [0.01, 0.0, 0.02]);
    let made = ring()
        .title("both ways")
        .accuracy(0.02)
        .lobes([Surface::Bore], 3, 0.02, 10.0)
        .bore_offset(0.05, 90.0)
        .residual_hoop_stress(40.0, -40.0)
        .hold("chuck", [jaws(), screws])
        .step(Step::held_by("chuck").cut(Surface::Bore, 101.0))
        .step(Step::held_by("free"))
        .roundness(0.02)
        .build(&ringwright_plugins::registry())
        .unwrap();
    let file = format!(
        "title = \"both ways\"\naccuracy = 0.02\n[tolerance]\nroundness = 0.02\n{HEAD}bore_offset = {{ distance = 0.05, angle = 90 }}\n\
         residual_hoop_stress = {{ outer = 40, bore = -40 }}\n[[part.lobes]]\nsurface = \"bore\"\ncount = 3\namplitude = 0.02\nangle = 10\n\
         {JAWS}[[hold.chuck]]\nscheme = \"screws\"\ncount = 3\nfirst_angle = 60\ncrown_radius = 10\ngap = [0.01, 0, 0.02]\n{STEP}\
         [[step.cut]]\nsurface = \"bore\"\ndiameter = 101\n[[step]]\nhold = \"free\"\n"
    );
    let read = from_file(&file).unwrap();
    assert_eq!((&made.title, made.accuracy), (&read.title, read.accuracy));
    assert_eq!((&made.part, &made.steps), (&read.part, &read.steps));
    assert_eq!(made.tolerance, read.tolerance);
    assert_eq!(made.inspection, read.inspection);
    assert_eq!((made.mesh, &made.assumed), (read.mesh, &read.assumed));
    let said = |m: &HoldMember| (m.scheme.name().to_owned(), m.values.clone());
    let all = |c: &Case| -> Vec<_> { c.holds[0].members.iter().map(said).collect() };
    assert_eq!(all(&made), all(&read));
    assert!(made.assumed.iter().any(|a| a.contains("(default)")));
}

/// Fifteen lines without a file come to the bits of the file.
#[test]
fn it_is_solved_like_the_file() {
    let made = ring()
        .hold("chuck", [jaws()])
        .step(Step::held_by("chuck").cut(Surface::Bore, 101.0))
        .build(&ringwright_plugins::registry())
        .unwrap();
    let text = format!("{HEAD}{JAWS}{STEP}[[step.cut]]\nsurface = \"bore\"\ndiameter = 101\n");
    let read = from_file(&text).unwrap();
    let released = |case: &Case| {
        let outcome = run(case, &Options::default()).unwrap();
        outcome.steps[0].released.clone()
    };
    assert_eq!(released(&made), released(&read));
}

/// The same problems with the same keys, kinds and words; only lines are missing.
#[test]
fn what_is_wrong_is_told_alike() {
    let jaws_with = |line: &str| format!("{HEAD}{JAWS}{line}\n{STEP}");
    let alone = |hold: &str| format!("{HEAD}[[hold.chuck]]\n{hold}\n{STEP}");
    let part = |from: &str, to: &str| format!("{}{JAWS}{STEP}", HEAD.replace(from, to));
    let cut = |surface: &str, diameter: &str| {
        format!("{HEAD}{JAWS}{STEP}[[step.cut]]\nsurface = \"{surface}\"\ndiameter = {diameter}\n")
    };
    let step = || Step::held_by("chuck");
    let cases: Vec<(CaseBuilder, String)> = vec![
        (
            CaseBuilder::ring(110.0, 120.0, 20.0, "aluminium 6061-T6")
                .hold("chuck", [jaws()])
                .step(step()),
            part("= 100.0", "= 120.0"),
        ),
        (
            CaseBuilder::ring(110.0, 100.0, f64::NAN, "6061")
                .hold("chuck", [jaws()])
                .step(step()),
            part("20.0", "nan").replace("aluminium 6061-T6", "6061"),
        ),
        (held([jaws().with("cuont", 3)]), jaws_with("cuont = 3")),
        (
            held([jaws().with("key_torque", 3)]),
            jaws_with("key_torque = 3"),
        ),
        (
            held([jaws().with("drive", "selfcentring")]),
            jaws_with("drive = \"selfcentring\""),
        ),
        (
            held([jaws().with("relief_width", -1.5)]),
            jaws_with("relief_width = -1.5"),
        ),
        (
            held([jaws().with("relief_width", "3 N")]),
            jaws_with("relief_width = \"3 N\""),
        ),
        (
            held([jaws().with("shim_modulus", 1e13)]),
            jaws_with("shim_modulus = 1e13"),
        ),
        (held([jaws().with("arc", 20.0)]), jaws_with("arc = 20.0")),
        (
            held([Member::of("jaws").with("count", 2.5)]),
            alone("scheme = \"jaws\"\ncount = 2.5"),
        ),
        (
            held([Member::of("jaws").with("count", 0)]),
            alone("scheme = \"jaws\"\ncount = 0"),
        ),
        (
            held([Member::of("points").with("count", 3)]),
            alone("scheme = \"points\"\ncount = 3"),
        ),
        (held([Member::of("jawz")]), alone("scheme = \"jawz\"")),
        (held([]), format!("hold.chuck = []\n{HEAD}{STEP}")),
        (held([jaws(), jaws()]), format!("{HEAD}{JAWS}{JAWS}{STEP}")),
        (
            held([Member::of("points").with("count", 1).with("force", 5)]),
            alone("scheme = \"points\"\ncount = 1\nforce = 5"),
        ),
        (
            ring().hold("free", [jaws()]).step(Step::held_by("free")),
            format!("{HEAD}{JAWS}{STEP}").replace("chuck", "free"),
        ),
        (
            ring().hold("chuck", [jaws()]).step(Step::held_by("chukc")),
            format!("{HEAD}{JAWS}[[step]]\nhold = \"chukc\"\n"),
        ),
        (ring().hold("chuck", [jaws()]), format!("{HEAD}{JAWS}")),
        (
            ring()
                .hold("chuck", [jaws()])
                .step(step().cut(Surface::Bore, 120.0)),
            cut("bore", "120"),
        ),
        (
            ring()
                .hold("chuck", [jaws()])
                .step(step().cut(Surface::Outer, 200.0)),
            cut("outer", "200"),
        ),
        (
            ring()
                .hold("chuck", [jaws()])
                .step(step().cut(Surface::Bore, -1.0)),
            cut("bore", "-1"),
        ),
        (
            held([jaws()]).accuracy(1e-9),
            format!("accuracy = 1e-9\n{HEAD}{JAWS}{STEP}"),
        ),
        (
            held([jaws()]).accuracy(0.9),
            format!("accuracy = 0.9\n{HEAD}{JAWS}{STEP}"),
        ),
        (
            held([jaws()]).mesh(3, 2),
            format!("{HEAD}{JAWS}{STEP}[mesh]\naround = 3\nthrough = 2\n"),
        ),
        (
            held([jaws()]).mesh(100_000, 100),
            format!("{HEAD}{JAWS}{STEP}[mesh]\naround = 100000\nthrough = 100\n"),
        ),
        (
            held([jaws()]).roundness(30.0),
            format!("{HEAD}{JAWS}{STEP}[tolerance]\nroundness = 30\n"),
        ),
        (
            held([jaws()]).residual_hoop_stress(100.0, 50.0),
            format!("{HEAD}residual_hoop_stress = {{ outer = 100, bore = 50 }}\n{JAWS}{STEP}"),
        ),
        (
            held([jaws()]).bore_offset(20.0, 0.0),
            format!("{HEAD}bore_offset = {{ distance = 20 }}\n{JAWS}{STEP}"),
        ),
        (
            held([jaws()]).lobes([Surface::Bore], 400, 0.01, 0.0),
            format!(
                "{HEAD}[[part.lobes]]\nsurface = \"bore\"\ncount = 400\namplitude = 0.01\n{JAWS}{STEP}"
            ),
        ),
    ];
    let (mut told, mut differ) = (0, Vec::new());
    for (made, text) in cases {
        let made = made.build(&ringwright_plugins::registry());
        let (Err(made), Err(read)) = (made, from_file(&text)) else {
            panic!("not refused:\n{text}");
        };
        let words = |p: &Problem| (p.field.clone(), p.message.clone(), p.kind);
        let mut made_words: Vec<_> = made.0.iter().map(words).collect();
        let mut read_words: Vec<_> = read.iter().map(words).collect();
        // a file is told in its order, code in the order of the checks
        made_words.sort_by(|a, b| (&a.0, &a.1).cmp(&(&b.0, &b.1)));
        read_words.sort_by(|a, b| (&a.0, &a.1).cmp(&(&b.0, &b.1)));
        if made_words != read_words {
            differ.push(format!("{text}\n{made_words:#?}\n{read_words:#?}"));
        }
        assert!(made.0.iter().all(|p| p.line == 0 && !p.field.is_empty()));
        let shown = made.to_string();
        assert!(!shown.contains("0:0"), "{shown}");
        told += made.0.len();
    }
    assert!(differ.is_empty(), "{}", differ.join("\n"));
    assert!(told > 30, "{told}");
}

/// A case that is changed after its checks is refused all the same, with its place and its reason.
#[test]
fn a_case_spoilt_after_its_checks_is_refused() {
    let mut case = held([jaws()])
        .build(&ringwright_plugins::registry())
        .unwrap();
    case.steps[0].hold = "gone".into();
    let error = run(&case, &Options::default()).unwrap_err();
    assert_eq!(error.at, Place::HoldOfStep(0));
    let name = "gone".to_owned();
    assert_eq!(error.reason, Reason::Input(Unfit::NoHold { name }));
    assert_eq!(error.to_string(), "there is no hold \"gone\" in the case");
    case.steps.clear();
    let error = starting_mesh(&case, &Unwatched).unwrap_err();
    assert_eq!(error.at.to_string(), "step");
    assert_eq!(error.reason, Reason::Input(Unfit::NoStep));
}
