//! Sizing a jaw: which values of a few free keys of a case meet its limits over all that cannot be held exactly, and which do so best.
//!
//! Read [`size`] first. What is looked for is the point at which the limit that is used up most is used up least: it lies in the middle of the window rather than at an edge, and it is found without slopes, for the best lies where
//! contact changes its pattern and slopes have a kink. Of few keys the whole region is tried on a grid, then the neighbourhood of the best on grids that are finer each time (`grid`); of more an evolution strategy looks for it (`evolve`), and its neighbourhood is
//! tried likewise. What is told of the best stands in `told`, the numbers of its jaws in `drawing`.

mod blank;
mod document;
mod drawing;
mod evolve;
mod grid;
mod pad;
mod search;
mod sheet;
mod task;
mod told;
mod used;

pub use document::{SensitivityDocument, SideDocument, SizeDocument};
pub use search::{SizeError, Way, size};
pub use sheet::{
    BlankDocument, BoredDocument, DrawingDocument, GapDocument, MadeDocument, PreloadDocument,
};
pub use task::{Free, SizeTask, Spread, read_size};
pub use told::{Side, Sized};
pub use used::{Limit, Used};
