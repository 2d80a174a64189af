//! To be filled in this work.
