//! The holding schemes that ringwright ships: one file each, named as the scheme, and one line in [`BUILT_IN`].

mod common;
mod end_clamp;
mod free;
mod jaws;
mod mandrel;
mod plug;
mod points;
mod pressure_patches;
mod screws;

pub use end_clamp::EndClamp;
pub use free::FREE;
pub use jaws::Jaws;
pub use mandrel::Mandrel;
pub use plug::Plug;
pub use points::Points;
pub use pressure_patches::PressurePatches;
pub use screws::Screws;

use ringwright_solver::scheme::{HoldingScheme, Registry};

/// The built-in schemes, in the order they are listed.
pub const BUILT_IN: &[&dyn HoldingScheme] = &[
    &Jaws,
    &Screws,
    &Plug,
    &Mandrel,
    &EndClamp,
    &PressurePatches,
    &Points,
];

/// Schemes that are known but not built yet; a case that uses one is told so by name.
pub const PLANNED: &[&str] = &["split-sleeve"];

/// Everything the program ships.
pub fn registry() -> Registry {
    Registry::with(BUILT_IN).plan(PLANNED).held_free(FREE)
}

#[cfg(test)]
mod testing;

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use ringwright_solver::case;
    use ringwright_solver::scheme::{ParameterKind, Recipe, Supports};

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
                assert_ne!(supports, Supports::default(), "{name}");
            }
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
        for scheme in BUILT_IN {
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
            "plates and studs",
            "six-jaw chuck",
        ];
        assert_eq!(names, wanted);
    }
}
