//! The axial force at which a tube between plates buckles as a shell.

use std::f64::consts::TAU;

/// Axial forces, N, at which a tube of moderate length buckles, by its mean radius and wall (mm) and Young's modulus (MPa): the classical one of a
/// perfect shell, and what is to be reckoned with.
///
/// The classical one is `2 pi E t^2 / sqrt(3 (1 - nu^2))`, the same for every radius. Tubes as they are made buckle below it, and are designed for the
/// share `1 - 0.901 (1 - exp(-sqrt(R / t) / 16))` of it, a lower bound of many tests. It is drawn through tests of `R / t` from some hundred to 1500; a
/// thicker wall buckles nearer to the classical force, and may yield first, which is not looked at here.
///
/// Source: NASA SP-8007, *Buckling of thin-walled circular cylinders* (both formulas from memory).
pub fn buckling_forces(
    mean_radius: f64,
    wall: f64,
    young_modulus: f64,
    poisson_ratio: f64,
) -> [f64; 2] {
    let classical =
        TAU * young_modulus * wall * wall / (3.0 * (1.0 - poisson_ratio * poisson_ratio)).sqrt();
    let share = 1.0 - 0.901 * (1.0 - (-(mean_radius / wall).sqrt() / 16.0).exp());
    [classical, share * classical]
}
