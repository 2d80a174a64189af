//! `gauge --made-by`: which hold left which lobe of a measured part.

use std::path::Path;

use ringwright_solver::geometry::Surface;
use ringwright_solver::metrology::Harmonic;
use ringwright_solver::process::{self, KeepFields, Options};
use ringwright_solver::report::document::{CauseDocument, cause_documents};
use ringwright_solver::report::files::refuse_input;
use ringwright_solver::scheme::Registry;

use crate::args::{CaseArgs, Common, GaugeArgs};
use crate::commands::{load, solve};
use crate::failure::Failure;
use crate::outputs;
use crate::screen::Screen;

/// Solves the case that the part was made by, and shares the lobes found on a surface out among its steps.
pub(super) fn causes(
    args: &GaugeArgs,
    path: &Path,
    surface: Surface,
    lobes: &[Harmonic],
    common: &Common,
    registry: &Registry,
    screen: &mut Screen,
) -> Result<Vec<CauseDocument>, Failure> {
    let (case, source) = load(&CaseArgs::of(path.to_owned()), registry)?;
    if let Some(traces) = &args.traces {
        refuse_input(traces, &outputs::inputs(path, &case))?;
    }
    let options = Options {
        fields: KeepFields::None,
        estimate: true,
        ..Options::default()
    };
    let outcome = solve(common, &source, |watcher| {
        process::run_watched(&case, &options, watcher)
    })?;
    for caution in &outcome.cautions {
        screen.note(&format!("ringwright: {}: {caution}", source.name));
    }
    Ok(cause_documents(&outcome, surface, lobes, !args.no_jaw_mark))
}
