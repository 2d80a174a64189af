//! Shared by the tests.
