//! Studies: cases a second of the whole process, with the accuracy that the rows state.

use std::io::{self, Write};

use ringwright_benches::{Job, SIZES};

use crate::child::Program;
use crate::whole::{REPEATS, median};

/// Further lines of a case: the bore turned once the part is held.
const BORED: &str = "[[step.cut]]\nsurface = \"bore\"\ndiameter = 114.6\n";

/// A study over the bored diameter and the force of the jaws.
struct Study {
    name: &'static str,
    case: String,
    /// Values of either key, and the bounds of the force, N.
    counts: [usize; 2],
    force: [f64; 2],
    /// Seconds that a general-purpose library needs, and how many times faster is wanted.
    library: Option<(f64, f64)>,
    /// Cases a second wanted.
    wanted: Option<f64>,
}

impl Study {
    fn rows(&self) -> usize {
        self.counts[0] * self.counts[1]
    }

    fn text(&self) -> String {
        let [diameters, forces] = self.counts;
        let [least, most] = self.force;
        format!(
            "title = \"{}\"\ndesign = \"full\"\n[base]\ncase = \"case.toml\"\n\
             [[vary]]\npath = \"hold.bare[0].bored_diameter\"\nfrom = 120.0\nto = 126.0\ncount = {diameters}\n\
             [[vary]]\npath = \"hold.bare[0].force\"\nfrom = {least}\nto = {most}\ncount = {forces}\n",
            self.name
        )
    }
}

fn studies() -> [Study; 6] {
    let [small, middle, _] = SIZES;
    let variants = |name, size, library| Study {
        name,
        case: Job::J1b.case(Some(size)),
        counts: [20, 10],
        force: [500.0, 5000.0],
        library: Some((library, 30.0)),
        wanted: None,
    };
    let cut = |name, mesh| Study {
        name,
        case: Job::J1
            .case(mesh)
            .replace("[mesh]", &format!("{BORED}[mesh]"))
            + if mesh.is_none() { BORED } else { "" },
        counts: [20, 10],
        force: [100.0, 400.0],
        library: None,
        wanted: Some(100.0),
    };
    [
        variants("200 variants of J1b, 360x4", small, 0.99),
        variants("200 variants of J1b, 1440x8", middle, 6.5),
        Study {
            name: "contact alone, 360x4",
            case: Job::J1b.case(Some(small)),
            counts: [100, 50],
            force: [500.0, 5000.0],
            library: None,
            wanted: Some(3333.0),
        },
        Study {
            name: "contact alone, graded",
            case: Job::J1b.case(None),
            counts: [40, 25],
            force: [500.0, 5000.0],
            library: None,
            wanted: Some(3333.0),
        },
        cut("J1 held, bored, released, 360x4", Some(small)),
        cut("J1 held, bored, released, graded", None),
    ]
}

/// Writes the table of studies.
pub fn table(program: &Program, out: &mut dyn Write) -> io::Result<()> {
    writeln!(
        out,
        "\n## Studies\n\nThe whole process on all threads, over the jaws' bored diameter and force: cases a second of wall time; CPU seconds; against \
         the library's seconds, which are fixed numbers of one thread, by CPU. Estimate: the relative error that the rows state, median and largest.\n\n\
         | study | cases | cases a second | wanted | CPU s | times the library | wanted | estimate | largest |\n\
         | --- | --- | --- | --- | --- | --- | --- | --- | --- |"
    )?;
    for study in studies() {
        let mut runs = Vec::new();
        for _ in 0..REPEATS {
            runs.push(program.study(&study.case, &study.text())?);
        }
        let wall = median(runs.iter().map(|r| r.wall_seconds).collect());
        let cpu = median(runs.iter().map(|r| r.cpu_seconds).collect());
        let mut errors: Vec<f64> = runs.swap_remove(0).errors;
        if errors.len() != study.rows() {
            let message = format!("{}: {} rows have an estimate", study.name, errors.len());
            return Err(io::Error::other(message));
        }
        errors.sort_by(f64::total_cmp);
        let dash = || "-".to_owned();
        let wanted = study.wanted.map_or_else(dash, |w| format!("{w:.0}"));
        let (ratio, times) = match study.library {
            Some((library, times)) => (format!("{:.1}", library / cpu), format!("{times:.0}")),
            None => (dash(), dash()),
        };
        writeln!(
            out,
            "| {} | {} | {:.0} | {wanted} | {cpu:.3} | {ratio} | {times} | {:.1e} | {:.1e} |",
            study.name,
            study.rows(),
            study.rows() as f64 / wall,
            errors[errors.len() / 2],
            errors[errors.len() - 1],
        )?;
    }
    Ok(())
}
