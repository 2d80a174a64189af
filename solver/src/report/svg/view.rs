//! How the part is seen: from the tailstock, as it lies in the hold.
//!
//! Directions of a hold run counter-clockwise seen from the tailstock, and jaws are numbered that way. A direction `h` of the hold meets
//! the part at its own angle `p = h - turned`, or `p = turned - h` once the part is turned end for end ([`Placing::on_part`]). So the part's
//! angle `p` is seen at `h = turned + p`, or at `h = turned - p`: its angles then run clockwise. The drawing has the zero mark on the right
//! whatever `turned` is, for the spindle can stand anywhere.

use crate::report::units::angle;
use crate::scheme::Placing;

/// Which way the part's angles run on the drawing.
#[derive(Clone, Copy, Debug)]
pub(super) struct View {
    flipped: bool,
    turned: f64,
}

impl View {
    pub const fn new(placing: &Placing) -> Self {
        Self {
            flipped: placing.flipped,
            turned: placing.turned,
        }
    }

    /// Where a part angle is seen: degrees counter-clockwise from the right.
    pub fn seen(self, part: f64) -> f64 {
        if self.flipped { -part } else { part }
    }

    /// The same on a plot unrolled counter-clockwise from the zero mark: 0 up to 360 degrees.
    pub fn unrolled(self, part: f64) -> f64 {
        self.seen(part).rem_euclid(360.0)
    }

    /// Place of a part angle from 0 to 360 on that plot; also the part angle of such a place.
    pub fn along(self, degrees: f64) -> f64 {
        if self.flipped {
            360.0 - degrees
        } else {
            degrees
        }
    }

    pub const fn runs(self) -> &'static str {
        if self.flipped {
            "clockwise"
        } else {
            "counter-clockwise"
        }
    }

    /// What the angles do from left to right on the unrolled plot.
    pub const fn unrolled_runs(self) -> &'static str {
        if self.flipped { "fall" } else { "rise" }
    }

    /// How the part lies and how its angles run, in words.
    pub fn words(self) -> String {
        let lies = if self.flipped {
            "Part turned end for end. "
        } else {
            ""
        };
        let degrees = self.turned.to_degrees();
        let turned = if degrees.abs() < 0.05 {
            String::new()
        } else {
            let way = if degrees > 0.0 {
                "counter-clockwise"
            } else {
                "clockwise"
            };
            format!(
                " Part turned {} {way} against the hold.",
                angle(degrees.abs())
            )
        };
        format!(
            "{lies}Seen from the tailstock: the part's angles run {} from its zero mark (triangle).{turned}",
            self.runs()
        )
    }
}
