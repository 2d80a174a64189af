//! The schemes that a program knows.

use super::{HoldingScheme, Recipe};

/// An ordered list of schemes; later additions come last.
#[derive(Clone, Default)]
pub struct Registry {
    schemes: Vec<&'static dyn HoldingScheme>,
    held_free: &'static [Recipe],
}

impl Registry {
    /// A registry of these schemes.
    pub fn with(schemes: &[&'static dyn HoldingScheme]) -> Self {
        Self {
            schemes: schemes.to_vec(),
            held_free: &[],
        }
    }

    /// Adds one more.
    #[allow(clippy::should_implement_trait)] // nothing is summed
    pub fn add(mut self, scheme: &'static dyn HoldingScheme) -> Self {
        self.schemes.push(scheme);
        self
    }

    /// Sets the recipes that need no scheme: they are written with the built-in hold "free".
    pub fn held_free(mut self, recipes: &'static [Recipe]) -> Self {
        self.held_free = recipes;
        self
    }

    /// All schemes, in order.
    pub fn all(&self) -> &[&'static dyn HoldingScheme] {
        &self.schemes
    }

    /// The recipes of the built-in hold "free".
    pub fn free_recipes(&self) -> &'static [Recipe] {
        self.held_free
    }

    /// The scheme of this name.
    pub fn get(&self, name: &str) -> Option<&'static dyn HoldingScheme> {
        self.schemes.iter().copied().find(|s| s.name() == name)
    }
}
