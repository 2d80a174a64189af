//! The holding schemes that ringwright ships: one file each, named as the scheme, and one line in [`BUILT_IN`].

mod jaws;
mod pressure_patches;

pub use jaws::Jaws;
pub use pressure_patches::PressurePatches;

use ringwright_solver::scheme::{HoldingScheme, Registry};

/// The built-in schemes, in the order they are listed.
pub const BUILT_IN: &[&dyn HoldingScheme] = &[&Jaws, &PressurePatches];

/// Schemes that are known but not built yet; a case that uses one is told so by name.
pub const PLANNED: &[&str] = &[
    "screws",
    "plug",
    "mandrel",
    "split-sleeve",
    "points",
    "end-clamp",
];

/// Everything the program ships.
pub fn registry() -> Registry {
    Registry::with(BUILT_IN).plan(PLANNED)
}

#[cfg(test)]
mod tests {
    use super::*;
    use ringwright_solver::conformance;

    #[test]
    fn built_in_schemes_conform() {
        assert!(!BUILT_IN.is_empty());
        for scheme in BUILT_IN {
            let faults = conformance::check(*scheme, &registry());
            assert!(faults.is_empty(), "{}: {faults:#?}", scheme.name());
        }
    }
}
