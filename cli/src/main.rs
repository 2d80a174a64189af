//! ringwright.
fn main() {}
