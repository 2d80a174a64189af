//! Shared by the tests: answers that owe nothing to the finite elements, and cases made in code.

pub mod cases;
pub mod oracle;
