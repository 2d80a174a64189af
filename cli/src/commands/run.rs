//! `run`: hold, cut, release, inspect, and write everything down.

use std::path::PathBuf;

use ringwright_solver::case::{Case, Origin};
use ringwright_solver::process::{self, Options, Outcome};
use ringwright_solver::report::document::StressDocument;
use ringwright_solver::report::files::Folder;
use ringwright_solver::report::{self, ReportError, ResultDocument};
use ringwright_solver::scheme::Registry;

use super::{default_folder, load, program, solve};
use crate::Exit;
use crate::args::{Common, RunArgs};
use crate::failure::Outcome as CommandOutcome;
use crate::outputs;
use crate::render::summary;
use crate::screen::Screen;

pub(crate) fn run(
    args: &RunArgs,
    common: &Common,
    registry: &Registry,
    screen: &mut Screen,
) -> CommandOutcome {
    let (case, source) = load(&args.case, registry)?;
    let options = Options {
        fields: args.fields.into(),
        estimate: !args.no_estimate,
        ..Options::default()
    };
    let dir = args
        .out
        .clone()
        .unwrap_or_else(|| default_folder(&args.case.file));
    let folder = outputs::open(&dir, &args.case.file, &case, screen)?;
    let outcome = solve(common, &source, |watcher| {
        process::run_watched(&case, &options, watcher)
    })?;
    let (document, files) = write(folder, (&case, &source.origin), &outcome)?;
    tell(&case, &outcome, &document, screen)?;
    screen.say(&summary::written(&dir, &files));
    if common.strict && !limits_met(&document) {
        screen.note("ringwright: a stated limit is not met (--strict)");
        return Ok(Exit::Limit);
    }
    Ok(Exit::Done)
}

fn write(
    folder: Folder,
    (case, origin): (&Case, &Origin),
    outcome: &Outcome,
) -> Result<(ResultDocument, Vec<PathBuf>), ReportError> {
    let document = report::document(case, origin, outcome, &program())?;
    let files = folder.write(case, outcome, &document)?;
    Ok((document, files))
}

fn tell(
    case: &Case,
    outcome: &Outcome,
    document: &ResultDocument,
    screen: &mut Screen,
) -> Result<(), ReportError> {
    for (n, step) in outcome.steps.iter().enumerate() {
        let way = if step.tube.is_some() {
            "along"
        } else {
            "round"
        };
        screen.detail(&format!(
            "step {}: {} elements {way} by {} through; not balanced on the held part: {:.2e} N, {:.2e} N mm",
            n + 1,
            step.mesh_size[0],
            step.mesh_size[1],
            step.held.balance.force,
            step.held.balance.moment,
        ));
    }
    if screen.json {
        screen.answer(&document.to_json()?);
    } else if !screen.quiet {
        screen.say(&summary::summary(case, document));
    }
    Ok(())
}

/// Tolerance and yield: the limits that this version judges.
fn limits_met(document: &ResultDocument) -> bool {
    let tolerance = document.verdict.in_tolerance != Some(false);
    let yields = document
        .steps
        .iter()
        .any(|step| step.stresses().any(StressDocument::yields));
    tolerance && !yields && document.verdict.safe != Some(false)
}
