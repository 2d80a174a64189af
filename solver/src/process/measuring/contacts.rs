//! Where gauges and supports press on the part.

use std::f64::consts::{PI, TAU};

use crate::case::Support;
use crate::geometry::Surface;
use crate::metrology::{Gauge, Vee};

/// A line on which something presses.
#[derive(Clone, Copy)]
pub(super) struct GaugeContact {
    /// Direction from the indicator, or from the top of a standing part, rad.
    pub angle: f64,
    /// Share of its radial displacement in the reading.
    pub reads: f64,
    /// Force into the metal over the force asked about.
    pub presses: f64,
}

impl GaugeContact {
    fn alike(angle: f64, share: f64) -> Self {
        Self {
            angle,
            reads: share,
            presses: share,
        }
    }
}

/// The contacts of a gauge on a surface; `None` if it does not reach it.
pub(super) fn contacts(gauge: Gauge, surface: Surface) -> Option<Vec<GaugeContact>> {
    let outer = surface == Surface::Outer;
    match gauge {
        Gauge::Radius => Some(vec![GaugeContact::alike(0.0, 1.0)]),
        Gauge::TwoPoint => Some(facing()),
        Gauge::Plate if outer => Some(facing()),
        Gauge::Vee(vee) if outer => {
            let mut all = vec![GaugeContact::alike(0.0, 1.0)];
            all.extend(flanks(&vee));
            Some(all)
        }
        // every contact presses with the force asked about and gives two thirds of a radius to the diameter read
        Gauge::ThreePoint if !outer => Some(
            (0..3)
                .map(|k| GaugeContact {
                    angle: TAU * f64::from(k) / 3.0,
                    reads: 2.0 / 3.0,
                    presses: 1.0,
                })
                .collect(),
        ),
        Gauge::Plate | Gauge::Vee(_) | Gauge::ThreePoint => None,
    }
}

fn facing() -> Vec<GaugeContact> {
    vec![GaugeContact::alike(0.0, 1.0), GaugeContact::alike(PI, 1.0)]
}

/// The flanks of a V under a force at its indicator.
fn flanks(vee: &Vee) -> impl Iterator<Item = GaugeContact> {
    let shares = vee.lift();
    vee.contacts()
        .into_iter()
        .zip(shares)
        .map(|(angle, lift)| GaugeContact::alike(angle, -lift))
}

/// What carries a part that stands, by direction from its top; `None` where its face carries it.
pub(super) fn supports(support: Support) -> Option<Vec<GaugeContact>> {
    match support {
        Support::Flat => None,
        Support::Edge => Some(vec![GaugeContact::alike(PI, 1.0)]),
        Support::Vee { included_angle_deg } => {
            Some(flanks(&Vee::summit(included_angle_deg)).collect())
        }
    }
}
