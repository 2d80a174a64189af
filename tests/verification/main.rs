//! Checks against closed forms, published values and independent calculations.
#![allow(clippy::unwrap_used)]

mod case_files;
mod circles;
mod closed_forms;
mod conformance;
mod contact;
mod element;
mod estimate;
mod finished;
mod gauges;
mod holds;
mod limits;
mod measuring;
mod metrology;
mod outside_answers;
mod point_loads;
mod prepared;
mod readings;
mod released;
mod residual;
mod section;
mod series;
mod sleeves;
mod slit;
mod supported;
mod supports;
mod thin;
mod tube;
mod tube_contact;
mod tube_fields;
mod tube_orders;
mod tube_published;
mod tube_run;
mod tube_shells;
mod tube_table;
mod zones;
