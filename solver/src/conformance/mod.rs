//! The conformance kit: does a holding scheme do what the trait promises? [`check`] tells its author what to mend.
//!
//! [`broken`] gives schemes with one fault each, as a model of what is caught and to check the kit itself.

mod broken;
mod description;
mod examples;
mod fault;
mod inert;
mod nonsense;
mod replies;
mod report;

pub use broken::{Broken, broken};
pub use fault::{Check, Fault, NO_REASON, TWO_ANSWERS};
pub use report::{Report, Verdict};

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;

use crate::scheme::{HoldingScheme, Registry};

/// Every fault of a scheme, in the order they are found; none if it conforms. [`report`] also says what could not be checked.
pub fn check(scheme: &Arc<dyn HoldingScheme>, registry: &Registry) -> Vec<Fault> {
    report(scheme, registry).faults
}

/// What is wrong with a scheme, what could not be checked because of it, and what its author may want to know.
///
/// `registry` holds the schemes that its examples may use beside it; the scheme itself is added if it is not there. Examples
/// are solved unless something else than nonsense is wrong; nothing more is asked of a scheme without a steady answer to them. A scheme whose outside program fails on nonsense has one fault for it: the
/// program is started again and the rest is checked. A scheme that panics is told so; the panic's own words go to standard error.
pub fn report(scheme: &Arc<dyn HoldingScheme>, registry: &Registry) -> Report {
    let mut registry = registry.clone();
    if registry.get(scheme.name()).is_none() {
        registry = registry.add(Arc::clone(scheme));
    }
    let scheme = &**scheme;
    let mut report = Report::default();
    report.add(Check::Description, description::check(scheme, &registry));
    let Some(examples) = examples::read(scheme, &registry, &mut report.faults) else {
        return report;
    };
    let unread = report
        .faults
        .iter()
        .any(|f| matches!(f, Fault::Panics { .. }));
    let answers = replies::check(scheme, &examples, &mut report);
    if answers == replies::Answers::None {
        return report;
    }
    let faults = nonsense::check(scheme, &registry, &examples);
    report.add(Check::Nonsense, faults);
    let explained = answers == replies::Answers::Refused || only_nonsense(&report.faults);
    if explained {
        examples::explain(&examples, &mut report.faults);
    }
    if !unread && (explained || examples.iter().all(examples::Example::is_clean)) {
        report.made(Check::Examples);
    }
    if only_nonsense(&report.faults) {
        report.add(Check::Runs, examples::run(&examples));
        report.notes = inert::notes(scheme, &examples);
    }
    report
}

/// Whether the examples can be solved all the same: nonsense that a scheme trips over says nothing of them.
fn only_nonsense(faults: &[Fault]) -> bool {
    faults.iter().all(|f| f.check() == Check::Nonsense)
}

/// What `work` gives, or `None` if it panics.
fn calm<T>(work: impl FnOnce() -> T) -> Option<T> {
    // nothing of ours is left half changed: a scheme gets shared references alone
    catch_unwind(AssertUnwindSafe(work)).ok()
}
