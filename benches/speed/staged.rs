//! The same ring asked again in process: what a page with a knob and a study wait for. Wall time.

use std::io::{self, Error, Write};

use ringwright_benches::{Job, SIZES, Size};
use ringwright_solver::case::{self, Case};
use ringwright_solver::process::{Options, Prepared};

use crate::phases::time;

/// Other forces, as shares of the case's, so that no answer is that of the solve before.
const SHARES: [f64; 5] = [0.9, 1.1, 0.95, 1.05, 1.0];

/// Further lines of a case: the bore turned once the part is held.
const BORED: &str = "[[step.cut]]\nsurface = \"bore\"\ndiameter = 101\n";

fn read(text: &str) -> io::Result<Case> {
    case::read(text, &ringwright_plugins::registry())
        .map_err(|problems| Error::other(format!("{problems:?}")))
}

/// Cases whose one step holds with other forces.
fn forces(case: &Case) -> impl Iterator<Item = Case> {
    SHARES.into_iter().map(|share| {
        let mut other = case.clone();
        other.steps[0].force_scale = share;
        other
    })
}

/// The round ring of J1b, as bored over by other diameters.
fn bored(size: Option<Size>) -> io::Result<Vec<Case>> {
    let text = Job::J1b.case(size);
    let to = ["121.1", "121.3", "121.15", "121.25", "121.2"];
    let to = to.map(|d| text.replace("bored_diameter = 121.2", &format!("bored_diameter = {d}")));
    to.iter().map(|t| read(t)).collect()
}

/// Writes the table of stages.
pub fn table(out: &mut dyn Write) -> io::Result<()> {
    writeln!(
        out,
        "\n## The same ring asked again on kept geometry\n\nMilliseconds of wall time: contact and both shapes; with the cut, also what is \
         left when released.\n\n| asked again | ms | wanted |\n| --- | --- | --- |"
    )?;
    let options = Options::default();
    let series = read(&Job::J1b.case(None))?;
    let fixed = read(&Job::J1b.case(Some(SIZES[0])))?;
    let large = read(&Job::J1b.case(Some(SIZES[1])))?;
    let lobed = read(&Job::J1c.case(None))?;
    let cut = read(&(Job::J1b.case(None) + BORED))?;
    let cut_lobed = read(&(Job::J1c.case(None) + BORED))?;
    let rows: [(&str, &Case, Vec<Case>, bool, &str); 7] = [
        (
            "round ring, another force",
            &series,
            forces(&series).collect(),
            false,
            "0.3",
        ),
        (
            "round ring, jaws bored otherwise",
            &series,
            bored(None)?,
            false,
            "0.3",
        ),
        (
            "lobed ring, another force",
            &lobed,
            forces(&lobed).collect(),
            false,
            "-",
        ),
        (
            "finite elements 360x4, another force",
            &fixed,
            forces(&fixed).collect(),
            false,
            "3",
        ),
        (
            "finite elements 1440x8, another force",
            &large,
            forces(&large).collect(),
            false,
            "3",
        ),
        (
            "round ring bored, another force",
            &cut,
            forces(&cut).collect(),
            true,
            "15",
        ),
        (
            "lobed ring bored, another force",
            &cut_lobed,
            forces(&cut_lobed).collect(),
            true,
            "15",
        ),
    ];
    for (name, first, others, cuts, wanted) in rows {
        let prepared = Prepared::new(first, 0, &options).map_err(Error::other)?;
        let mut next = others.iter().cycle();
        let (seconds, ()) = time(|| {
            let case = next.next().expect("a cycle has no end");
            let held = prepared.hold(case)?;
            if cuts {
                held.cut()?.release();
            }
            Ok::<_, ringwright_solver::process::ProcessError>(())
        })?;
        writeln!(out, "| {name} | {:.2} | {wanted} |", 1e3 * seconds)?;
    }
    Ok(())
}
