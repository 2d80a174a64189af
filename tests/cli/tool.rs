//! A tool force: what is read, refused and said of it.

use ringwright_solver::case::{CaseBuilder, Cut, Member, Place, Step, read};
use ringwright_solver::geometry::Surface;
use ringwright_solver::process::{Looseness, Options, Reason, run};
use serde_json::Value;

use crate::{CASE, call};

/// The case on a mesh of its own, with a line more in its cut.
fn with(line: &str) -> String {
    CASE.replace("diameter = 111.0\n", &format!("diameter = 111.0\n{line}\n"))
}

/// What `run` prints and writes for a case.
fn ran(text: &str) -> (String, Value) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("case.toml");
    let out = folder.path().join("out");
    std::fs::write(&path, text).unwrap();
    let [path, out] = [&path, &out].map(|p| p.to_str().unwrap());
    let c = call(&["run", path, "--out", out, "--fields", "none"]);
    assert_eq!(c.exit, 0, "{}", c.err);
    let json = std::fs::read_to_string(format!("{out}/result.json")).unwrap();
    (
        c.out.replace(out, "OUT"),
        serde_json::from_str(&json).unwrap(),
    )
}

/// The summary says how far the wall gives way, the document has it place by place, and what was assumed is assumed no more.
#[test]
fn a_tool_force_is_told() {
    let (text, json) = ran(&with("radial_force = \"20 N\""));
    let words = text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        words.contains("tool force 20 N (4.5 lbf): the wall gives way "),
        "{text}"
    );
    assert!(
        words.contains("; the tool alone leaves 3 lobes of \u{b1}"),
        "{text}"
    );
    assert!(words.contains(" percent of the roundness left"), "{text}");
    assert!(!words.contains("no tool force"), "{text}");
    let tool = &json["steps"][0]["cuts"][0]["tool_dip"];
    for key in ["angles_deg", "dip", "dip_finished"] {
        assert_eq!(tool[key].as_array().unwrap().len(), 72, "{key}");
    }
    assert_eq!(tool["contact_force_changes"].as_array().unwrap().len(), 3);
    assert_eq!(tool["force"], 20.0);
}

/// Without a tool force nothing is said of one, and a force of zero is none.
#[test]
fn no_tool_force_changes_nothing() {
    let (text, json) = ran(CASE);
    let (zero_text, mut zero) = ran(&with("radial_force = 0"));
    assert_eq!(text, zero_text);
    assert!(text.contains("no tool force"), "{text}");
    let cut = json["steps"][0]["cuts"][0].as_object().unwrap();
    assert!(!cut.contains_key("tool_dip"));
    // the file is another
    zero["case"]["sha256"] = json["case"]["sha256"].clone();
    assert_eq!(json, zero);
}

/// A tool that pushes harder than the jaws hold takes the load off some, which is said.
#[test]
fn a_tool_that_takes_all_load_off_a_jaw_is_told() {
    let weak = with("radial_force = 6").replace("force = 150.0\nbored", "force = 5.0\nbored");
    let (text, json) = ran(&weak);
    let words = text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        words.contains("its force takes all load off body "),
        "{text}"
    );
    let off = &json["steps"][0]["cuts"][0]["tool_dip"]["lifts_off"];
    assert!(
        off["contact"]
            .as_u64()
            .is_some_and(|b| (1..=3).contains(&b)),
        "{off}"
    );
}

/// What nothing takes is refused where the force stands, with the line along which the part would slide.
#[test]
fn what_nothing_resists_is_refused() {
    let ring = || CaseBuilder::ring(110.0, 100.0, 20.0, "aluminium 6061-T6");
    let cuts = || vec![Cut::whole(Surface::Bore, 101.0).with_radial_force(20.0)];
    let jaws = Member::of("jaws")
        .with("count", 2)
        .with("force", 600.0)
        .with("width", 12.0);
    let across = ring().hold("h", [jaws]).step(Step::new("h", cuts()));
    let free = ring()
        .lobes([Surface::Bore], 3, 0.02, 0.0)
        .step(Step::new("free", cuts()));
    let line = "along 90 deg nothing but friction, which is left out here, keeps the part from sliding under it: add a support there, or leave out \
                radial_force";
    let nothing = "nothing holds the part against it: use a hold with bodies that press on it, or leave out radial_force";
    for (case, across_deg, says) in [(across, Some(90.0), line), (free, None, nothing)] {
        let case = case.build(&ringwright_plugins::registry()).unwrap();
        let error = run(&case, &Options::default()).unwrap_err();
        assert_eq!(error.at, Place::CutForce { step: 0, cut: 0 });
        assert_eq!(error.at.to_string(), "step[0].cut[0].radial_force");
        assert_eq!(
            error.reason,
            Reason::Loose(Looseness::UnderTool { across_deg })
        );
        let words = format!("the tool's force is not resisted: {says}");
        assert_eq!(error.to_string(), words);
    }
}

/// A force that is none is refused in a file and in code alike. Along a tube the wall does not give way to one: from a file the grip alone is checked against it, in code it is refused.
#[test]
fn forces_that_are_not_taken() {
    let head = "[part]\nouter_diameter = 110.0\nbore_diameter = 100.0\nlength = 20.0\nmaterial = \"aluminium 6061-T6\"\n";
    let jaws = "[[hold.h]]\nscheme = \"jaws\"\ncount = 3\nforce = 600.0\nwidth = 12.0\n";
    let text = |section: &str, force: f64| {
        format!(
            "{head}{section}{jaws}[[step]]\nhold = \"h\"\n[[step.cut]]\nsurface = \"bore\"\ndiameter = 101\nradial_force = {force}\n"
        )
    };
    let registry = ringwright_plugins::registry();
    let made = |tube: bool, force: f64| {
        let member = Member::of("jaws")
            .with("count", 3)
            .with("force", 600.0)
            .with("width", 12.0);
        let cut = Cut::whole(Surface::Bore, 101.0).with_radial_force(force);
        let made = CaseBuilder::ring(110.0, 100.0, 20.0, "aluminium 6061-T6")
            .hold("h", [member])
            .step(Step::new("h", vec![cut]));
        let made = match tube {
            true => made.tube(ringwright_solver::case::Tube::default()),
            false => made,
        };
        made.build(&registry)
    };
    let problems = read(&text("", -1.0), &registry).err().unwrap();
    let in_code = made(false, -1.0).err().unwrap();
    for list in [&problems, &in_code.0] {
        assert_eq!(list.len(), 1, "{list:?}");
        assert_eq!(list[0].field, "step[0].cut[0].radial_force");
        assert!(
            list[0].message.contains("zero or more"),
            "{}",
            list[0].message
        );
    }
    assert_eq!(problems[0].line, 16);
    let along = read(&text("[tube]\n", 5.0), &registry).unwrap();
    let cut = along.steps[0].cuts[0];
    assert_eq!(
        (cut.radial_force, cut.tool.radial_force.map(|b| b.high)),
        (0.0, Some(5.0))
    );
    let in_code = made(true, 5.0).err().unwrap();
    assert!(
        in_code.0[0]
            .message
            .contains("a tool force is not supported yet along a tube"),
        "{in_code}"
    );
    assert!(read(&text("[tube]\n", 0.0), &registry).is_ok());
}

/// A force that is not known is told of, and only where a hold is driven by it.
#[test]
fn an_unknown_force_is_told() {
    let force = CASE.lines().find(|l| l.starts_with("force = ")).unwrap();
    let (text, json) = ran(&CASE.replace(force, "force = \"unknown\""));
    assert!(
        text.starts_with("FORCE UNKNOWN: SHAPES ARE FOR 100 N EACH"),
        "{text}"
    );
    let words = text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        words.contains("force unknown: 100 N a jaw reckoned with"),
        "{text}"
    );
    assert!(!words.contains("OUT OF TOLERANCE"), "{text}");
    let assumed = json["assumed"].as_array().unwrap();
    assert!(
        assumed
            .iter()
            .any(|a| a.as_str().unwrap().starts_with("force unknown")),
        "{json}"
    );
    for (from, to) in [
        ("force = \"unknown\"", "force = \"unknwon\""),
        ("width = ", "grip_length = \"unknown\"\nwidth = "),
    ] {
        let case = CASE
            .replace(force, "force = \"unknown\"")
            .replacen(from, to, 1);
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("case.toml");
        std::fs::write(&path, &case).unwrap();
        assert_eq!(call(&["check", path.to_str().unwrap()]).exit, 3, "{case}");
    }
}
