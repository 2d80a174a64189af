//! Why a case has no answer, as data: which step, cut or body, and the figures. The words are in `report::refusal`.

use crate::case::Place;
use crate::contact::{Clear, ContactError};
use crate::geometry::Surface;
use crate::linear::LinearError;
use crate::mesh::MeshError;
use crate::metrology::MetrologyError;
use crate::scheme::{OneReading, SchemeError};
use crate::tube::plates::PlatesError;
use crate::watch::{Progress, Stop};

/// Why a case has no answer, and where in the case the reason lies.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct ProcessError {
    /// The place in the case.
    pub at: Place,
    /// The reason.
    pub reason: Reason,
}

/// Reasons, by what they mean to whoever asked.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub enum Reason {
    /// The case is wrong, found while solving.
    Input(Unfit),
    /// The hold leaves the part loose.
    Loose(Looseness),
    /// A cut goes through the wall.
    CutThrough {
        /// Diameter of the cut, mm.
        diameter: f64,
        /// What it would leave of the wall, mm; negative beyond the other surface.
        wall: f64,
        /// Where, part angle, degrees from 0 to 360.
        angle_deg: f64,
    },
    /// The case is right, but the outside program of a scheme failed on it.
    Program(SchemeError),
    /// No trustworthy answer was reached.
    NotConverged(NotConverged),
    /// The answer would take more memory or time than the solver takes on.
    TooLarge(TooLarge),
    /// Somebody ended the run, or a limit of time or work did.
    Stopped(Box<Stopped>),
}

/// How a run was ended.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct Stopped {
    /// Who or what ended it.
    pub by: Stop,
    /// Where the run was.
    pub at: Progress,
    /// What was still open there, if that is known.
    pub open: Option<Open>,
}

/// A case that is wrong in a way that only solving it shows.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub enum Unfit {
    /// The case has no step, or not so many.
    NoStep,
    /// The part is not the one that was prepared.
    OtherPart,
    /// A step names a hold that the case does not have.
    NoHold {
        /// Its name.
        name: String,
    },
    /// A scheme refuses its values, or gives what cannot be put against the part.
    Scheme(SchemeError),
    /// A cut meets no metal.
    CutsNothing {
        /// Surface of the cut.
        surface: Surface,
        /// Diameter of the cut, mm.
        diameter: f64,
    },
    /// A face is narrower than its pad.
    FaceTooNarrow {
        /// Body, from 1 over the whole hold.
        body: usize,
        /// Radius of its face, mm.
        radius: f64,
    },
    /// Neighbouring pads run into each other before they are home.
    PadsCollide {
        /// The two, from 1 over the whole hold.
        bodies: [usize; 2],
        /// The surface they face.
        surface: Surface,
        /// Length along the surface that both corners cover, mm.
        overlap: f64,
    },
    /// A wall so thin that rounding spoils the solids that the length model is made of.
    TooThinAlong {
        /// Mean radius over wall.
        ratio: f64,
        /// The largest that is solved.
        most: f64,
    },
    /// A scheme has a sleeve, which the length model does not take.
    SleeveOnTube,
    /// The force of a scheme cannot be found from what the ring shows.
    Squeeze(Squeeze),
    /// The ends of a sleeve's slit meet before it is home.
    SlitCloses {
        /// The surface of the part that the sleeve lies on.
        surface: Surface,
        /// Width of the slit, mm.
        width: f64,
        /// By how much its ends would come together, mm.
        closes: f64,
    },
}

/// Why the force of a scheme cannot be found from what the ring shows under it. Readings are in mm.
#[derive(Clone, Copy, Debug, PartialEq)]
#[non_exhaustive]
pub enum Squeeze {
    /// The hold has two readings, or is solved along the part.
    Readings(OneReading),
    /// The ring shows more than was read before this scheme presses on it.
    Shown {
        /// What was read.
        read: f64,
        /// What it shows without this scheme's force.
        without: f64,
    },
    /// No force gives it.
    NoForce {
        /// What was read.
        read: f64,
        /// A force that was tried, of one body, N: more of it changes next to nothing.
        force: f64,
        /// What the ring shows under that.
        shown: f64,
    },
}

/// Why a part is loose.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub enum Looseness {
    /// The forces have no equilibrium with what touches.
    ResidualForce {
        /// What nothing takes up, N.
        force: f64,
        /// The scheme of the hold, from 1, that is locked in this state before later ones close; `None` for the whole hold.
        scheme: Option<usize>,
    },
    /// No force is given and no body presses.
    NothingPresses {
        /// The body that is nearest to pressing.
        nearest: Option<Clear>,
        /// Whether that is so only once the part has been cut.
        cut: bool,
    },
    /// Nothing takes the force of a tool.
    UnderTool {
        /// Direction along which the part can shift, degrees from 0 to 180; `None` where nothing holds it at all.
        across_deg: Option<f64>,
    },
}

/// Why no trustworthy answer was reached.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub enum NotConverged {
    /// The part is too far from round for its mean ring to stand for it. The mesh alone decides then, so a run never ends with this.
    MeanRing,
    /// The search for what touches did not settle.
    Contact(ContactError),
    /// The accuracy asked is not reached on the finest mesh that a run may take.
    Accuracy {
        /// Index of the step.
        step: usize,
        /// Elements of the last mesh.
        elements: usize,
        /// What of the step is not accurate enough.
        open: Box<Unresolved>,
    },
    /// The iterations of a cut did not settle.
    Cut {
        /// Iterations taken.
        iterations: usize,
        /// Change of the outline in the last iteration, mm.
        change: f64,
        /// How far the part moves while held, share of its wall.
        flexing: f64,
        /// Whether that, and not the accuracy asked, keeps the iterations from settling.
        flexes_much: bool,
        /// Accuracy asked, relative.
        accuracy: f64,
    },
    /// Which parts of clamped end faces slide did not settle.
    EndFaces {
        /// Rounds taken.
        rounds: usize,
    },
    /// What an uneven wall does to the stiffness of a tube did not settle.
    UnevenWall {
        /// Iterations taken.
        iterations: usize,
        /// Change in the last, as a share of the largest displacement.
        change: f64,
    },
    /// The iterations of a cut gave no number.
    CutWithoutNumber,
    /// The tool runs through the wall of a part that flexes too much for that to be known.
    FlexesThroughCut {
        /// Where, part angle, degrees from 0 to 360.
        angle_deg: f64,
        /// How far the part moves while held, share of its wall.
        flexing: f64,
        /// Whether the stock is out of round by more than its wall.
        uneven_stock: bool,
    },
    /// The equations of the section.
    Equations(LinearError),
    /// The mesh of the section.
    Mesh(MeshError),
    /// A profile that cannot be measured.
    Measure(MetrologyError),
}

/// What keeps a step from the accuracy asked.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub enum Unresolved {
    /// A contact zone on too few elements.
    Zone {
        /// Its width, degrees.
        width_deg: f64,
    },
    /// The driving quantity of two meshes differs by too much.
    Meshes {
        /// Name of the driving quantity.
        quantity: String,
        /// How far they differ, mm.
        absolute: f64,
        /// The same as a share.
        relative: f64,
        /// Share asked.
        accuracy: f64,
        /// Memory that the next mesh would take, bytes; 0 of a tube, which is divided no finer.
        next_bytes: f64,
    },
}

/// What would take more than the solver takes on.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub enum TooLarge {
    /// The mesh.
    Mesh {
        /// Elements that it would have.
        elements: usize,
        /// Memory that it would take, bytes.
        bytes: f64,
        /// The most that a run takes, bytes.
        most_bytes: f64,
        /// Elements round and through that would fit.
        fits: [usize; 2],
    },
    /// The contact.
    Contact {
        /// Pressures that would be active at once.
        active: usize,
        /// The most that are solved for.
        most: usize,
    },
}

/// What was still open when a run was ended.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub enum Open {
    /// One mesh was solved: its error is not known.
    OneMesh,
    /// The last two meshes differed by too much.
    Meshes {
        /// Name of the driving quantity.
        quantity: String,
        /// How far they differ, as a share of it.
        relative: f64,
        /// Share asked.
        accuracy: f64,
    },
    /// A cut was not settled.
    Cut {
        /// Change of the outline in the last iteration, mm.
        change: f64,
    },
}

impl Reason {
    /// The same, with the place in the case that it is about.
    pub(super) fn at(self, at: Place) -> ProcessError {
        ProcessError { at, reason: self }
    }
}

/// A reason that no one place of the case is to blame for.
impl From<Reason> for ProcessError {
    fn from(reason: Reason) -> Self {
        reason.at(Place::Unknown)
    }
}

impl ProcessError {
    /// Whether nothing takes the force of a tool.
    pub(super) fn is_loose_under_tool(&self) -> bool {
        matches!(self.reason, Reason::Loose(Looseness::UnderTool { .. }))
    }

    /// The run was ended from outside when it was so far.
    pub(super) fn stopped(by: Stop, at: &Progress) -> Self {
        let (at, open) = (*at, None);
        Reason::Stopped(Box::new(Stopped { by, at, open })).into()
    }

    /// Contact that has no answer, met when a run was so far in a step.
    pub(super) fn of_contact(error: ContactError, progress: &Progress, step: usize) -> Self {
        let reason = match error {
            ContactError::Stopped(stop) => return Self::stopped(stop, progress),
            ContactError::Loose { left, scheme } => Reason::Loose(Looseness::ResidualForce {
                force: left,
                scheme,
            }),
            ContactError::NothingPresses { nearest, cut } => {
                Reason::Loose(Looseness::NothingPresses { nearest, cut })
            }
            ContactError::ToolNotResisted { across_deg } => {
                Reason::Loose(Looseness::UnderTool { across_deg })
            }
            ContactError::FaceTooNarrow { body, radius } => {
                Reason::Input(Unfit::FaceTooNarrow { body, radius })
            }
            ContactError::PadsCollide {
                bodies,
                surface,
                overlap,
            } => Reason::Input(Unfit::PadsCollide {
                bodies,
                surface,
                overlap,
            }),
            ContactError::SlitCloses {
                surface,
                width,
                closes,
            } => Reason::Input(Unfit::SlitCloses {
                surface,
                width,
                closes,
            }),
            ContactError::TooLarge { active, most } => {
                Reason::TooLarge(TooLarge::Contact { active, most })
            }
            ContactError::Linear(error) => return error.into(),
            other => return NotConverged::Contact(other).into(),
        };
        reason.at(Place::HoldOfStep(step))
    }

    /// The same with the place of the case that it is about, if it has none yet.
    pub(super) fn in_step(mut self, step: usize) -> Self {
        // who interrupts a run finds no fault with the case
        let interrupted = matches!(&self.reason, Reason::Stopped(s) if s.by == Stop::Interrupted);
        if self.at.is_unknown() && !interrupted {
            self.at = Place::Step(step);
        }
        self
    }

    /// Adds what was still open when the time ran out: the innermost that can say it does.
    pub(super) fn still(mut self, found: impl FnOnce() -> Open) -> Self {
        if let Reason::Stopped(stopped) = &mut self.reason
            && stopped.by != Stop::Interrupted
            && stopped.open.is_none()
        {
            stopped.open = Some(found());
        }
        self
    }
}

impl From<NotConverged> for ProcessError {
    fn from(reason: NotConverged) -> Self {
        Reason::NotConverged(reason).into()
    }
}

impl From<LinearError> for ProcessError {
    fn from(error: LinearError) -> Self {
        NotConverged::Equations(error).into()
    }
}

impl From<PlatesError> for ProcessError {
    fn from(error: PlatesError) -> Self {
        match error {
            PlatesError::NotSettled { rounds } => NotConverged::EndFaces { rounds }.into(),
            PlatesError::Linear(error) => error.into(),
        }
    }
}

impl From<MeshError> for ProcessError {
    fn from(error: MeshError) -> Self {
        NotConverged::Mesh(error).into()
    }
}

impl From<MetrologyError> for ProcessError {
    fn from(error: MetrologyError) -> Self {
        NotConverged::Measure(error).into()
    }
}
