//! Force of a turning tool, by the specific cutting force of Kienzle.

/// Thickness of chip, mm, between which the straight line in logarithms that the constants stand for is commonly trusted (from memory).
pub const THICKNESS_RANGE: [f64; 2] = [0.05, 2.5];

/// Constants of a material: `k_c = k_c1.1 h^-m`. Source: O. Kienzle, *Die Bestimmung von Kräften und Leistungen an spanenden Werkzeugen und
/// Werkzeugmaschinen*, VDI-Z 94 (1952) 299 (from memory).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Kienzle {
    /// Specific cutting force of a chip 1 mm wide and 1 mm thick, MPa.
    pub kc11: f64,
    /// Exponent by which it falls with the thickness of the chip.
    pub mc: f64,
}

/// What a straight cutting edge takes off in one turn.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Chip {
    /// Feed, mm a turn.
    pub feed: f64,
    /// Depth of cut on the radius, mm.
    pub depth: f64,
    /// Entering angle, rad: between the edge and the direction of feed.
    pub entering_angle: f64,
}

impl Chip {
    /// Width of the chip along the edge, mm: `a_p / sin kappa`.
    pub fn width(&self) -> f64 {
        self.depth / self.entering_angle.sin()
    }

    /// Thickness of the chip, mm: `f sin kappa`.
    pub fn thickness(&self) -> f64 {
        self.feed * self.entering_angle.sin()
    }

    /// Whether the constants are commonly trusted at this thickness.
    pub fn is_in_range(&self) -> bool {
        let [least, most] = THICKNESS_RANGE;
        (least..=most).contains(&self.thickness())
    }
}

/// Force of a tool on the part, N.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct ToolForce {
    /// Along the turning surface: what the torque of the cut comes from.
    pub tangential: f64,
    /// Along the feed.
    pub axial: f64,
    /// Away from the tool across the axis: into the wall of an outside, outwards in a bore.
    pub radial: f64,
}

impl Kienzle {
    /// Specific cutting force at a thickness of chip (mm), MPa.
    pub fn specific_force(&self, thickness: f64) -> f64 {
        self.kc11 * thickness.powf(-self.mc)
    }

    /// Force of a tool that takes off a chip: `k_c b h` along the surface, and a share of that across the edge, which the entering angle parts into feed
    /// and radial force. Nothing cut is no force.
    ///
    /// The share is 0.3 to 0.6 for sharp to worn edges (common practice, no source). A depth less than the nose radius enters at less than the tool's own angle:
    /// give the angle of the chord of what cuts.
    pub fn force(&self, chip: &Chip, share_across: f64) -> ToolForce {
        if chip.depth <= 0.0 || chip.feed <= 0.0 {
            return ToolForce::default();
        }
        let thickness = chip.thickness();
        let tangential = self.specific_force(thickness) * chip.width() * thickness;
        let across = share_across * tangential;
        ToolForce {
            tangential,
            axial: across * chip.entering_angle.sin(),
            radial: across * chip.entering_angle.cos(),
        }
    }
}
