//! The scale of deviations of one column.

use super::curves::Curves;
use crate::report::units::{MM_PER_INCH, Units};

/// Radius of the circle that stands for the surface in a polar plot, pixels.
pub(super) const RING: f64 = 150.0;
/// Room for deviations on either side of it, pixels.
pub(super) const BAND: f64 = 60.0;
/// Most grid circles on either side.
const MOST: usize = 4;
/// Shapes with less deviation than this (mm) are drawn as the circles that they are: no instrument shows it.
const LEAST: f64 = 1e-4;
/// Share of a roundness zone below which deviations are not drawn larger: what is well inside shall look so.
const SHARE_OF_ZONE: f64 = 0.1;

#[derive(Clone, Copy, Debug)]
pub(super) struct Scale {
    /// Deviation between two grid circles, mm: 1, 2 or 5 times a power of ten in the drawing's unit.
    pub division: f64,
    /// Grid circles on either side of the reference.
    pub divisions: usize,
}

impl Scale {
    pub fn choose(curves: &Curves, units: Units) -> Self {
        let zone = curves.limit.as_ref().map_or(0.0, |l| l.width);
        Self::covering(curves.shown().max(SHARE_OF_ZONE * zone), units)
    }

    /// The scale for deviations of up to so much, mm.
    pub fn covering(shown: f64, units: Units) -> Self {
        let shown = shown.max(LEAST);
        // a division is round in the drawing's own unit
        let unit = if units.inch { MM_PER_INCH } else { 1.0 };
        let least = shown / (MOST as f64 * unit);
        let mut division = round_down(least);
        while division < least * (1.0 - 1e-9) {
            division = round_down(division * 2.6);
        }
        let division = division * unit;
        Self {
            division,
            divisions: (shown / division - 1e-9).ceil().max(1.0) as usize,
        }
    }

    /// Largest deviation on the plot, mm.
    pub fn most(&self) -> f64 {
        self.divisions as f64 * self.division
    }

    /// Pixels a millimetre of deviation in the polar plot.
    pub fn pixels(&self) -> f64 {
        BAND / self.most()
    }

    /// How much larger deviations are drawn in the polar plot than a ring of this radius (mm), to two digits.
    pub fn factor(&self, radius: f64) -> String {
        two_digits(self.pixels() * radius / RING)
    }
}

/// A factor (> 0) to two digits.
pub(super) fn two_digits(factor: f64) -> String {
    let digit = 10f64.powf(factor.log10().floor() - 1.0);
    let rounded = (factor / digit).round() * digit;
    if rounded >= 10.0 {
        format!("{rounded:.0}")
    } else {
        format!("{rounded:.1}")
    }
}

/// The largest of 1, 2, 5 times a power of ten that is not above `x` (> 0).
pub(super) fn round_down(x: f64) -> f64 {
    let power = x.log10().floor();
    let unit = 10f64.powf(power);
    let digit = [5.0, 2.0, 1.0]
        .into_iter()
        .find(|d| d * unit <= x * (1.0 + 1e-9))
        .unwrap_or(1.0);
    // dividing keeps decimal fractions such as 0.005 exact
    if power < 0.0 {
        digit / 10f64.powf(-power)
    } else {
        digit * unit
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn round_numbers() {
        for (x, want) in [
            (0.0099, 0.005),
            (0.01, 0.01),
            (730.0, 500.0),
            (2.0, 2.0),
            (1.99, 1.0),
        ] {
            assert_eq!(round_down(x), want);
        }
    }
}
