//! The schemes that a program knows.

use std::sync::Arc;

use super::{HoldingScheme, Recipe};

/// Where schemes come from that cost something to have, and are made only when one is asked for that nobody else knows.
pub trait Elsewhere: Send + Sync {
    /// The scheme of this name.
    ///
    /// # Errors
    /// It is not there, and something went wrong with what might have had it: what.
    fn find(&self, name: &str) -> Result<Option<Arc<dyn HoldingScheme>>, String>;
}

/// An ordered list of schemes; later additions come last.
#[derive(Clone, Default)]
pub struct Registry {
    schemes: Vec<Arc<dyn HoldingScheme>>,
    held_free: &'static [Recipe],
    elsewhere: Option<Arc<dyn Elsewhere>>,
}

impl Registry {
    /// A registry of these schemes.
    pub fn with(schemes: impl IntoIterator<Item = Arc<dyn HoldingScheme>>) -> Self {
        Self {
            schemes: schemes.into_iter().collect(),
            held_free: &[],
            elsewhere: None,
        }
    }

    /// Adds one more.
    #[allow(clippy::should_implement_trait)] // nothing is summed
    pub fn add(mut self, scheme: Arc<dyn HoldingScheme>) -> Self {
        self.schemes.push(scheme);
        self
    }

    /// Sets where a scheme is looked for that is not among these.
    pub fn or_elsewhere(mut self, elsewhere: Arc<dyn Elsewhere>) -> Self {
        self.elsewhere = Some(elsewhere);
        self
    }

    /// Sets the recipes that need no scheme: they are written with the built-in hold "free".
    pub fn held_free(mut self, recipes: &'static [Recipe]) -> Self {
        self.held_free = recipes;
        self
    }

    /// All schemes, in order, but for those elsewhere.
    pub fn all(&self) -> &[Arc<dyn HoldingScheme>] {
        &self.schemes
    }

    /// The recipes of the built-in hold "free".
    pub fn free_recipes(&self) -> &'static [Recipe] {
        self.held_free
    }

    /// The scheme of this name, but for those elsewhere.
    pub fn get(&self, name: &str) -> Option<&Arc<dyn HoldingScheme>> {
        self.schemes.iter().find(|s| s.name() == name)
    }

    /// The scheme of this name, wherever it is.
    ///
    /// # Errors
    /// As [`Elsewhere::find`].
    pub fn find(&self, name: &str) -> Result<Option<Arc<dyn HoldingScheme>>, String> {
        match (self.get(name), &self.elsewhere) {
            (None, Some(elsewhere)) => elsewhere.find(name),
            (known, _) => Ok(known.cloned()),
        }
    }
}
