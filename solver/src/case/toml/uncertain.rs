//! Numbers that are known within a band.

use super::node::{Item, Reader};
use crate::case::check::range::{Range, wrong_band};
use crate::case::quantity::Dimension;
use crate::grip::Band;

impl<'a> Reader<'a> {
    /// A quantity that may be a band: a number, `{ low, high }` or `{ nominal, plus_minus }`.
    pub fn band(&mut self, item: &Item<'a>, dimension: Dimension, range: Range) -> Option<Band> {
        if !item.is_table() {
            return self.number(item, dimension, range).map(Band::exact);
        }
        let table = self.table(item)?;
        self.check_keys(&table, &["low", "high", "nominal", "plus_minus"], &[]);
        let mut get = |key: &str, range| match table.get(key) {
            Some(item) => self.number(&item, dimension, range).map(Some),
            None => Some(None),
        };
        let (low, high) = (get("low", range)?, get("high", range)?);
        let (nominal, plus_minus) = (
            get("nominal", range)?,
            get("plus_minus", Range::ZeroOrMore)?,
        );
        let band = match (low, high, nominal, plus_minus) {
            (Some(low), Some(high), None, None) => Band::between(low, high),
            (None, None, Some(nominal), Some(by)) => Band {
                low: nominal - by,
                nominal,
                high: nominal + by,
            },
            _ => {
                self.wrong(
                    item,
                    "is no band; give { low = ..., high = ... } or { nominal = ..., plus_minus = ... }",
                );
                return None;
            }
        };
        match wrong_band(&band, dimension, range) {
            Some(message) => {
                self.wrong(item, message);
                None
            }
            None => Some(band),
        }
    }
}
