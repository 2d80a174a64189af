//! Does the tool say what it promises? Everything here that needs no solving.

#![allow(clippy::unwrap_used)]

mod asking;
mod bad_input;
mod choosing;
mod described;
mod doors;
mod errors;
mod failures;
mod files;
mod gauge;
mod good_input;
mod holding;
mod in_code;
mod indices;
mod outside;
mod pages;
mod picture;
mod readings;
mod shop;
mod sleeve;
mod solved;
mod starting;
mod streams;
mod studies;
mod threads;
mod tool;
mod tube;

use std::ffi::OsString;

/// A small case with everything in it; tests break it one line at a time.
pub const CASE: &str = r#"title = "Ring"
units = "mm"
accuracy = 0.01
[tolerance]
roundness = 0.02
[part]
outer_diameter = 120.0
bore_diameter = 110.0
length = 20.0
material = "bronze C93200"
[[part.lobes]]
surface = "both"
count = 2
amplitude = 0.05
angle = 10
[[hold.bare]]
scheme = "jaws"
count = 3
first_angle = 0
force = 150.0
bored_diameter = 121.2
width = 20.0
[[hold.soft]]
scheme = "pressure-patches"
count = 3
half_angle = 10
force = 150.0
[[step]]
hold = "bare"
force_scale = 1.0
spindle_offset = { distance = 0.0, angle = 0.0 }
[[step.cut]]
surface = "bore"
diameter = 111.0
[mesh]
around = 360
through = 4
"#;

/// What a call came to.
pub struct Call {
    /// Exit status.
    pub exit: u8,
    /// Standard output.
    pub out: String,
    /// Standard error.
    pub err: String,
}

/// Calls the program in this process.
pub fn call(args: &[&str]) -> Call {
    let args = std::iter::once("ringwright")
        .chain(args.iter().copied())
        .map(OsString::from);
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let exit = ringwright::run_with(args, &ringwright_plugins::registry(), &mut out, &mut err);
    Call {
        exit: exit as u8,
        out: String::from_utf8(out).unwrap(),
        err: String::from_utf8(err).unwrap(),
    }
}
