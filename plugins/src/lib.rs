//! The holding schemes that ringwright ships: one file each, named as the scheme, and one line in [`BUILT_IN`].

mod jaws;
pub mod outside;
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
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use ringwright_solver::case;
    use ringwright_solver::scheme::ParameterKind;

    #[test]
    fn built_in_schemes_conform() {
        assert!(!BUILT_IN.is_empty());
        let registry = registry();
        for (k, scheme) in BUILT_IN.iter().enumerate() {
            let name = scheme.name();
            assert!(!scheme.summary().is_empty(), "{name}");
            assert!(
                BUILT_IN[..k].iter().all(|s| s.name() != name),
                "{name} is there twice"
            );
            assert!(!PLANNED.contains(&name), "{name} is built");
            let keys: Vec<_> = scheme.parameters().iter().map(|p| p.key).collect();
            for (i, p) in scheme.parameters().iter().enumerate() {
                assert!(!keys[..i].contains(&p.key), "{name}: {} twice", p.key);
                assert!(!p.about.is_empty(), "{name}: {}", p.key);
                if let (ParameterKind::Choice(words), Some(d)) = (p.kind, p.default) {
                    assert!(words.contains(&d.trim_matches('"')), "{name}: {}", p.key);
                }
            }
            let case =
                case::read(scheme.example(), &registry).unwrap_or_else(|p| panic!("{name}: {p:?}"));
            assert!(
                case.holds
                    .iter()
                    .flat_map(|h| &h.members)
                    .any(|m| m.scheme.name() == name),
                "the example of {name} does not use it"
            );
            for member in case.holds.iter().flat_map(|h| &h.members) {
                let supports = member
                    .scheme
                    .supports(&case.part.section(), &member.values)
                    .unwrap();
                assert!(!supports.bodies.is_empty() || !supports.pressures.is_empty());
            }
        }
    }
}
