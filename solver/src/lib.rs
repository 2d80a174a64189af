//! Section mechanics of a ring that is squeezed by its holding, cut round while squeezed, and released.
//!
//! The crate meshes the section, solves unilateral contact and plane-stress elasticity, finds the shape that
//! the tool leaves, releases it and inspects what is left. It never prints and never reads the clock or the
//! environment; `ringwright` (the program) does that.
//!
//! Units inside: mm, N, MPa, rad. Signs: radial displacement positive outwards, angle counter-clockwise from
//! the part's zero mark (+x), gap positive while open, pressure never negative.
//!
//! Modules may use only those above them in the list below (blank lines keep it from being sorted);
//! `tests/architecture` guards it.

mod fourier;

pub mod geometry;

pub mod metrology;

pub mod series;

pub mod grip;

pub mod scheme;

pub mod case;

pub mod mesh;

pub mod element;

pub mod watch;

pub mod linear;

pub mod tube;

pub mod contact;

pub mod process;

pub mod judge;

pub mod report;

pub mod compare;

pub mod study;

pub mod size;

pub mod conformance;
