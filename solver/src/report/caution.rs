//! What has to be known of an answer, in the user's words.

use std::fmt;

use super::units::Units;
use super::words::orientation;
use crate::process::Caution;

/// A caution is also what a document says, whichever units the drawing has: both, millimetres first.
const UNITS: Units = Units::new(false);

const NO_SECOND_MESH: &str = "no second mesh was solved, so the mesh error is not known";
const CONTACT_UNRESOLVED: &str = "on the fixed mesh a contact is carried by fewer than four element edges: where it presses, how far it closes and the \
                 stress, so also whether it yields, are not resolved";
const WORST_BY_ROUNDNESS: &str = "turned = \"any\" looks for the way that leaves most out-of-roundness; wall, runout and diameters may come out worse \
                 another way";
const POINT_FORCE: &str = "under a point force stress has no maximum, and the displacement right under it grows, slowly, with every finer mesh; \
                 elsewhere both are sound";
const SHIFTS_SIDEWAYS: &str = "nothing locates the part across its axis: between plates alone it can shift sideways, held by nothing but friction at its \
     ends, which the torque of the cut uses too";
const NO_TOOL_ALONG: &str = "along a tube the tool does not push the wall away: leave out [tube] and the slice shows what it does";
const ENDS_HELD_ROUND: &str = "plates on which the ends stick hold them round against the other bodies too; that is left out, so the part is a little rounder held than \
     these figures say";
const ENDS_STICK: &str =
    "the slice shows even growth only; ends that stick bulge between the plates";
const AXIAL_STRESS_NOT_IN_FIELDS: &str = "stress fields are those in the plane; the axial stress of the end clamp is counted in the von Mises figures of the held \
                 part, not in the fields";
const AXIAL_STRESS_BEFORE_CUTS: &str = "the stress from the end plates is taken as it was before the first cut; where their force stays (hydraulics, a weight) \
                 it rises as the section gets smaller";
const ADVICE_CUT_SHORT: &str = "the limit of time or work passed while other forces and cuts were tried: what is advised about them may be incomplete";

/// The caution in full; one of a step begins with its number.
impl fmt::Display for Caution {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some(step) = self.step() {
            write!(f, "step {}", step + 1)?;
            if let Caution::SpringPass { cut, .. } | Caution::ToolLiftsOff { cut, .. } = self {
                write!(f, ", cut {}", cut + 1)?;
            }
            f.write_str(": ")?;
        }
        match self {
            Caution::LargeFlexing { share, .. } => write!(
                f,
                "the part moves by {share:.2} of its wall while held; above 0.1 a theory of small displacements is no longer exact"
            ),
            Caution::NoSecondMesh { .. } => f.write_str(NO_SECOND_MESH),
            Caution::AccuracyNotReached {
                step,
                error,
                accuracy,
            } => {
                let which = match step {
                    0 => "the fixed mesh",
                    _ => "the mesh, with what the steps before left,",
                };
                write!(
                    f,
                    "{which} does not reach the accuracy asked ({error:.1e}, asked for {accuracy:.1e})"
                )
            }
            Caution::ContactUnresolved { .. } => f.write_str(CONTACT_UNRESOLVED),
            Caution::WorstByRoundness { .. } => f.write_str(WORST_BY_ROUNDNESS),
            Caution::PointForce { .. } => f.write_str(POINT_FORCE),
            Caution::EndsStick { .. } => f.write_str(ENDS_STICK),
            Caution::ShiftsSideways { .. } => f.write_str(SHIFTS_SIDEWAYS),
            Caution::EndsHeldRound { .. } => f.write_str(ENDS_HELD_ROUND),
            Caution::NoToolAlong { .. } => f.write_str(NO_TOOL_ALONG),
            Caution::GripShorterThanSlice {
                scheme, grip, part, ..
            } => write!(
                f,
                "{scheme}: a grip of {} on a part of {}, and a slice carries its force over the whole length: the part is squeezed more where it is gripped and \
                 less elsewhere than these figures say, up to two or three times; add [tube] to have it solved along its length",
                UNITS.size(*grip),
                UNITS.size(*part)
            ),
            Caution::AxialStressNotInFields { .. } => f.write_str(AXIAL_STRESS_NOT_IN_FIELDS),
            Caution::AxialStressBeforeCuts { .. } => f.write_str(AXIAL_STRESS_BEFORE_CUTS),
            Caution::SpringPass {
                surface,
                depth,
                pushed,
                ..
            } => {
                write!(f, "a spring pass on the {} ", surface.in_words())?;
                if *depth > 0.0 {
                    write!(
                        f,
                        "takes what the pass before left, {} at most",
                        UNITS.small(*depth)
                    )?;
                } else {
                    f.write_str("finds nothing to take")?;
                }
                match pushed {
                    true => Ok(()),
                    false => f.write_str(
                        ": without radial_force the tool does not push the wall away, so what a real spring pass takes beyond that is not in \
                         these figures",
                    ),
                }
            }
            Caution::ToolLiftsOff {
                body, angle_deg, ..
            } => write!(
                f,
                "with the tool at {angle_deg:.0} deg its force takes all load off body {body} of the hold, which then grips nothing: clamp harder, support \
                 the wall, or cut with less force"
            ),
            Caution::OneLine { across_deg, .. } => write!(
                f,
                "everything presses along one line, so along {across_deg:.0} deg only friction, which is left out here, keeps the part \
                 from sliding: add a support there, or jaws bored to the part"
            ),
            Caution::CutsWhereItGrips {
                surface,
                scheme,
                along: true,
                ..
            } => write!(
                f,
                "its cut on the {} runs over where the part is held by the {scheme}: the tool would run into them, and here they are taken to sit on \
                 uncut stock; end the cut before the grip, or hold elsewhere",
                surface.in_words()
            ),
            Caution::CutsWhereItGrips {
                surface, scheme, ..
            } => write!(
                f,
                "it cuts the {}, which is held by the {scheme}: that is taken to sit on uncut stock beside the tool, though the slice has \
                 it over the full length; see that the tool clears it",
                surface.in_words()
            ),
            Caution::SliceThickness {
                thickness,
                lobes: Some(lobes),
            } => write!(
                f,
                "the slice is taken {} thick: that much of the part is squeezed into {lobes} lobes as the part is where it is gripped, in the mean over the \
                 grip; farther along it is squeezed less",
                UNITS.size(*thickness)
            ),
            Caution::SliceThickness {
                thickness,
                lobes: None,
            } => write!(
                f,
                "the slice is taken {} thick, as the case says",
                UNITS.size(*thickness)
            ),
            Caution::AdviceCutShort => f.write_str(ADVICE_CUT_SHORT),
            Caution::GaugeForce {
                surface,
                force,
                effect,
                varies,
                of_diameters,
                limit,
            } => {
                let how = if *varies {
                    "changes what it reads, differently round the turn, by up to"
                } else {
                    "changes what it reads by"
                };
                let what = if *of_diameters {
                    "range of diameters"
                } else {
                    "roundness"
                };
                write!(
                    f,
                    "measuring: the gauge's {} flexes the part and {how} {} ({}), more than a tenth of the {what} \
                     wanted, {}; measure with less force",
                    UNITS.force(*force),
                    UNITS.small(*effect),
                    surface.in_words(),
                    UNITS.small(*limit)
                )
            }
            Caution::OwnWeight {
                support,
                surface,
                out_of_roundness,
                limit,
            } => write!(
                f,
                "measuring: {}, the part's own weight puts it out of round by {} ({}), more than a tenth of the \
                 roundness wanted, {}; measure it lying on its face",
                orientation(*support),
                UNITS.small(*out_of_roundness),
                surface.in_words(),
                UNITS.small(*limit)
            ),
        }
    }
}

impl Caution {
    /// The step that it is about, from 0; `None` for one of the whole run or of measuring.
    pub fn step(&self) -> Option<usize> {
        match *self {
            Caution::LargeFlexing { step, .. }
            | Caution::NoSecondMesh { step }
            | Caution::AccuracyNotReached { step, .. }
            | Caution::ContactUnresolved { step }
            | Caution::WorstByRoundness { step }
            | Caution::PointForce { step }
            | Caution::EndsStick { step }
            | Caution::ShiftsSideways { step }
            | Caution::EndsHeldRound { step }
            | Caution::NoToolAlong { step }
            | Caution::GripShorterThanSlice { step, .. }
            | Caution::AxialStressNotInFields { step }
            | Caution::AxialStressBeforeCuts { step }
            | Caution::SpringPass { step, .. }
            | Caution::ToolLiftsOff { step, .. }
            | Caution::OneLine { step, .. }
            | Caution::CutsWhereItGrips { step, .. } => Some(step),
            Caution::SliceThickness { .. }
            | Caution::AdviceCutShort
            | Caution::GaugeForce { .. }
            | Caution::OwnWeight { .. } => None,
        }
    }
}
