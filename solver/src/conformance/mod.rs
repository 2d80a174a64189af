//! The conformance kit: does a holding scheme do what the trait promises? [`check`] tells its author what to mend.
//!
//! [`BROKEN`] holds schemes with one fault each, as a model of what is caught and to check the kit itself.

mod broken;
mod description;
mod examples;
mod fault;
mod nonsense;
mod replies;

pub use broken::{BROKEN, Broken};
pub use fault::{Check, Fault};

use std::panic::{AssertUnwindSafe, catch_unwind};

use crate::scheme::{HoldingScheme, Registry};

/// Every fault of a scheme, in the order of [`Check::ALL`]; none if it conforms.
///
/// `registry` holds the schemes that its examples may use beside it; the scheme itself is added if it is not there. Examples
/// are solved unless something else than nonsense is wrong. A scheme whose outside program fails on nonsense has one fault for it: the
/// program is started again and the rest is checked. A scheme that panics is told so; the panic's own words go to standard error.
pub fn check(scheme: &'static dyn HoldingScheme, registry: &Registry) -> Vec<Fault> {
    let mut registry = registry.clone();
    if registry.get(scheme.name()).is_none() {
        registry = registry.add(scheme);
    }
    let mut faults = description::check(scheme, &registry);
    let Some(examples) = examples::read(scheme, &registry, &mut faults) else {
        return faults;
    };
    faults.extend(replies::check(scheme, &examples));
    if faults.iter().any(|f| matches!(f, Fault::NoReply { .. })) {
        return faults;
    }
    faults.extend(nonsense::check(scheme, &registry, &examples));
    if only_nonsense(&faults) {
        examples::explain(&examples, &mut faults);
    }
    if only_nonsense(&faults) {
        faults.extend(examples::run(&examples));
    }
    faults
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
