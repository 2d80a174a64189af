//! `gauge --made-by`: which hold left which lobe of a measured part.

use std::path::Path;

use ringwright_solver::geometry::Surface;
use ringwright_solver::metrology::Harmonic;
use ringwright_solver::process::{self, KeepFields, Options};
use ringwright_solver::report::document::{CauseDocument, cause_documents};
use ringwright_solver::report::files::refuse_input;
use ringwright_solver::scheme::Registry;

use crate::Exit;
use crate::args::{Common, GaugeArgs};
use crate::commands::{case_or_exit, not_written, refuse, with_threads};
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
) -> Result<Vec<CauseDocument>, Exit> {
    let (case, source) = case_or_exit(path, registry, screen)?;
    if let Some(traces) = &args.traces {
        refuse_input(traces, &outputs::inputs(path, &case))
            .map_err(|error| not_written(&error, screen))?;
    }
    let options = Options {
        fields: KeepFields::None,
        estimate: true,
    };
    let outcome = with_threads(common.threads, screen, || process::run(&case, &options))?
        .map_err(|error| refuse(&error, &source, screen))?;
    for caution in &outcome.cautions {
        screen.note(&format!("ringwright: {}: {caution}", source.name));
    }
    Ok(cause_documents(&outcome, surface, lobes, !args.no_jaw_mark))
}
