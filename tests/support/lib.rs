//! Shared by the tests: answers that owe nothing to the finite elements, cases made in code and in text, and the means to solve a body without contact.

pub mod body;
pub mod cases;
pub mod files;
pub mod generator;
pub mod oracle;
pub mod q8;
pub mod random;
pub mod reference;
