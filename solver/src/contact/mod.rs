//! Unilateral contact between rigid faces and the part: what touches, how hard, and where the part then lies.
//!
//! Bodies are rigid, there is no friction and no adhesion, pressure acts along the part's radius. Nothing is assumed
//! about symmetry or about how many arcs of a pad touch. No penalty enters: contact is exact on the mesh. Read [`Clamp`] and
//! [`Clamped`] first; `quadratic` holds the algorithm, `elastic::Elastic` what it asks of a body.

mod clamp;
mod clamped;
mod closing;
mod corners;
mod drive;
mod elastic;
mod face;
mod locked;
mod meshed;
mod near_ring;
mod pressure;
mod quadratic;
mod ring;
mod round;
mod round_sleeve;
mod section;
mod sleeve;
mod slit;
mod surface;
mod surfaces;
mod tube;
mod unresolved;
mod winkler;
mod zones;

pub use clamp::Clamp;
pub use clamped::{Clamped, RESOLVED, fix_rigid_body_modes};
pub use face::{face_radius, first_touch};
pub(crate) use locked::HARDLY_HELD;
pub use locked::{ComesOff, LockedResponse, OutlineFactors, Tool, ToolPlaces};
pub use meshed::{KeptCompliances, MeshedPart};
pub(crate) use near_ring::NearRing;
pub(crate) use pressure::GAUSS;
pub(crate) use round::{PadEnds, RoundBody, RoundContact, RoundState};
pub(crate) use round_sleeve::SleeveBody;
pub use surface::bore_means;
pub(crate) use surface::{add, weighted};
pub(crate) use surfaces::{HeldSurfaces, RingSurfaces};
pub(crate) use tube::{AlongPad, Standing, TubeContact, TubeState};
pub use zones::ContactZone;
pub(crate) use zones::joined;

use crate::geometry::Surface;
use crate::linear::LinearError;
use crate::watch::Stop;

/// Hears of every round of the contact search (from 1), and may end it.
pub type Rounds<'a> = dyn Fn(usize) -> Result<(), Stop> + 'a;

/// A search that nobody ends.
///
/// # Errors
/// Never.
pub fn unwatched(_round: usize) -> Result<(), Stop> {
    Ok(())
}

/// Radius of a surface (mm) over angle (rad).
pub type Radius<'a> = dyn Fn(Surface, f64) -> f64 + 'a;

/// Contact that has no trustworthy answer.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum ContactError {
    /// The active set did not settle.
    #[error(
        "contact did not settle in {rounds} rounds: body {body} keeps opening and closing {offset_deg:.2} deg from its \
         middle; refine the mesh there"
    )]
    Cycled {
        /// Rounds taken.
        rounds: usize,
        /// Body, numbered from 1 over the whole hold.
        body: usize,
        /// Where on it, degrees from its axis.
        offset_deg: f64,
    },
    /// Whoever watches the run ended it.
    #[error("the search for contact was ended")]
    Stopped(Stop),
    /// More pressures would be active at once than are solved for.
    #[error("{active} pressures would be active at once, {most} are the most")]
    TooLarge {
        /// Pressures that would be active at once.
        active: usize,
        /// The most that are solved for.
        most: usize,
    },
    /// The forces have no equilibrium with what touches.
    #[error("the part is loose: {left:e} N of the forces have no reaction")]
    Loose {
        /// Residual force, N.
        left: f64,
        /// The scheme of the hold, from 1, that is locked in this state before later ones close; `None` for the whole hold.
        scheme: Option<usize>,
    },
    /// No force is given and no body presses.
    #[error("the part is loose: no force is given and no body presses")]
    NothingPresses {
        /// The body that is nearest to pressing.
        nearest: Option<Clear>,
        /// Whether that is so only once the part has been cut.
        cut: bool,
    },
    /// Nothing presses on the elements, but a body may touch between them.
    #[error(
        "the elements are too wide to show whether body {body} touches; make [mesh] finer, or leave it out"
    )]
    TooCoarse {
        /// Body, numbered from 1 over the whole hold.
        body: usize,
    },
    /// Nothing that is locked takes a tool force in some direction.
    #[error("nothing resists a tool force{}", along(*across_deg))]
    ToolNotResisted {
        /// Direction along which the part can shift, degrees from 0 to 180; `None` where nothing holds it at all.
        across_deg: Option<f64>,
    },
    /// The factor of the body is not good enough.
    #[error(transparent)]
    Linear(#[from] LinearError),
    /// A face is narrower than its pad.
    #[error("body {body}: its arc of radius {radius:.3} mm does not reach the edges of the pad")]
    FaceTooNarrow {
        /// Body, numbered from 1 over the whole hold.
        body: usize,
        /// Radius of the face, mm.
        radius: f64,
    },
    /// Neighbouring pads run into each other before they are home.
    #[error("closed, bodies {} and {} overlap by {overlap:.4} mm", bodies[0], bodies[1])]
    PadsCollide {
        /// The two, numbered from 1 over the whole hold.
        bodies: [usize; 2],
        /// The surface they face.
        surface: Surface,
        /// Length along the surface that both corners cover, mm.
        overlap: f64,
    },
    /// The ends of a sleeve's slit meet before it is home.
    #[error("held, the slit of the sleeve on the {} surface shuts: {closes:.3} of {width:.3} mm", surface.name())]
    SlitCloses {
        /// The surface of the part that the sleeve lies on.
        surface: Surface,
        /// Width of the slit, mm.
        width: f64,
        /// By how much its ends would come together, mm.
        closes: f64,
    },
    /// A sleeve cannot be meshed.
    #[error("the sleeve has no wall; make it thicker than nothing and smaller than its radius")]
    NoSleeve,
    /// The mesh has no line where a pad or patch ends.
    #[error("the mesh has no line at the edge of body or patch {index} ({angle_deg:.4} deg)")]
    NoLine {
        /// Body or patch, numbered from 1.
        index: usize,
        /// Its axis, degrees.
        angle_deg: f64,
    },
}

fn along(across_deg: Option<f64>) -> String {
    across_deg.map_or(String::new(), |deg| format!(" along {deg:.1} deg"))
}

impl ContactError {
    /// The same, met when a scheme of the hold (from 1) has closed and later ones have not.
    fn at_scheme(self, number: usize) -> Self {
        match self {
            Self::Loose { left, .. } => Self::Loose {
                left,
                scheme: Some(number),
            },
            other => other,
        }
    }
}

/// A body that stands clear of the part, or just touches it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Clear {
    /// Number of the body, from 1 over the whole hold.
    pub body: usize,
    /// How far it stands clear, mm; of a circle on the radius, whatever way the part lies in it.
    pub gap: f64,
    /// Whether it is a circle all round.
    pub round: bool,
}
