//! Friction of a hold against the torque and the axial force of a cut.

/// Coefficients of friction between a surface and what holds it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Friction {
    /// Round the part.
    pub around: f64,
    /// Along it.
    pub along: f64,
}

/// What a cut asks of a hold.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Demand {
    /// Torque about the axis, N mm.
    pub torque: f64,
    /// Force along the axis that nothing but friction takes, N.
    pub axial: f64,
}

/// What one surface is gripped with.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GripOn {
    /// Integral of the pressure over all that touches, N: friction acts on it, not on the resultants of pads.
    pub pressure_integral: f64,
    /// Radius of the surface, mm.
    pub radius: f64,
    /// Its friction.
    pub friction: Friction,
}

impl GripOn {
    /// Torque that it takes where nothing pulls along the axis, N mm: `mu N r`.
    pub fn torque(&self) -> f64 {
        self.friction.around * self.pressure_integral * self.radius
    }

    /// Axial force that it takes where no torque acts, N: `mu N`.
    pub fn axial(&self) -> f64 {
        self.friction.along * self.pressure_integral
    }

    /// How many times a demand it takes before it slips, torque and axial force growing together: both use the same friction, so
    /// `(T / T_max)^2 + (A / A_max)^2 = 1` at slip, an ellipse as Coulomb's circle is for one coefficient (derived here: shear of the direction of slip on
    /// every place, whose components are bounded by the coefficients as half axes). Infinite for no demand, zero without friction.
    pub fn safety(&self, demand: &Demand) -> f64 {
        let share = |asked: f64, most: f64| match asked.abs() {
            0.0 => 0.0,
            asked => asked / most,
        };
        let used = share(demand.torque, self.torque()).hypot(share(demand.axial, self.axial()));
        1.0 / used
    }
}
