//! Tubes along their length: whole processes against what is wanted, how they grow with length, and a tube held again on kept harmonics.

use std::io::{self, Error, Write};

use ringwright_solver::case;
use ringwright_solver::process::PreparedTube;

use crate::child::Program;
use crate::phases::time;

/// Other forces, as shares of the case's.
const SHARES: [f64; 5] = [0.9, 1.1, 0.95, 1.05, 1.0];

/// A tube of 120 by 111 mm of some length in three jaws on its first 25 mm.
fn jaws(length: f64, step: &str) -> String {
    let stations = [0.0, 0.25, 0.5, 0.75, 1.0].map(|share| share * length);
    format!(
        "title = \"tube of the benches\"\n[part]\nouter_diameter = 120\nbore_diameter = 111\nlength = {length}\n\
         material = \"aluminium 6061-T6\"\n[tube]\nstations = {stations:?}\n\
         [[hold.jaws]]\nscheme = \"jaws\"\ncount = 3\nforce = 400\nbored_diameter = 120.4\narc = 40\ngrip_length = 25\n\
         [[step]]\nhold = \"jaws\"\n{step}"
    )
}

/// The same tube between plates.
fn plates(ends: &str) -> String {
    format!(
        "title = \"tube of the benches\"\n[part]\nouter_diameter = 120\nbore_diameter = 114\nlength = 80\n\
         material = \"aluminium 6061-T6\"\n[tube]\nstations = [0, 20, 40, 60, 80]\n\
         [[hold.plates]]\nscheme = \"end-clamp\"\naxial_force = 20000\nfriction = 0.15\nend_condition = \"{ends}\"\n\
         [[step]]\nhold = \"plates\"\n"
    )
}

const BORED: &str = "[[step.cut]]\nsurface = \"bore\"\ndiameter = 112\n";

/// Writes the tables.
pub fn table(program: &Program, out: &mut dyn Write) -> io::Result<()> {
    writeln!(
        out,
        "\n## Tubes along their length\n\nCPU seconds of the whole process at default accuracy, one thread, `--fields none`, five stations; memory at its peak.\n\n\
         | tube | s | wanted | estimate | elements | harmonics | MB |\n| --- | --- | --- | --- | --- | --- | --- |"
    )?;
    let cases = [
        ("three jaws, 75 mm", jaws(75.0, ""), Some(0.5)),
        ("three jaws, 75 mm, bored", jaws(75.0, BORED), None),
        ("three jaws, 40 mm", jaws(40.0, ""), None),
        ("three jaws, 150 mm", jaws(150.0, ""), None),
        ("three jaws, 300 mm", jaws(300.0, ""), None),
        ("plates, ends slide", plates("sliding"), Some(0.05)),
        ("plates, ends stick", plates("stuck"), Some(0.05)),
        ("plates, ends rub", plates("friction"), Some(0.05)),
    ];
    for (name, text, wanted) in cases {
        let run = program.run(&text, &["--fields", "none"])?;
        let step = &run.result["steps"][0];
        let tube = &step["tube"];
        let number = |v: &serde_json::Value| v.as_u64().unwrap_or(0);
        let (along, through) = (
            number(&tube["mesh"]["along"]),
            number(&tube["mesh"]["through"]),
        );
        writeln!(
            out,
            "| {name} | {:.3} | {} | {:.1e} | {along}x{through} | {} | {:.0} |",
            run.cpu_seconds,
            wanted.map_or_else(String::new, |w: f64| w.to_string()),
            step["estimate"]["relative_error"]
                .as_f64()
                .unwrap_or(f64::NAN),
            number(&tube["harmonics"]),
            program.peak_megabytes(&text, &["--fields", "none"])?,
        )?;
    }
    let read = |text: &str| {
        case::read(text, &ringwright_plugins::registry())
            .map_err(|problems| Error::other(format!("{problems:?}")))
    };
    let case = read(&jaws(75.0, ""))?;
    let prepared = PreparedTube::new(&case).map_err(Error::other)?;
    let mut next = SHARES.iter().cycle();
    let (seconds, ()) = time(|| {
        let mut other = case.clone();
        other.steps[0].force_scale = *next.next().expect("a cycle has no end");
        prepared.hold(&other).map(|_| ())
    })?;
    writeln!(
        out,
        "\nAnother force on kept harmonics, five stations: {:.1} ms of wall time (wanted: below 20).",
        1e3 * seconds
    )
}
