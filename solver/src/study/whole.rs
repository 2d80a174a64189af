//! Keys that take whole numbers alone.

use super::evaluate::Base;
use super::file::{Vary, VarySet};
use super::value::Typed;
use crate::case::Change;

/// Numbers beyond this are not all whole in a `f64`.
const LARGEST: f64 = 9e15;

impl Base<'_> {
    /// The same, with whole numbers alone for the keys that take no others: ranges between two of them without a unit or a count. Such a key is known by asking the case: it takes the lower
    /// end and the next whole number, and not what lies half way. How its values are typed says nothing, as forces and diameters are typed as whole numbers too.
    pub fn whole_numbers(&self, mut varies: Vec<Vary>) -> Vec<Vary> {
        for vary in &mut varies {
            if let Some([from, to]) = whole_ends(&vary.of)
                && self.takes_whole_alone(&vary.path, from)
            {
                vary.of = VarySet::Whole { from, to };
            }
        }
        varies
    }

    fn takes_whole_alone(&self, path: &str, from: i64) -> bool {
        let refused = |value: Typed| {
            let read = self.case(&[Change::new(path, value.in_toml())]);
            read.err()
                .is_some_and(|problems| problems.iter().any(|p| p.field == path))
        };
        refused(Typed::Number(from as f64 + 0.5))
            && !refused(Typed::Whole(from))
            && !refused(Typed::Whole(from + 1))
    }
}

/// The ends of a range between two whole numbers.
fn whole_ends(set: &VarySet) -> Option<[i64; 2]> {
    let VarySet::Even { range, count: None } = set else {
        return None;
    };
    let whole = |x: f64| (x.fract() == 0.0 && x.abs() < LARGEST).then_some(x as i64);
    match range.unit.as_str() {
        "" => Some([whole(range.from)?, whole(range.to)?]),
        _ => None,
    }
}
