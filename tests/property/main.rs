//! What must hold whatever the numbers: turning, scaling, balance, repeatability, and what only the solver can refuse.
// what the comparisons found is for whoever runs them with --nocapture
#![allow(clippy::unwrap_used, clippy::print_stdout)]

mod advice;
mod agreement;
mod cases;
mod coverage;
mod grip;
mod laying;
mod limits;
mod physics;
mod process;
mod readings;
mod repeat;
mod scaling;
mod threads;
mod tool;
mod tubes;

use ringwright_solver::geometry::Surface;
use ringwright_solver::process::StepOutcome;
use ringwright_tests::files;

/// The thin ring that the tests hold: bore 95, outside 105.
pub fn ring() -> String {
    files::ring(47.5, 52.5, 70_000.0, 0.33, 20.0)
}

/// Three jaws 20 wide, bored to a radius, the first at an angle (deg).
pub fn jaws(bore_radius: f64, force: f64, first_angle: f64) -> String {
    format!(
        "[[hold.h]]\nscheme = \"jaws\"\ncount = 3\nfirst_angle = {first_angle:?}\nforce = {force:?}\nbored_diameter = {:?}\nwidth = 20.0\n",
        2.0 * bore_radius
    )
}

/// Three pressure patches of 6 degrees either side.
pub fn patches(force: f64) -> String {
    format!(
        "[[hold.h]]\nscheme = \"pressure-patches\"\ncount = 3\nhalf_angle = 6.0\nforce = {force:?}\n"
    )
}

/// A step with at most one cut, to a diameter.
pub fn step(cut: Option<(&str, f64)>) -> String {
    let mut text = "[[step]]\nhold = \"h\"\n".to_owned();
    if let Some((surface, diameter)) = cut {
        text += &format!("[[step.cut]]\nsurface = \"{surface}\"\ndiameter = {diameter:?}\n");
    }
    text
}

/// A fixed mesh.
pub fn mesh(around: usize, through: usize) -> String {
    format!("[mesh]\naround = {around}\nthrough = {through}\n")
}

/// Out-of-roundness about the least-squares circle, mm: held, then released, outside and bore.
pub fn roundness(step: &StepOutcome) -> [f64; 4] {
    use ringwright_solver::metrology::{Profile, least_squares_circle};
    let of = |radii: &[f64]| least_squares_circle(&Profile::equal(radii)).roundness;
    [
        of(step.held.shape.get(Surface::Outer)),
        of(step.held.shape.get(Surface::Bore)),
        of(step.released.get(Surface::Outer)),
        of(step.released.get(Surface::Bore)),
    ]
}
