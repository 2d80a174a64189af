//! The ways a shop reads a round part, and how strongly each shows a lobe.

mod trace;

use std::f64::consts::{PI, TAU};
use std::fmt;

use crate::geometry::Surface;

pub use trace::Trace;

/// How part and indicator are set against each other while the part makes a turn.
///
/// A trace is the reading over the part angle that is under the indicator (for a two-point or three-point gauge: under its first
/// contact), mm, larger where the part is larger.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Gauge {
    /// The indicator reads the distance from a fixed axis: rotary table, between centres, on a mandrel.
    Radius,
    /// Two contacts facing each other through the middle: micrometer, two-point bore gauge. The reading is a diameter.
    TwoPoint,
    /// The part turns in a V, the indicator stands on or off its bisector.
    Vee(Vee),
    /// Three contacts 120 deg apart that open together and find their own centre: three-point bore gauge. The reading is a
    /// diameter.
    ThreePoint,
    /// The part is rolled on a surface plate under an indicator with a flat foot: the height of its top above the plate.
    Plate,
}

/// A V and where the indicator stands.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Vee {
    /// Angle between the flanks, degrees, above 0 and below 180.
    pub included_angle_deg: f64,
    /// Direction of the indicator, degrees counter-clockwise from the bisector's end opposite the V (the summit). 180: between the flanks, as on a
    /// V that rides on the part.
    pub indicator_deg: f64,
}

impl Vee {
    /// Indicator on the bisector, opposite the V.
    pub const fn summit(included_angle_deg: f64) -> Self {
        Self {
            included_angle_deg,
            indicator_deg: 0.0,
        }
    }

    /// Indicator on the bisector, between the flanks.
    pub const fn rider(included_angle_deg: f64) -> Self {
        Self {
            included_angle_deg,
            indicator_deg: 180.0,
        }
    }

    /// Directions of the contacts with the flanks, rad from the indicator.
    pub fn contacts(&self) -> [f64; 2] {
        let away = 180.0 - self.indicator_deg;
        let half = 90.0 - 0.5 * self.included_angle_deg;
        [(away - half).to_radians(), (away + half).to_radians()]
    }

    /// Share of a growth at each contact that the part is lifted by, along the indicator: the weights `w` that make
    /// `w_1 u(a_1) + w_2 u(a_2)` the unit vector of the indicator.
    pub fn lift(&self) -> [f64; 2] {
        let [a, b] = self.contacts();
        let across = (b - a).sin();
        [b.sin() / across, -a.sin() / across]
    }
}

impl fmt::Display for Gauge {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Gauge::Radius => f.write_str("indicator, part turning about its axis"),
            Gauge::TwoPoint => f.write_str("two-point gauge"),
            Gauge::Vee(vee) => {
                write!(f, "{} deg V-block, indicator ", vee.included_angle_deg)?;
                match vee.indicator_deg {
                    0.0 => f.write_str("opposite the V"),
                    180.0 => f.write_str("between the flanks"),
                    off => write!(f, "{off} deg off the middle"),
                }
            }
            Gauge::ThreePoint => f.write_str("three-point bore gauge"),
            Gauge::Plate => f.write_str("rolled on a surface plate"),
        }
    }
}

impl Gauge {
    /// The set-ups found in most shops, for comparing: common practice, no source.
    pub const USUAL: [Gauge; 10] = [
        Gauge::Radius,
        Gauge::TwoPoint,
        Gauge::Plate,
        Gauge::Vee(Vee::summit(60.0)),
        Gauge::Vee(Vee::summit(90.0)),
        Gauge::Vee(Vee::summit(108.0)),
        Gauge::Vee(Vee::summit(120.0)),
        Gauge::Vee(Vee::rider(60.0)),
        Gauge::Vee(Vee::rider(90.0)),
        Gauge::ThreePoint,
    ];

    /// Whether the gauge can be put to a part that stands in a chuck: a V-block and a surface plate cannot, the part would have to lie on them.
    pub fn reaches_held(self) -> bool {
        !matches!(self, Gauge::Vee(_) | Gauge::Plate)
    }

    /// Whether the gauge can be put to a surface: nothing round rests in a V or on a plate by its bore, and a three-point gauge that
    /// opens is made for bores.
    pub fn reaches(self, surface: Surface) -> bool {
        match self {
            Gauge::Radius | Gauge::TwoPoint => true,
            Gauge::Vee(_) | Gauge::Plate => surface == Surface::Outer,
            Gauge::ThreePoint => surface == Surface::Bore,
        }
    }

    /// What the reading does, to first order, on a profile `radius + Re(c e^(i n theta))`: it is
    /// `constant + Re(F c e^(i n theta))` with `F` the returned `[re, im]`. The size of `F` is the factor by which the gauge
    /// magnifies the radial height of `count` lobes.
    ///
    /// On the bisector of a V of angle `alpha`, opposite it, `F = 1 + cos(n (90 deg + alpha / 2)) / sin(alpha / 2)`; between the
    /// flanks `F = 1 - cos(n (90 deg - alpha / 2)) / sin(alpha / 2)` (ISO 4292:1985 gives a table of these; formula derived here: the
    /// part moves by `x` with `x . u = -r` at both contacts, the indicator adds `x . u` of its own direction). For one lobe, which
    /// is the part being off centre, every gauge but the first reads nothing.
    pub fn response(self, count: u32) -> [f64; 2] {
        let n = f64::from(count);
        let at = |angle: f64| [(n * angle).cos(), (n * angle).sin()];
        match self {
            Gauge::Radius => [1.0, 0.0],
            Gauge::TwoPoint | Gauge::Plate => {
                [if count.is_multiple_of(2) { 2.0 } else { 0.0 }, 0.0]
            }
            Gauge::ThreePoint => [if count.is_multiple_of(3) { 2.0 } else { 0.0 }, 0.0],
            Gauge::Vee(vee) => {
                let ([a, b], [wa, wb]) = (vee.contacts().map(at), vee.lift());
                [1.0 - wa * a[0] - wb * b[0], -wa * a[1] - wb * b[1]]
            }
        }
    }

    /// The contacts that make a reading, to first order: direction from the indicator, rad, and the share of the growth of the radius there.
    pub fn weights(self) -> Vec<[f64; 2]> {
        match self {
            Gauge::Radius => vec![[0.0, 1.0]],
            Gauge::TwoPoint | Gauge::Plate => vec![[0.0, 1.0], [PI, 1.0]],
            Gauge::ThreePoint => [0.0, TAU / 3.0, 2.0 * TAU / 3.0]
                .map(|angle| [angle, 2.0 / 3.0])
                .to_vec(),
            Gauge::Vee(vee) => {
                let ([a, b], [wa, wb]) = (vee.contacts(), vee.lift());
                vec![[0.0, 1.0], [a, -wa], [b, -wb]]
            }
        }
    }

    /// Size of [`Gauge::response`].
    pub fn factor(self, count: u32) -> f64 {
        let [re, im] = self.response(count);
        re.hypot(im)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn contacts_are_counted_the_way_the_indicator_is() {
        // flanks of a V of 90 deg at 225 and 315, the indicator 30 counter-clockwise of straight up, at 120
        let vee = Vee {
            included_angle_deg: 90.0,
            indicator_deg: 30.0,
        };
        let [a, b] = vee.contacts().map(f64::to_degrees);
        assert!((a - 105.0).abs() < 1e-12 && (b - 195.0).abs() < 1e-12);
    }

    #[test]
    fn one_lobe_is_never_seen_without_an_axis() {
        for angle in [60.0, 72.0, 90.0, 108.0, 120.0] {
            for indicator_deg in [0.0, 30.0, 60.0, 180.0] {
                let vee = Vee {
                    included_angle_deg: angle,
                    indicator_deg,
                };
                assert!(Gauge::Vee(vee).factor(1) < 1e-14, "{vee:?}");
            }
        }
    }
}
