//! `[tolerance]`: what the finished part must be.

use super::{Case, Step};
use crate::geometry::{PerSurface, Surface};
use crate::metrology::{ReferenceCircle, Roundness};

/// Limits on the finished part.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Tolerance {
    /// Radial zone, minimum zone, unfiltered, of every surface cut in any step, mm.
    pub roundness: Option<f64>,
    /// Pressure of contact beyond which a surface counts as marked, MPa; `None`: where a smooth surface first yields under a line contact.
    pub marking_pressure: Option<f64>,
    /// Limits of each surface.
    pub surfaces: PerSurface<SurfaceTolerance>,
}

/// Limits on one surface of the finished part, mm.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SurfaceTolerance {
    /// Radial zone about `circle`.
    pub roundness: Option<f64>,
    /// Lowest and highest of every two-point diameter.
    pub diameter: Option<[f64; 2]>,
    /// Lowest and highest mean of the two-point diameters.
    pub average_diameter: Option<[f64; 2]>,
    /// Largest wall less smallest.
    pub wall_variation: Option<f64>,
    /// Full indicator movement while the part turns about the axis of the other surface.
    pub runout: Option<f64>,
    /// Cut-off of the Gaussian filter, undulations per revolution; `None`: as the inspection has it.
    pub filter_upr: Option<f64>,
    /// Reference circle; `None`: as the inspection has it.
    pub circle: Option<ReferenceCircle>,
}

impl Tolerance {
    /// Whether it limits anything but roundness.
    pub(crate) fn limits_more_than_roundness(&self) -> bool {
        Surface::BOTH.into_iter().any(|s| {
            let own = self.surfaces.get(s);
            own.diameter.is_some()
                || own.average_diameter.is_some()
                || own.wall_variation.is_some()
                || own.runout.is_some()
        })
    }
}

/// The roundness asked of a surface.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RoundnessLimit {
    /// Radial zone, mm.
    pub most: f64,
    /// What the roundness is told about.
    pub about: Roundness,
    /// Whether it is the surface's own limit, not the general one.
    pub own: bool,
}

impl Case {
    /// The roundness limit that applies to a surface of the finished part. The general zone is for surfaces that some step cuts and means the
    /// minimum zone without a filter; a zone of the surface's own takes its place.
    pub fn roundness_limit(&self, surface: Surface) -> Option<RoundnessLimit> {
        let own = self.tolerance.surfaces.get(surface);
        if let Some(most) = own.roundness {
            let about = Roundness {
                circle: own.circle.unwrap_or(self.inspection.circle),
                cut_off: own.filter_upr.or(self.inspection.filter_upr),
            };
            return Some(RoundnessLimit {
                most,
                about,
                own: true,
            });
        }
        self.last_to_cut(surface)?;
        let most = self.tolerance.roundness?;
        Some(RoundnessLimit {
            most,
            about: Roundness::default(),
            own: false,
        })
    }

    /// Index of the last step that cuts a surface: the one that its shape comes from.
    pub fn last_to_cut(&self, surface: Surface) -> Option<usize> {
        let cuts = |s: &Step| s.cuts.iter().any(|c| c.surface == surface);
        self.steps.iter().rposition(cuts)
    }
}
