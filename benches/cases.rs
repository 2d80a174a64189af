//! Shared by the benches.
