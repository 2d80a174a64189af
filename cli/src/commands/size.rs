//! `size`: the values of a few free keys with which a case meets its limits over all that cannot be held exactly.

use ringwright_solver::case::quantity::UnitSystem;
use ringwright_solver::report::Units;
use ringwright_solver::report::document::CaseName;
use ringwright_solver::report::files::OneFile;
use ringwright_solver::scheme::Registry;
use ringwright_solver::size::{SizeDocument, SizeError, read_size, size};

use super::{folder_for, load_changed, program, with_threads};
use crate::Exit;
use crate::args::{Common, SizeArgs};
use crate::failure::{Failure, FailureKind, Outcome};
use crate::outputs;
use crate::progress::Watcher;
use crate::render::size as render;
use crate::screen::Screen;

pub(crate) fn run(
    args: &SizeArgs,
    common: &Common,
    registry: &Registry,
    screen: &mut Screen,
) -> Outcome {
    let loaded = load_changed(&args.case, registry)?;
    let base = loaded.base(&args.case.file, registry);
    let (case, source) = (&loaded.case, &loaded.source);
    let task = read_size(&base).map_err(|problems| Failure::of_case(&problems, source))?;
    let wrong = |message: String| Failure::at(FailureKind::Input, &source.name, [0, 0], message);
    if !case.steps.iter().any(|s| s.hold == task.hold) {
        let message = format!(
            "size.hold: no step holds the part in \"{}\"; name a hold that a step takes, or put it there with --hold",
            task.hold
        );
        return Err(wrong(message));
    }
    // a value that no bound can be read with is a fault of [size]
    for free in &task.free {
        let [low, high] = free.bounds.map(|x| base.case(&[free.change(x)]));
        if let (Err(problems), Err(_)) = (low, high) {
            return Err(Failure::of_case(&problems, source));
        }
    }
    let dir = folder_for(args.out.as_ref(), &args.case.file)?;
    let inputs = outputs::inputs(&args.case.file, case);
    let file = OneFile::open(&dir.join("size.json"), &inputs, "\"ringwright-size-")?;
    let watcher = Watcher::of_cases(common);
    let sized = with_threads(common.threads, || size(&task, &base, &watcher))?;
    drop(watcher);
    let sized = sized.map_err(|e| match e {
        SizeError::Stopped(e) => Failure::of_solve(&e, source),
        SizeError::NoAnswer(_) => Failure::new(FailureKind::NotConverged, e.to_string()),
        e => wrong(e.to_string()),
    })?;
    crate::interrupt::check()?;
    let name = CaseName {
        title: case.title.clone(),
        sha256: source.origin.sha256.clone(),
    };
    let document = SizeDocument::new(&task, &sized, name, &program());
    let text = document.to_json()?;
    file.write(|out| out.write_all(text.as_bytes()))?;
    if screen.json {
        screen.answer(&text);
    }
    let units = Units::new(source.origin.units == UnitSystem::Inch);
    screen.say(&render::summary(case, &task, &sized, &document, units));
    screen.say(&format!("Written to {}: size.json\n", dir.display()));
    if common.strict && !sized.feasible {
        screen.note("ringwright: no size meets the stated limits (--strict)");
        return Ok(Exit::Limit);
    }
    Ok(Exit::Done)
}
