//! Cases made in code.
