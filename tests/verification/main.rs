//! Checks against closed forms, published values and independent calculations.
#![allow(clippy::unwrap_used)]

mod contact;
mod estimate;
mod metrology;
mod section;
mod series;
