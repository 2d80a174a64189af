//! How finely a tube is divided: its r-z plane, its pads, its harmonics.

use crate::contact::PadEnds;
use crate::geometry::Meridian;
use crate::mesh::{AxialGrading, MeridianSizes, graded_sizes};
use crate::scheme::Body;

/// Layers through the thinnest wall of the coarsest division.
const LAYERS: f64 = 2.0;

/// The same between plates, whose pressure and friction are carried by the ends of the layers.
const FACE_LAYERS: f64 = 6.0;

/// Longest column of the coarsest division: walls, and share of `sqrt(R t)`, within which a shell's edge bending fades.
const COLUMN_WALLS: f64 = 2.0;
const COLUMN_FADES: f64 = 0.6;

/// Columns of the coarsest division along a short part, at least.
const COLUMNS: f64 = 8.0;

/// Columns beside the end of a grip, and elements of a pad where contact ends on its face, walls.
const AT_EDGE: f64 = 0.2;

/// The latter no wider than this share of what was found to touch: the crown of a screw touches along a line.
const OF_CONTACT: f64 = 0.125;

/// Elements beside the edge of a pad, walls: pressure has no bound there, and what is left out of it falls with the first element alone.
const AT_PAD_EDGE: f64 = 0.05;

/// Columns beside an end that a plate presses on, walls: its corners slip.
const AT_FACE: f64 = 0.05;

/// Widest element of a pad: walls or, of a thin part, a share of `sqrt(R t)`, whichever is more; and share of the pad.
const WIDEST_WALLS: f64 = 0.6;
const WIDEST_FADES: f64 = 0.25;
const WIDEST_SHARE: f64 = 0.25;

/// Elements round a full circle.
const ROUND: f64 = 48.0;

/// Growth from one column or element to the next.
const GROWTH: f64 = 1.5;

/// The highest harmonic is as fine round the part as so many layers are thick: short columns at the end of a grip are narrower than a layer, and only
/// beyond their own width does the wall answer as a half-plane.
const HARMONIC: f64 = 0.5;

/// Fewest and most harmonics that are solved for.
const HARMONICS: [f64; 2] = [48.0, 640.0];

/// A division of a tube: how often its sizes are halved; below zero, doubled.
#[derive(Clone, Copy, Debug)]
pub(super) struct Fineness {
    pub halvings: i32,
}

impl Fineness {
    pub fn finer(self) -> Self {
        Self {
            halvings: self.halvings + 1,
        }
    }

    fn scale(self) -> f64 {
        0.5_f64.powi(self.halvings)
    }

    /// Sizes of the elements of an outline, its ends between plates or not.
    pub fn sizes(self, outline: &Meridian, plates: bool) -> MeridianSizes {
        let wall = outline.least_wall();
        let [start, end] = outline.ends();
        let radius = mean_radius(outline);
        let along = (COLUMN_WALLS * wall)
            .max(COLUMN_FADES * (radius * wall).sqrt())
            .min((end - start) / COLUMNS);
        MeridianSizes {
            along: along * self.scale(),
            through: wall / if plates { FACE_LAYERS } else { LAYERS } * self.scale(),
            growth: GROWTH,
        }
    }

    /// A line of the mesh at the end of a grip, a load or a cut.
    pub fn mark(self, outline: &Meridian, z: f64) -> AxialGrading {
        AxialGrading {
            z,
            size: AT_EDGE * outline.least_wall() * self.scale(),
        }
    }

    /// A line of the mesh at an end that a plate presses on.
    pub fn face(self, outline: &Meridian, z: f64) -> AxialGrading {
        AxialGrading {
            z,
            size: AT_FACE * outline.least_wall() * self.scale(),
        }
    }

    /// The highest harmonic that its elements carry.
    pub fn harmonics(self, outline: &Meridian) -> u32 {
        let radius = mean_radius(outline);
        let finest = radius / (HARMONIC * self.sizes(outline, false).through);
        let [least, most] = HARMONICS;
        finest.clamp(least, most).round() as u32
    }

    /// Element ends of every piece of the pads of some bodies on a wall (mm) at a radius (mm); `zones` are angles from each body's axis between which contact
    /// was found.
    pub fn pads(
        self,
        bodies: &[Body],
        zones: &[Vec<[f64; 2]>],
        wall: f64,
        radius: impl Fn(usize) -> f64,
    ) -> Vec<PadEnds> {
        let mut pads = Vec::new();
        for (k, body) in bodies.iter().enumerate() {
            if body.is_full_circle() {
                let count = (ROUND / self.scale().sqrt()).round();
                let step = std::f64::consts::TAU / count;
                pads.push(PadEnds {
                    angles: (0..=count as usize).map(|k| step * k as f64).collect(),
                });
                continue;
            }
            let one = wall / radius(k);
            let widest = (WIDEST_WALLS * one).max(WIDEST_FADES * one.sqrt());
            let known = zones.get(k).filter(|z| !z.is_empty());
            for [from, to] in body.pieces() {
                let [at_edge, at_end] =
                    [AT_PAD_EDGE, AT_EDGE].map(|walls| walls * one * self.scale());
                let mut ends: Vec<(f64, f64)> = Vec::new();
                for zone in known.into_iter().flatten() {
                    let size = OF_CONTACT * (zone[1] - zone[0]);
                    ends.extend(zone.map(|t| (t, size.clamp(at_edge, at_end))));
                }
                // where nothing is known of a face that touches in its middle
                if known.is_none() {
                    ends.push((0.5 * (from + to), at_edge));
                }
                ends.retain(|(t, _)| *t > from && *t < to);
                // within a face pressure is smooth, and coarse elements tell it
                let widest = widest.min(WIDEST_SHARE * (to - from)) * self.scale().sqrt();
                pads.push(PadEnds {
                    angles: graded([from, to].map(|t| (t, at_edge)), ends, widest),
                });
            }
        }
        pads
    }
}

/// Element ends of a pad between its edges, as fine beside those and beside the ends of contact within it as is given with them; of marks that are nearer
/// to each other than half that only the first, edges before ends.
fn graded(edges: [(f64, f64); 2], ends: Vec<(f64, f64)>, widest: f64) -> Vec<f64> {
    let mut marks = edges.to_vec();
    for (t, size) in ends {
        if marks.iter().all(|m| (m.0 - t).abs() > 0.5 * size) {
            marks.push((t, size));
        }
    }
    marks.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut places = vec![marks[0].0];
    for pair in marks.windows(2) {
        let [(from, first), (to, last)] = [pair[0], pair[1]];
        let sizes = [first, last].map(|size| size.min(widest));
        let sizes = graded_sizes(to - from, sizes[0], sizes[1], widest, GROWTH);
        let mut at = from;
        for size in &sizes[..sizes.len() - 1] {
            at += size;
            places.push(at);
        }
        places.push(to);
    }
    places
}

/// Mean radius over wall where that is largest.
pub(super) fn thinnest(outline: &Meridian) -> f64 {
    mean_radius(outline) / outline.least_wall()
}

/// Radius in the middle of the wall where it is thinnest, mm.
fn mean_radius(outline: &Meridian) -> f64 {
    let thinnest = outline.pieces().iter().flat_map(|p| {
        [0, 1].map(|end| {
            let (outer, bore) = (p.radii.outer[end], p.radii.bore[end]);
            (outer - bore, 0.5 * (outer + bore))
        })
    });
    let least = thinnest.min_by(|a, b| a.0.total_cmp(&b.0));
    least.map_or(1.0, |(_, radius)| radius)
}
