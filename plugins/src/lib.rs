//! The holding schemes that ringwright ships: one file each, named as the scheme, and one line in [`built_in`].
//!
//! With them a ring, a hold, a cut and a result take a few lines, without a case file; keys that are left out take the schemes' own
//! defaults, and what is wrong is told by the key that it would have in a file (`ringwright schemes NAME` lists the keys):
//!
//! ```
//! use ringwright_solver::case::{CaseBuilder, Member, Step};
//! use ringwright_solver::geometry::Surface;
//! use ringwright_solver::judge::judge;
//! use ringwright_solver::process::{Options, run};
//!
//! let jaws = Member::of("jaws").with("count", 3).with("force", 600.0).with("width", 12.0);
//! let case = CaseBuilder::ring(110.0, 100.0, 20.0, "aluminium 6061-T6")
//!     .hold("chuck", [jaws])
//!     .step(Step::held_by("chuck").cut(Surface::Bore, 101.0))
//!     .roundness(0.02)
//!     .build(&ringwright_plugins::registry())?;
//! let outcome = run(&case, &Options::default())?;
//! let roundness = &judge(&case, &outcome)?.limits[0];
//! assert_eq!(roundness.surface, Surface::Bore);
//! assert!(roundness.found[1] > 0.02 && !roundness.is_met());
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! `examples/thin_ring.rs` and `examples/study.rs` are programs to start from.

mod common;
mod free;
pub mod outside;
mod source;

pub use free::FREE;

use std::sync::Arc;

use ringwright_solver::scheme::{HoldingScheme, Registry};

/// One line a scheme: its file and its type. (`rustfmt` does not look into a macro for files; `.ci/run` formats them by name.)
macro_rules! built_in {
    ($($file:ident::$scheme:ident,)*) => {
        $(
            mod $file;
            pub use $file::$scheme;
        )*

        /// The built-in schemes, in the order they are listed.
        pub fn built_in() -> Vec<Arc<dyn HoldingScheme>> {
            vec![$(Arc::new($scheme)),*]
        }
    };
}

built_in! {
    jaws::Jaws,
    screws::Screws,
    plug::Plug,
    mandrel::Mandrel,
    split_sleeve::SplitSleeve,
    end_clamp::EndClamp,
    pressure_patches::PressurePatches,
    points::Points,
}

/// Everything the program ships.
pub fn registry() -> Registry {
    Registry::with(built_in()).held_free(FREE)
}

#[cfg(test)]
mod testing;

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use ringwright_solver::scheme::Recipe;
    use ringwright_solver::{case, conformance};

    #[test]
    fn built_in_schemes_conform() {
        assert!(!built_in().is_empty());
        for scheme in &built_in() {
            let faults = conformance::check(scheme, &registry());
            assert!(faults.is_empty(), "{}: {faults:#?}", scheme.name());
        }
    }

    /// A recipe is a case that its own scheme holds; one of the hold "free" holds nothing.
    #[test]
    fn recipes_are_cases_that_use_their_scheme() {
        let registry = registry();
        let read = |r: &Recipe| {
            assert!(!r.name.is_empty() && !r.about.is_empty());
            case::read(r.example, &registry).unwrap_or_else(|p| panic!("{}: {p:?}", r.name))
        };
        let mut names: Vec<&str> = Vec::new();
        for scheme in built_in() {
            for recipe in scheme.recipes() {
                let case = read(recipe);
                let members = case.holds.iter().flat_map(|h| &h.members);
                let uses = members.filter(|m| m.scheme.name() == scheme.name());
                assert!(uses.count() > 0, "{}", recipe.name);
                names.push(recipe.name);
            }
        }
        for recipe in FREE {
            assert!(read(recipe).steps.iter().all(|s| s.hold == "free"));
            names.push(recipe.name);
        }
        names.sort_unstable();
        let wanted = [
            "collet",
            "diaphragm chuck",
            "glue or magnet on a face",
            "pie jaws",
            "screw against a thin spot",
            "six-jaw chuck",
            "stack between plates",
        ];
        assert_eq!(names, wanted);
    }
}
