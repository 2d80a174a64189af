//! Buckling of a tube under axial force.

/// Forces (N) at which the wall of a plain tube buckles under an axial force: classical, and knocked down as is customary.
pub fn buckling_forces(
    mean_radius: f64,
    wall: f64,
    young_modulus: f64,
    poisson_ratio: f64,
) -> [f64; 2] {
    let classical = 2.0 * std::f64::consts::PI * young_modulus * wall * wall
        / (3.0 * (1.0 - poisson_ratio * poisson_ratio)).sqrt();
    let down = 1.0 - 0.901 * (1.0 - (-(mean_radius / wall).sqrt() / 16.0).exp());
    [classical, classical * down]
}
