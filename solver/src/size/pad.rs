//! A pad as it is made: its face in the plane across the axis, where it stands on the part, and where its corners are.
//!
//! Plane geometry of circles and lines, no source. The x axis is that of the jaw, the origin that of the part.

use crate::geometry::Surface;
use crate::scheme::{Body, Face};

/// A pad whose face ends at two corners.
#[derive(Clone, Copy, Debug)]
pub(super) struct Pad {
    surface: Surface,
    /// Radius of the surface that it grips, mm.
    gripped: f64,
    /// Half of its width and of its relieved middle, straight across, mm.
    half: f64,
    relief: f64,
    face: Face,
}

impl Pad {
    /// The pad of a body that grips a surface of this radius; `None` if it reaches round a quarter of a turn or more from its axis, where
    /// a face has no straight width.
    pub fn of(body: &Body, gripped: f64) -> Option<Self> {
        (body.half_angle < std::f64::consts::FRAC_PI_2).then(|| Self {
            surface: body.surface,
            gripped,
            half: gripped * body.half_angle.sin(),
            relief: gripped * body.relief.sin(),
            face: body.face,
        })
    }

    /// Whether its face is concentric with the chuck where it was bored or turned in place: one that curves as the part does.
    pub fn is_bored(&self) -> bool {
        match self.face {
            Face::Flat => false,
            Face::Concave { .. } => self.surface == Surface::Outer,
            Face::Convex { radius } => {
                self.surface == Surface::Bore && radius >= LEAST_TURNED * self.gripped
            }
        }
    }

    /// How far along the axis the face lies this far from it, from the centre of its arc or from its straight line, mm.
    fn face_at(&self, y: f64) -> f64 {
        let arc = |radius: f64| (radius * radius - y * y).max(0.0).sqrt();
        match (self.face, self.surface) {
            (Face::Flat, _) => 0.0,
            (Face::Concave { radius }, Surface::Outer)
            | (Face::Convex { radius }, Surface::Bore) => arc(radius),
            (Face::Concave { radius }, Surface::Bore)
            | (Face::Convex { radius }, Surface::Outer) => -arc(radius),
        }
    }

    /// How far along its axis it stands where it touches the round part: the middle of what bears, or its ends, touch first.
    pub fn stands(&self) -> f64 {
        let at = |y: f64| (self.gripped * self.gripped - y * y).max(0.0).sqrt() - self.face_at(y);
        let [inner, outer] = [self.relief, self.half].map(at);
        match self.surface {
            Surface::Outer => inner.max(outer),
            Surface::Bore => inner.min(outer),
        }
    }

    /// Its corners, clockwise and counter-clockwise of a jaw at this angle, that stands so far along its axis, mm.
    pub fn corners(&self, angle: f64, stands: f64) -> [[f64; 2]; 2] {
        let x = stands + self.face_at(self.half);
        let (sin, cos) = angle.sin_cos();
        [-self.half, self.half].map(|y| [x * cos - y * sin, x * sin + y * cos])
    }

    /// Its width and that of its relieved middle, straight across, mm.
    pub fn widths(&self) -> [f64; 2] {
        [2.0 * self.half, 2.0 * self.relief]
    }
}

/// A face that curves outward in a bore counts as turned in place from this share of the bore's radius on, as a crown below: screws have
/// crowns of a few millimetres, turned pads nearly the radius of the bore.
const LEAST_TURNED: f64 = 0.75;

#[cfg(test)]
mod tests {
    use super::*;

    /// Three pads of 60 mm bored to 121.2 mm on a part of 120 mm, by hand: they touch in the middle, 0.6 mm farther in than bored, so each
    /// gap is `2 * 0.6 * sin 60 deg` narrower there. Straight across when bored: `2 (60.6 cos(phi) sin 60 - 30 cos 60)` with
    /// `sin phi = 30 / 60.6`.
    #[test]
    fn corners_of_a_bored_pad() {
        let half_angle = 0.5_f64.asin();
        let body = Body::new(
            Surface::Outer,
            0.0,
            half_angle,
            Face::Concave { radius: 60.6 },
        );
        let pad = Pad::of(&body, 60.0).expect("it has a width");
        assert!(pad.is_bored() && (pad.widths()[0] - 60.0).abs() < 1e-12);
        assert!((pad.stands() + 0.6).abs() < 1e-12);
        let third = std::f64::consts::TAU / 3.0;
        let gap = |stands: f64| {
            let [a, b] = [pad.corners(0.0, stands)[1], pad.corners(third, stands)[0]];
            (a[0] - b[0]).hypot(a[1] - b[1])
        };
        let phi = (30.0_f64 / 60.6).asin();
        let sixty = 60_f64.to_radians();
        let by_hand = 2.0 * (60.6 * phi.cos() * sixty.sin() - 30.0 * sixty.cos());
        assert!((gap(0.0) - by_hand).abs() < 1e-9, "{}", gap(0.0));
        let closer = gap(0.0) - gap(pad.stands());
        assert!((closer - 1.2 * sixty.sin()).abs() < 1e-9, "{closer}");
        // bored under size: the corners touch, at 30 degrees on the part
        let under = Body {
            face: Face::Concave { radius: 59.0 },
            ..body
        };
        let pad = Pad::of(&under, 60.0).expect("it has a width");
        let [x, y] = pad.corners(0.0, pad.stands())[1];
        assert!((x.hypot(y) - 60.0).abs() < 1e-12 && (y - 30.0).abs() < 1e-12);
    }
}
