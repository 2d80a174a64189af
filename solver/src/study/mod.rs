//! Many cases from one file: a plan of them, and one row of figures a case.
//!
//! Read [`StudyFile`], [`Plan`] and [`evaluate`] first. A plan says of every row what is to be other than the base case says; a row depends on that alone, so any share of
//! a plan can be worked out anywhere. Nothing here reads or writes a file.

pub mod design;
pub mod indices;

mod columns;
mod evaluate;
mod file;
mod plan;
mod space;
mod value;
mod whole;

pub use columns::{Cell, Column, FIGURES, Kind, figures, figures_held};
pub use evaluate::{Base, Row, evaluate, evaluate_shown};
pub use file::{Design, Range, StudyFile, Vary, VarySet, read_study};
pub use plan::{MOST_ROWS, Plan, PlanError, chance};
pub use space::Space;
pub use value::Typed;
