//! The same ring asked again in process: what a page with a knob and a study wait for. Wall time.

use std::io::{self, Error, Write};

use ringwright_benches::{EVERYDAY, Job, SIZES};
use ringwright_solver::case::{self, Case};
use ringwright_solver::geometry::Surface;
use ringwright_solver::process::{Method, Options, Prepared, ProcessError};

use crate::phases::time;

/// Other forces, as shares of the case's, so that no answer is that of the solve before.
const SHARES: [f64; 5] = [0.9, 1.1, 0.95, 1.05, 1.0];

/// Further lines of a case: the bore turned once the part is held.
const BORED: &str = "[[step.cut]]\nsurface = \"bore\"\ndiameter = 101\n";

fn read(text: &str) -> io::Result<Case> {
    case::read(text, &ringwright_plugins::registry())
        .map_err(|problems| Error::other(format!("{problems:?}")))
}

/// What is asked of a prepared case.
struct Asked {
    name: &'static str,
    /// The case file that is prepared, and those that are asked for.
    text: String,
    others: Vec<Case>,
    method: Method,
    /// Whether the part is cut and released too.
    cuts: bool,
    /// Milliseconds.
    wanted: f64,
}

impl Asked {
    /// The same case with other forces.
    fn forces(name: &'static str, text: String, wanted: f64) -> io::Result<Self> {
        let case = read(&text)?;
        let others = SHARES.map(|share| {
            let mut other = case.clone();
            other.steps[0].force_scale = share;
            other
        });
        Ok(Self {
            name,
            cuts: text.contains("step.cut"),
            text,
            others: others.to_vec(),
            method: Method::default(),
            wanted,
        })
    }

    /// The round ring of J1b in jaws bored to other diameters.
    fn bored(name: &'static str, wanted: f64) -> io::Result<Self> {
        let text = Job::J1b.case(None);
        let bored = |to: &str| {
            read(&text.replace("bored_diameter = 121.2", &format!("bored_diameter = {to}")))
        };
        let others = ["121.1", "121.3", "121.15", "121.25", "121.2"]
            .into_iter()
            .map(bored);
        let others = others.collect::<io::Result<_>>()?;
        Ok(Self {
            others,
            ..Self::forces(name, text, wanted)?
        })
    }

    /// Median milliseconds.
    fn time(&self) -> io::Result<f64> {
        let options = Options {
            method: self.method,
            ..Options::default()
        };
        let prepared = Prepared::new(&read(&self.text)?, 0, &options).map_err(Error::other)?;
        let mut next = self.others.iter().cycle();
        let (seconds, ()) = time(|| {
            let held = prepared.hold(next.next().expect("a cycle has no end"))?;
            if self.cuts {
                held.cut()?.release();
            }
            Ok::<_, ProcessError>(())
        })?;
        Ok(1e3 * seconds)
    }
}

/// Writes the table of stages.
pub fn table(out: &mut dyn Write) -> io::Result<()> {
    writeln!(
        out,
        "\n## The same ring asked again on kept geometry\n\nMilliseconds of wall time: contact and both shapes; of a ring that is bored, the cut and the \
         release too.\n\n| asked again | ms | wanted |\n| --- | --- | --- |"
    )?;
    let (ring, lobed) = (Job::J1b.case(None), Job::J1c.case(None));
    let asked = [
        Asked::forces("round ring, another force", ring.clone(), 0.3)?,
        Asked::bored("round ring, jaws bored otherwise", 0.3)?,
        Asked::forces("lobed ring, another force", lobed.clone(), 3.0)?,
        Asked {
            method: Method::Mesh,
            ..Asked::forces(
                "finite elements as graded, another force",
                ring.clone(),
                3.0,
            )?
        },
        Asked::forces(
            "finite elements 360x4, another force",
            Job::J1b.case(Some(SIZES[0])),
            3.0,
        )?,
        Asked::forces(
            "finite elements 1440x8, another force",
            Job::J1b.case(Some(SIZES[1])),
            3.0,
        )?,
        Asked::forces("round ring bored, another force", ring + BORED, 15.0)?,
        Asked::forces("lobed ring bored, another force", lobed + BORED, 15.0)?,
    ];
    for a in &asked {
        writeln!(out, "| {} | {:.2} | {} |", a.name, a.time()?, a.wanted)?;
    }
    dips(out)
}

/// Share of the force of the hold by which the tool pushes.
const TOOL: f64 = 0.1;

/// Milliseconds that the dip at all places of a tool takes, on each everyday job as it is held.
fn dips(out: &mut dyn Write) -> io::Result<()> {
    writeln!(
        out,
        "\n## The wall under the tool\n\nMilliseconds of wall time: how far a held part gives way at 72 places under a tenth of what its first body presses with \
         (wanted: 20).\n\n| job | ms |\n| --- | --- |"
    )?;
    for (name, text) in EVERYDAY {
        let case = read(text)?;
        let prepared = Prepared::new(&case, 0, &Options::default()).map_err(Error::other)?;
        let held = prepared.hold(&case).map_err(Error::other)?;
        let force = TOOL * held.contacts().first().map_or(0.0, |c| c.force);
        let cut = case.steps[0].cuts.first().map(|c| c.surface);
        let surface = cut.unwrap_or(Surface::Bore);
        let (seconds, _) = time(|| held.tool_response(surface, force))?;
        writeln!(out, "| {name} | {:.2} |", 1e3 * seconds)?;
    }
    Ok(())
}
