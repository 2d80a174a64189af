//! What the columns of a plan's values hold.

use super::{Plan, Rows};
use crate::study::Typed;
use crate::study::columns::Kind;
use crate::study::file::VarySet;

impl Plan {
    /// What the columns of its values hold, in the order of the paths: numbers where every value is a plain number, flags where every one is a flag, text where any has a unit or is a word.
    pub fn kinds(&self) -> Vec<Kind> {
        let of = |k: usize| match &self.of {
            Rows::Full(lists) => common(&lists[k]),
            Rows::Table(rows) => common(rows.iter().map(|row| &row[k])),
            Rows::Latin(_, sets) | Rows::Sobol(_, sets) | Rows::Saltelli(_, sets) => {
                match &sets[k] {
                    VarySet::Values(values) => common(values),
                    set => common([&set.at(0.5)]),
                }
            }
        };
        (0..self.paths().len()).map(of).collect()
    }
}

/// What values are, all alike.
fn common<'a>(values: impl IntoIterator<Item = &'a Typed>) -> Kind {
    let kind = |typed: &Typed| match typed {
        Typed::Whole(_) | Typed::Number(_) => Kind::Number,
        Typed::Flag(_) => Kind::Flag,
        Typed::Text(_) => Kind::Text,
    };
    let both = |a, b| if a == b { a } else { Kind::Text };
    let kinds = values.into_iter().map(kind);
    kinds.reduce(both).unwrap_or(Kind::Text)
}
