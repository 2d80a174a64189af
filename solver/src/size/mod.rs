//! Sizing a jaw: which values of a few free keys of a case meet its limits over all that cannot be held exactly, and which do so best.
//!
//! Read [`size`] first. What is looked for is the point at which the limit that is used up most is used up least: it lies in the middle of the window rather than at an edge, and it is found without slopes, for the best lies where
//! contact changes its pattern and slopes have a kink. The whole region is tried on a grid, then the neighbourhood of the best on grids that are finer each time.

mod document;
mod search;
mod task;
mod used;

pub use document::{SensitivityDocument, SideDocument, SizeDocument};
pub use search::{Side, SizeError, Sized, size};
pub use task::{Free, SizeTask, Spread, read_size};
pub use used::{Limit, Used};
