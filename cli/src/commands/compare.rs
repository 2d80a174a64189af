//! `compare`: the same cuts under every hold of a case.

use std::path::{Path, PathBuf};

use ringwright_solver::case::Change;
use ringwright_solver::case::quantity::UnitSystem;
use ringwright_solver::compare::{CompareDocument, Compared, Entrant, compare, picture};
use ringwright_solver::report::document::CaseName;
use ringwright_solver::report::files::OneFile;
use ringwright_solver::report::{ReportError, Units};
use ringwright_solver::scheme::Registry;

use super::{folder_for, load_changed, program, solve};
use crate::Exit;
use crate::args::{Common, CompareArgs};
use crate::failure::{Failure, FailureKind, Outcome};
use crate::outputs;
use crate::render::compare as render;
use crate::screen::Screen;

/// The files of a comparison.
const FILES: [&str; 2] = ["compare.json", "compare.svg"];

pub(crate) fn run(
    args: &CompareArgs,
    common: &Common,
    registry: &Registry,
    screen: &mut Screen,
) -> Outcome {
    let loaded = load_changed(&args.case, registry)?;
    let base = loaded.base(&args.case.file, registry);
    let (case, source) = (&loaded.case, &loaded.source);
    let of = case.steps.len();
    let step = match args.step {
        None => of - 1,
        Some(n) if usize::from(n) <= of => usize::from(n) - 1,
        Some(n) => {
            let message = format!("--step {n}: the case has {of}; give a step from 1 to {of}");
            return Err(Failure::new(FailureKind::Input, message));
        }
    };
    let dir = folder_for(args.out.as_ref(), &args.case.file)?;
    let inputs = outputs::inputs(&args.case.file, case);
    let files = open(&dir, &inputs)?;
    let entrants = case
        .holds
        .iter()
        .map(|hold| {
            let path = format!("step[{step}].hold");
            let read = base.case(&[Change::new(path, format!("{:?}", hold.name))]);
            Entrant {
                hold: hold.name.clone(),
                case: read.map(|(mut case, origin)| {
                    case.steps.truncate(step + 1);
                    (case, origin)
                }),
            }
        })
        .collect();
    let program = program();
    let compared = solve(common, source, |watcher| {
        compare(entrants, step, &program, watcher)
    })?;
    let name = CaseName {
        title: case.title.clone(),
        sha256: source.origin.sha256.clone(),
    };
    let document = CompareDocument::new(&compared, name, &program);
    let units = Units::new(source.origin.units == UnitSystem::Inch);
    write(files, &document, &picture(&compared, &case.title, units))?;
    if screen.json {
        screen.answer(&document.to_json()?);
    }
    screen.say(&render::table(case, &compared, &document, units));
    screen.say(&render::written(&dir));
    Ok(exit(common, &compared, screen))
}

/// With `--strict`, whether no hold is in tolerance and safe.
fn exit(common: &Common, compared: &Compared, screen: &mut Screen) -> Exit {
    let good = compared.rows.iter().any(|row| {
        let verdict = row.found.as_ref().ok().map(|f| &f.document.verdict);
        verdict.is_some_and(|v| v.in_tolerance != Some(false) && v.safe != Some(false))
    });
    if common.strict && !good {
        screen.note("ringwright: no hold meets the stated limits (--strict)");
        return Exit::Limit;
    }
    Exit::Done
}

/// Readies the files before solving.
fn open(dir: &Path, inputs: &[PathBuf]) -> Result<[OneFile; 2], ReportError> {
    let marks = ["\"ringwright-compare-", "<svg"];
    let [json, svg] = [0, 1].map(|k| OneFile::open(&dir.join(FILES[k]), inputs, marks[k]));
    Ok([json?, svg?])
}

fn write(
    [json, svg]: [OneFile; 2],
    document: &CompareDocument,
    picture: &str,
) -> Result<(), ReportError> {
    let text = document.to_json()?;
    json.write(|out| out.write_all(text.as_bytes()))?;
    svg.write(|out| out.write_all(picture.as_bytes()))
}
