//! What a drawing of jaws says, as data, and what its lengths are rounded to.

use serde::Serialize;

use crate::geometry::Surface;
use crate::report::units::MM_PER_INCH;

/// What a length is made to, mm and in: a bore or a turned face; a plug or a ring, which are ground; the width of a pad.
pub(super) const BORED: [f64; 2] = [0.01, 0.0005];
pub(super) const GROUND: [f64; 2] = [0.001, 0.000_05];
const MILLED: [f64; 2] = [0.1, 0.005];

/// Alike jaws of one scheme of the hold. Lengths mm except where they are called inch, angles in degrees as the hold has them, seen from the tailstock.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct DrawingDocument {
    /// The scheme.
    pub scheme: String,
    /// What one of them is called: jaw, screw, plug.
    pub called: String,
    /// Which of the scheme's bodies they are, from 1.
    pub numbers: Vec<usize>,
    /// The surface that they press on.
    pub surface: Surface,
    /// Its nominal diameter in the first step that takes this hold; of jaws on a sleeve that of the sleeve's back.
    pub gripped_diameter: f64,
    /// The face: `bored` or `turned` (it curves as the part does), `crowned`, `flat`, or `circle` (it goes all round).
    pub shape: &'static str,
    /// The arc or circle of the face; null of a flat one.
    pub face: Option<BoredDocument>,
    /// Width straight across; null of a circle and of pads that reach a quarter of a turn or more to either side.
    pub width: Option<MadeDocument>,
    /// The arc of the part that one covers.
    pub arc: f64,
    /// Width of the relieved middle straight across; null without one.
    pub relief_width: Option<MadeDocument>,
    /// Where they stand, in the order of `numbers`.
    pub angles: Vec<f64>,
    /// Between each and the next, counter-clockwise; empty of one alone and where there is no width.
    pub gaps: Vec<GapDocument>,
    /// How far each stands from first touch with the free part, mm, negative past it; null of what a force drives and of a circle.
    pub stands_off: Option<Vec<f64>>,
    /// How they are pressed while they are bored or turned in place; null of other faces.
    pub preload: Option<PreloadDocument>,
    /// What the blank may be off by; null where no key of the case gives its diameter.
    pub blank: Option<BlankDocument>,
    /// What has to be known beside these numbers.
    pub says: Vec<String>,
}

/// A face that is round.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BoredDocument {
    /// Diameter as computed, mm.
    pub diameter: f64,
    /// Diameter to make it to: to 0.01 mm, a circle to 0.001 mm.
    pub diameter_mm: f64,
    /// The same in inches: to 0.0005 in, a circle to 0.00005 in.
    pub diameter_inch: f64,
    /// Half of `diameter_mm`.
    pub radius_mm: f64,
    /// Half of `diameter_inch`.
    pub radius_inch: f64,
    /// Whether every limit is met over the spread with `diameter_mm`, all else at the best; null where no key of the scheme gives it.
    pub mm_meets: Option<bool>,
    /// The same with `diameter_inch`.
    pub inch_meets: Option<bool>,
}

/// A length as computed and as it is made.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct MadeDocument {
    /// As computed, mm.
    pub exact: f64,
    /// To 0.1 mm.
    pub mm: f64,
    /// To 0.005 in.
    pub inch: f64,
}

/// The gap between two neighbouring jaws.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct GapDocument {
    /// Numbers of both, counter-clockwise.
    pub between: [usize; 2],
    /// Closed on the part: the arc between their corners about the part's axis.
    pub degrees: f64,
    /// Closed on the part, from corner to corner, straight across.
    pub closed: MadeDocument,
    /// The same with the jaws where their faces are concentric, as they are bored; null of faces that are not.
    pub bored: Option<MadeDocument>,
}

/// How jaws are pressed while they are bored.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PreloadDocument {
    /// `closing` or `opening`: the way in which they grip.
    pub direction: &'static str,
    /// Force of one jaw, N: the mean of what they hold with in the last step that takes this hold, so that they give as much.
    pub force: f64,
}

/// What a blank may be off by.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BlankDocument {
    /// The key that gives its diameter.
    pub path: String,
    /// Its diameter as drawn, mm.
    pub diameter: f64,
    /// How far the diameter may be off either way, mm, with every limit met and each other key of the spread at its worst; none where it is not met at all.
    pub plus_minus: f64,
    /// Whether it may be off by more: that is the most that was tried.
    pub and_more: bool,
    /// What limits it; null where nothing did as far as it was tried.
    pub limited_by: Option<&'static str>,
}

/// The nearest number of steps, exact where the step is a decimal fraction.
pub(super) fn made(x: f64, step: f64) -> f64 {
    match step < 1.0 {
        true => (x / step).round() / (1.0 / step).round(),
        false => (x / step).round() * step,
    }
}

impl MadeDocument {
    pub(super) fn milled(exact: f64) -> Self {
        Self {
            exact,
            mm: made(exact, MILLED[0]),
            inch: made(exact / MM_PER_INCH, MILLED[1]),
        }
    }
}
