//! Whatever comes in, the program ends soon, with an answer or with what is wrong and where. Fuzz targets, the corpus of inputs that
//! once were trouble, and the campaign.
//!
//! Each target tries a few hundred inputs from a fixed seed; with `RINGWRIGHT_FUZZ_SECONDS=60` it goes on that long, from seeds
//! of its own. What fails is shrunk and printed. The campaign is started by name:
//! `RINGWRIGHT_CAMPAIGN="20000 2000 1" cargo test --release -p ringwright-tests --test fuzz -- --ignored --nocapture campaign`
//! (cases through `check`, cases through `run`, first seed); what offends is kept under `target/tmp/campaign`.
//!
//! The inputs come from `ringwright_tests::generator`, shrunk by proptest. Engines that follow coverage want a compiler's instrumentation
//! and a tool chain of their own, and the readers here are shallow: structure reaches further than coverage.
#![allow(clippy::unwrap_used, clippy::print_stdout)]

mod campaign;
mod case_file;
mod corpus;
mod gauge_document;
mod judge;
mod program;
mod readings;
mod replies;
mod schema;
mod target;
