//! The outline of a body of revolution in its r-z plane.

use super::{PerSurface, Surface};

/// Radii of outside and bore at an axial position. Between two of them both run straight; two at one position are a step.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MeridianPoint {
    /// Distance from the gripped end, mm.
    pub z: f64,
    /// Radius of the outside, mm.
    pub outer: f64,
    /// Radius of the bore, mm; 0 in a floor.
    pub bore: f64,
}

/// A piece between two axial positions, over which outside and bore run straight.
#[derive(Clone, Debug, PartialEq)]
pub struct MeridianPiece {
    /// Axial positions of its ends, mm, increasing.
    pub z: [f64; 2],
    /// Radii at its ends, mm.
    pub radii: PerSurface<[f64; 2]>,
}

/// What is wrong with the points of a meridian; each fault names a point by its index.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum MeridianFault {
    /// Fewer than two points, or all at one position.
    #[error("has no length: at least two positions are needed")]
    NoLength,
    /// A value that is not a number, or a negative radius.
    #[error("point {point} has a value that is no length")]
    NoNumber {
        /// Which point.
        point: usize,
    },
    /// Nearer to the gripped end than the point before.
    #[error("point {point} lies nearer to the gripped end than the one before it")]
    Backwards {
        /// Which point.
        point: usize,
    },
    /// A third point at one position.
    #[error("point {point} is the third at its position: a step has two")]
    ThirdAtOnePlace {
        /// Which point.
        point: usize,
    },
    /// The bore meets the outside.
    #[error("the bore meets the outside at point {point}")]
    NoWall {
        /// Which point.
        point: usize,
    },
    /// The walls on both sides of a step do not meet.
    #[error("the walls before and after the step at point {point} do not meet")]
    Apart {
        /// The second point of the step.
        point: usize,
    },
}

/// Outline of a body of revolution: straight pieces one after the other along the axis.
#[derive(Clone, Debug, PartialEq)]
pub struct Meridian {
    pieces: Vec<MeridianPiece>,
}

impl Meridian {
    /// A plain tube: radii and length in mm.
    ///
    /// # Errors
    /// As [`Meridian::through`].
    pub fn tube(outer: f64, bore: f64, length: f64) -> Result<Self, MeridianFault> {
        let point = |z| MeridianPoint { z, outer, bore };
        Self::through(&[point(0.0), point(length)])
    }

    /// The outline through points in the order of their positions.
    ///
    /// # Errors
    /// See [`MeridianFault`].
    pub fn through(points: &[MeridianPoint]) -> Result<Self, MeridianFault> {
        for (k, p) in points.iter().enumerate() {
            let sound = p.z.is_finite() && p.outer.is_finite() && p.bore.is_finite();
            if !sound || p.bore < 0.0 {
                return Err(MeridianFault::NoNumber { point: k });
            }
            if p.outer <= p.bore {
                return Err(MeridianFault::NoWall { point: k });
            }
        }
        for (k, pair) in points.windows(2).enumerate() {
            let point = k + 1;
            if pair[1].z < pair[0].z {
                return Err(MeridianFault::Backwards { point });
            }
            if pair[1].z > pair[0].z {
                continue;
            }
            if k > 0 && points[k - 1].z == pair[0].z {
                return Err(MeridianFault::ThirdAtOnePlace { point });
            }
            if pair[0].outer.min(pair[1].outer) <= pair[0].bore.max(pair[1].bore) {
                return Err(MeridianFault::Apart { point });
            }
        }
        let pieces: Vec<MeridianPiece> = points
            .windows(2)
            .filter(|pair| pair[1].z > pair[0].z)
            .map(|pair| MeridianPiece {
                z: [pair[0].z, pair[1].z],
                radii: PerSurface {
                    outer: [pair[0].outer, pair[1].outer],
                    bore: [pair[0].bore, pair[1].bore],
                },
            })
            .collect();
        match pieces.is_empty() {
            true => Err(MeridianFault::NoLength),
            false => Ok(Self { pieces }),
        }
    }

    /// The pieces, from the gripped end on.
    pub fn pieces(&self) -> &[MeridianPiece] {
        &self.pieces
    }

    /// Axial positions of both ends, mm.
    pub fn ends(&self) -> [f64; 2] {
        let last = self.pieces.len() - 1;
        [self.pieces[0].z[0], self.pieces[last].z[1]]
    }

    /// Radius of a surface at an axial position between the ends, mm; at a step that of the piece before it.
    pub fn radius(&self, surface: Surface, z: f64) -> f64 {
        let after = self.pieces.partition_point(|p| p.z[1] < z);
        self.pieces[after.min(self.pieces.len() - 1)].radius(surface, z)
    }

    /// The outline once a surface is turned between two positions to a cylinder or a cone, by its radii there, mm; where that meets no metal it stays.
    ///
    /// # Errors
    /// [`MeridianFault::NoWall`] or [`MeridianFault::Apart`] if the wall is cut through.
    pub fn turned(
        &self,
        surface: Surface,
        [from, to]: [f64; 2],
        [start, end]: [f64; 2],
    ) -> Result<Self, MeridianFault> {
        let tool = |z: f64| start + (end - start) * (z - from) / (to - from);
        let deeper = |piece: &MeridianPiece, z: f64| {
            surface.outward() * (piece.radius(surface, z) - tool(z))
        };
        let mut points: Vec<MeridianPoint> = Vec::new();
        for piece in &self.pieces {
            let [z0, z1] = piece.z;
            let mut places = vec![z0, from.clamp(z0, z1), to.clamp(z0, z1), z1];
            let (a, b) = (deeper(piece, places[1]), deeper(piece, places[2]));
            if a * b < 0.0 {
                places.push(places[1] + (places[2] - places[1]) * a / (a - b));
            }
            places.sort_by(f64::total_cmp);
            places.dedup();
            for pair in places.windows(2) {
                let middle = 0.5 * (pair[0] + pair[1]);
                let cut = middle > from && middle < to && deeper(piece, middle) > 0.0;
                for &z in pair {
                    let radius = |s: Surface| match cut && s == surface {
                        true => tool(z),
                        false => piece.radius(s, z),
                    };
                    let point = MeridianPoint {
                        z,
                        outer: radius(Surface::Outer),
                        bore: radius(Surface::Bore),
                    };
                    if points.last() != Some(&point) {
                        points.push(point);
                    }
                }
            }
        }
        Self::through(&points)
    }

    /// Thinnest wall along the radius, mm.
    pub fn least_wall(&self) -> f64 {
        let walls = self
            .pieces
            .iter()
            .flat_map(|p| [0, 1].map(|end| p.radii.outer[end] - p.radii.bore[end]));
        walls.fold(f64::INFINITY, f64::min)
    }
}

impl MeridianPiece {
    /// Radius of a surface at an axial position on it, mm.
    pub fn radius(&self, surface: Surface, z: f64) -> f64 {
        let [from, to] = *self.radii.get(surface);
        from + (to - from) * (z - self.z[0]) / (self.z[1] - self.z[0])
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn points(rows: &[[f64; 3]]) -> Vec<MeridianPoint> {
        let point = |&[z, outer, bore]: &[f64; 3]| MeridianPoint { z, outer, bore };
        rows.iter().map(point).collect()
    }

    #[test]
    fn a_flange_and_a_taper_are_pieces() {
        let rows = [
            [0.0, 80.0, 57.0],
            [10.0, 80.0, 57.0],
            [10.0, 60.0, 57.0],
            [40.0, 62.0, 57.0],
        ];
        let meridian = Meridian::through(&points(&rows)).expect("sound");
        assert_eq!(meridian.pieces().len(), 2);
        assert_eq!(meridian.ends(), [0.0, 40.0]);
        assert_eq!(meridian.radius(Surface::Outer, 10.0), 80.0);
        assert_eq!(meridian.radius(Surface::Outer, 25.0), 61.0);
        assert_eq!(meridian.least_wall(), 3.0);
    }

    #[test]
    fn turning_leaves_steps_and_cones() {
        let tube = Meridian::tube(60.0, 57.0, 40.0).expect("sound");
        let bored = tube.turned(Surface::Bore, [10.0, 40.0], [58.0, 58.0]);
        let bored = bored.expect("a wall is left");
        assert_eq!(bored.pieces().len(), 2);
        assert_eq!(bored.radius(Surface::Bore, 10.0), 57.0);
        assert_eq!(bored.radius(Surface::Bore, 10.1), 58.0);
        // a cone that leaves the metal half way
        let cone = tube.turned(Surface::Outer, [0.0, 40.0], [59.0, 61.0]);
        let cone = cone.expect("a wall is left");
        assert_eq!(cone.radius(Surface::Outer, 10.0), 59.5);
        assert_eq!(cone.radius(Surface::Outer, 30.0), 60.0);
        let through = tube.turned(Surface::Bore, [0.0, 40.0], [61.0, 61.0]);
        assert!(matches!(through, Err(MeridianFault::NoWall { .. })));
    }

    #[test]
    fn faults_name_their_point() {
        let fault = |rows: &[[f64; 3]]| Meridian::through(&points(rows)).err();
        let (a, b) = ([0.0, 60.0, 57.0], [20.0, 60.0, 57.0]);
        assert_eq!(fault(&[a]), Some(MeridianFault::NoLength));
        assert_eq!(fault(&[a, a]), Some(MeridianFault::NoLength));
        assert_eq!(fault(&[b, a]), Some(MeridianFault::Backwards { point: 1 }));
        let nothing = [20.0, f64::NAN, 57.0];
        assert_eq!(
            fault(&[a, nothing]),
            Some(MeridianFault::NoNumber { point: 1 })
        );
        let third = Some(MeridianFault::ThirdAtOnePlace { point: 3 });
        assert_eq!(fault(&[a, b, b, b]), third);
        let closed = [20.0, 57.0, 57.0];
        assert_eq!(
            fault(&[a, closed]),
            Some(MeridianFault::NoWall { point: 1 })
        );
        let elsewhere = [20.0, 80.0, 60.0];
        let apart = Some(MeridianFault::Apart { point: 2 });
        assert_eq!(fault(&[a, b, elsewhere, [30.0, 80.0, 60.0]]), apart);
    }
}
