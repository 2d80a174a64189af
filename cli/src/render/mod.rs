//! Words and documents made from what the commands found.

pub(crate) mod compare;
pub(crate) mod conform;
pub(crate) mod diagnostic;
mod drawing;
pub(crate) mod gauge;
pub(crate) mod indices;
pub(crate) mod json;
pub(crate) mod markdown;
pub(crate) mod materials;
mod readings;
pub(crate) mod schemes;
pub(crate) mod size;
mod step;
pub(crate) mod study;
pub(crate) mod summary;
mod tool;
