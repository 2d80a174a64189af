//! What goes into a lobed bore or over a lobed outside: a two-point diameter does not tell.

use super::{Limit, LimitKind};
use crate::geometry::{PerSurface, Surface};
use crate::metrology::Sheet;

/// A diameter that is inside its limits across every two points, while the largest plug that enters the bore, or the smallest ring that
/// goes over the outside, is not: an odd count of lobes is the same across everywhere (ISO 14405-1 keeps the two-point size and the sizes
/// of the inscribed and the circumscribed circle apart).
#[derive(Clone, Copy, Debug, PartialEq)]
#[non_exhaustive]
pub struct Fit {
    /// The surface.
    pub surface: Surface,
    /// Diameter of that plug or ring, mm.
    pub size: f64,
}

pub(super) fn fit(read: &PerSurface<Sheet>, limit: &Limit) -> Option<Fit> {
    if limit.kind != LimitKind::Diameter {
        return None;
    }
    let sheet = read.get(limit.surface);
    let [low, high] = limit.allowed;
    let circle = match limit.surface {
        Surface::Bore => &sheet.inscribed,
        Surface::Outer => &sheet.circumscribed,
    };
    let size = 2.0 * circle.as_ref().ok()?.circle.radius;
    let (inside, beyond) = match limit.surface {
        Surface::Bore => (limit.found[0] >= low, size < low),
        Surface::Outer => (limit.found[1] <= high, size > high),
    };
    (inside && beyond).then_some(Fit {
        surface: limit.surface,
        size,
    })
}
