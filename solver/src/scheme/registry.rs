//! The schemes that a program knows.

use super::HoldingScheme;

/// An ordered list of schemes; later additions come last.
#[derive(Clone, Default)]
pub struct Registry(Vec<&'static dyn HoldingScheme>);

impl Registry {
    /// A registry of these schemes.
    pub fn with(schemes: &[&'static dyn HoldingScheme]) -> Self {
        Self(schemes.to_vec())
    }

    /// Adds one more.
    pub fn add(mut self, scheme: &'static dyn HoldingScheme) -> Self {
        self.0.push(scheme);
        self
    }

    /// All schemes, in order.
    pub fn all(&self) -> &[&'static dyn HoldingScheme] {
        &self.0
    }

    /// The scheme of this name.
    pub fn get(&self, name: &str) -> Option<&'static dyn HoldingScheme> {
        self.0.iter().copied().find(|s| s.name() == name)
    }
}
