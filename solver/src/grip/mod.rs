//! Grip: the force of the tool, what a hold can take of it, and what turning does to the hold. Closed forms.
//!
//! Every figure here is an estimate. A part that leaves the chuck can kill: the ratings and instructions of the chuck's maker, local rules and competent
//! practice come before any of them.

mod band;
mod cutting;
mod holding;

mod turning;

pub use band::Band;
pub use cutting::{Chip, Kienzle, THICKNESS_RANGE, ToolForce};
pub use holding::{Demand, Friction, Holding, Pressed, PressedEnd, face_torque};
pub use turning::{SpeedFactors, TurningJaw, TurningJaws};
