//! Checks against closed forms, published values and independent calculations.
#![allow(clippy::unwrap_used)]

mod case_files;
mod contact;
mod element;
mod metrology;
mod section;
mod series;
