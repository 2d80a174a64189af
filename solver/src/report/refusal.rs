//! Why a case has no answer, in the user's words.

use std::fmt;

use super::units::Units;
use crate::contact::Clear;
use crate::geometry::Surface;
use crate::process::{
    Looseness, NotConverged, Open, ProcessError, Reason, Squeeze, TooLarge, Unfit, Unresolved,
};
use crate::watch::Stop;

/// Gaps below this are a touch to anybody with an indicator, mm.
const TOUCH: f64 = 1e-6;

/// What is refused is said the same whichever units the drawing has: both, millimetres first.
const UNITS: Units = Units::new(false);

impl std::error::Error for ProcessError {}

impl fmt::Display for ProcessError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.reason.fmt(f)
    }
}

/// What is wrong and what would be right, without the place.
impl fmt::Display for Reason {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Reason::Input(unfit) => f.write_str(&in_words(unfit)),
            Reason::Loose(looseness) => f.write_str(&loose(looseness)),
            Reason::CutThrough {
                diameter,
                wall,
                angle_deg,
            } => write!(
                f,
                "a cut to {diameter:.3} mm leaves a wall of {wall:.3} mm at {angle_deg:.1} deg: it goes through the wall"
            ),
            Reason::Program(error) => error.fmt(f),
            Reason::NotConverged(why) => f.write_str(&not_converged(why)),
            Reason::TooLarge(what) => f.write_str(&too_large(what)),
            Reason::Stopped(stopped) => {
                let at = stopped.at;
                match stopped.by {
                    Stop::Interrupted => write!(f, "interrupted at {at}")?,
                    Stop::TimeLimit => write!(f, "the time limit passed at {at}")?,
                    Stop::WorkLimit => write!(
                        f,
                        "the case takes more work than is taken on without a time limit; it came to {at}"
                    )?,
                }
                match &stopped.open {
                    Some(open) => write!(f, ": {}", still_open(open)),
                    None => Ok(()),
                }
            }
        }
    }
}

fn in_words(unfit: &Unfit) -> String {
    match unfit {
        Unfit::NoStep => "the case has no step".to_owned(),
        Unfit::OtherPart => {
            "this is another part than the one that was prepared: prepare the case anew".to_owned()
        }
        Unfit::NoHold { name } => format!("there is no hold \"{name}\" in the case"),
        Unfit::Scheme(error) => error.to_string(),
        Unfit::CutsNothing { surface, diameter } => format!(
            "this cut removes nothing: held, the {} already lies {} {diameter:.3} mm everywhere",
            surface.in_words(),
            match surface {
                Surface::Outer => "inside diameter",
                Surface::Bore => "outside diameter",
            },
        ),
        Unfit::FaceTooNarrow { body, radius } => format!(
            "body {body}: its arc of radius {radius:.3} mm does not reach the edges of the pad; make the pad narrower or the radius larger"
        ),
        Unfit::PadsCollide {
            bodies: [first, second],
            surface,
            overlap,
        } => format!(
            "closed, bodies {first} and {second} of the hold overlap by {overlap:.4} mm at their corners on the {} surface; make the \
             pads narrower or move them apart",
            surface.name()
        ),
        Unfit::TooThinAlong { ratio, most } => format!(
            "the mean radius is {ratio:.0} times the wall, and along the length no more than {most:.0} times is solved, as rounding spoils thinner \
             walls; leave out [tube], and a slice stands for the part"
        ),
        Unfit::SleeveOnTube => "a sleeve is not solved along the length; leave out [tube], and a slice stands for the part".to_owned(),
        Unfit::Squeeze(why) => squeeze(*why),
        Unfit::SlitCloses {
            surface,
            width,
            closes,
        } => {
            let made = match surface {
                Surface::Outer => "bore",
                Surface::Bore => "turn",
            };
            format!(
                "held, the slit of the sleeve on the {} would shut: its ends would come together by {}, and it is {} wide. They would meet \
                 and carry part of the force, which is not computed; make the slit wider, {made} the sleeve nearer to the part's diameter, \
                 or use less force",
                surface.in_words(),
                UNITS.size(*closes),
                UNITS.size(*width)
            )
        }
    }
}

fn squeeze(why: Squeeze) -> String {
    let small = |mm: f64| UNITS.small(mm);
    match why {
        Squeeze::Readings(why) => why.to_string(),
        Squeeze::Shown { read, without } => format!(
            "is {}, and the ring shows {} before this scheme presses on it: the other schemes of the hold bend it so. Look at their forces and \
             gaps, and whether this was read with all of them in place",
            small(read),
            small(without)
        ),
        Squeeze::NoForce { read, force, shown } => format!(
            "no force makes the ring show {}: under {} it shows {}, and more changes next to nothing, so other schemes of the hold keep it from \
             moving. Look at the reading and its unit: over the jaws and midway between them, clamped minus free, along the radius, on the \
             surface that is not gripped",
            small(read),
            UNITS.set_force(force),
            small(shown)
        ),
    }
}

fn loose(looseness: &Looseness) -> String {
    match *looseness {
        Looseness::ResidualForce { force, scheme } => {
            let closing = scheme.map_or(String::new(), |number| {
                format!(
                    " when scheme {number} of the hold has closed and is locked, before the later ones close; put first in the list \
                     what holds the part by itself"
                )
            });
            format!(
                "the hold leaves the part loose: nothing takes up {} N of the forces{closing}",
                figure(force)
            )
        }
        Looseness::NothingPresses { nearest, cut } => {
            format!(
                "nothing presses on the part, so it is loose: {}",
                clear(nearest, cut)
            )
        }
        Looseness::UnderTool { across_deg } => under_tool(across_deg),
    }
}

fn under_tool(across_deg: Option<f64>) -> String {
    let where_to = match across_deg {
        Some(deg) => format!(
            "along {deg:.0} deg nothing but friction, which is left out here, keeps the part from sliding under it: add a support there, or leave out \
             radial_force"
        ),
        None => "nothing holds the part against it: use a hold with bodies that press on it, or leave out radial_force".to_owned(),
    };
    format!("the tool's force is not resisted: {where_to}")
}

/// How far what is nearest stands clear, and what would be right.
fn clear(nearest: Option<Clear>, cut: bool) -> String {
    if cut {
        return "once it is cut, what stands at a fixed place no longer touches it: clamp harder, or let the force stay while metal goes".into();
    }
    match nearest {
        Some(Clear { body, gap, round }) if gap > TOUCH => {
            let (stands, cure) = if round {
                (
                    "with a clearance of ",
                    "on the radius; make it fit with interference",
                )
            } else {
                ("", "clear; give a force, or set it past first contact")
            };
            format!(
                "no force reaches it and the nearest body (number {body} of the hold) stands {stands}{} mm {cure}",
                figure(gap)
            )
        }
        _ => "no force reaches it and what stands at a fixed place just touches; give a force, or set it past first contact".into(),
    }
}

/// A figure of any size in few characters: thousandths where that says it, else a power of ten.
fn figure(value: f64) -> String {
    if (1e-2..1e6).contains(&value) || value == 0.0 {
        format!("{value:.3}")
    } else {
        format!("{value:.1e}")
    }
}

fn not_converged(why: &NotConverged) -> String {
    match why {
        NotConverged::MeanRing => {
            "the part is too far from round for its mean ring to stand for it".to_owned()
        }
        NotConverged::Contact(error) => error.to_string(),
        NotConverged::Accuracy {
            step,
            elements,
            open,
        } => format!(
            "step {}: with {elements} elements {}",
            step + 1,
            unresolved(open)
        ),
        NotConverged::Cut {
            iterations,
            change,
            flexing,
            flexes_much,
            accuracy,
        } => {
            let cure = if *flexes_much {
                format!(
                    "the part flexes by {flexing:.2} of its wall: use less force or better support"
                )
            } else {
                format!(
                    "accuracy {accuracy:.1e} is more than the arithmetic gives here: ask for less"
                )
            };
            format!(
                "the cut did not settle in {iterations} iterations (last change {change:.1e} mm); {cure}"
            )
        }
        NotConverged::EndFaces { rounds } => format!(
            "which parts of the clamped end faces slide did not settle in {rounds} rounds; try end_condition = \"stuck\" and \"sliding\", which \
             are its two ends"
        ),
        NotConverged::UnevenWall { iterations, change } => format!(
            "what the lobes of the stock do to the wall did not settle in {iterations} iterations (last change {:.1} percent); they are too \
             large beside the wall: look at the lobes or readings and their unit",
            100.0 * change
        ),
        NotConverged::CutWithoutNumber => "the iterations of the cut gave no number".to_owned(),
        NotConverged::FlexesThroughCut {
            angle_deg,
            flexing,
            uneven_stock,
        } => {
            let cure = if *uneven_stock {
                "the stock is out of round by more than its wall: look at its lobes or readings and their unit"
            } else {
                "use less force or better support"
            };
            format!(
                "the tool runs through the wall at {angle_deg:.1} deg while the part flexes by {flexing:.2} of its wall: {cure}"
            )
        }
        NotConverged::Equations(error) => error.to_string(),
        NotConverged::Mesh(error) => error.to_string(),
        NotConverged::Measure(error) => error.to_string(),
    }
}

fn unresolved(open: &Unresolved) -> String {
    match open {
        Unresolved::Zone { width_deg } => {
            format!("a contact zone {width_deg:.4} deg wide has too few elements")
        }
        Unresolved::Meshes {
            quantity,
            absolute,
            relative,
            accuracy,
            next_bytes,
        } => {
            let cure = if 2.0 * relative <= 0.5 {
                format!("ask for {:.1e}", 2.0 * relative)
            } else {
                "no accuracy worth asking for is in reach here".to_owned()
            };
            let next = match *next_bytes {
                0.0 => "a tube is divided no finer".to_owned(),
                bytes => format!("the next mesh takes {:.1} GB", bytes / 1e9),
            };
            format!(
                "the {quantity} of two meshes still differs by {absolute:.1e} mm, {relative:.1e} of it; accuracy {accuracy:.1e} is asked \
                 for, and {next}: {cure}"
            )
        }
    }
}

fn too_large(what: &TooLarge) -> String {
    match *what {
        TooLarge::Mesh {
            elements,
            bytes,
            most_bytes,
            fits: [around, through],
        } => format!(
            "a mesh fine enough for this hold has {elements} elements and takes about {:.1} GB; {:.1} GB are the most: use fewer or \
             wider pads, or fix a coarser [mesh]; around = {around}, through = {through} would fit",
            bytes / 1e9,
            most_bytes / 1e9
        ),
        TooLarge::Contact { active, most } => format!(
            "the contact is too large: {active} pressures would be active at once, {most} are the most (their compliances take {:.2} GB \
             and each round {:.0} thousand million multiplications): use fewer, narrower or shorter pads, or ask for less accuracy (of a slice, \
             fix a coarser [mesh])",
            12.0 * (active as f64).powi(2) / 1e9,
            (active as f64).powi(3) / 3e9
        ),
    }
}

fn still_open(open: &Open) -> String {
    match open {
        Open::OneMesh => "only one mesh was solved, so its error is not known".into(),
        Open::Meshes {
            quantity,
            relative,
            accuracy,
        } => format!(
            "the {quantity} of the last two meshes differs by {relative:.1e} of it, and accuracy {accuracy:.1e} is asked for"
        ),
        Open::Cut { change } => {
            format!("the cut still changed by {change:.1e} mm from iteration to iteration")
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What takes gigabytes or hours to meet in a run.
    #[test]
    fn what_is_out_of_reach_is_said_with_its_cure() {
        let accuracy = |relative| {
            let open = Unresolved::Meshes {
                quantity: "held out-of-roundness of outside and bore".into(),
                absolute: 1e-4,
                relative,
                accuracy: 1e-6,
                next_bytes: 2.5e10,
            };
            not_converged(&NotConverged::Accuracy {
                step: 1,
                elements: 500_000,
                open: Box::new(open),
            })
        };
        assert_eq!(
            accuracy(0.01),
            "step 2: with 500000 elements the held out-of-roundness of outside and bore of two meshes still differs by 1.0e-4 mm, 1.0e-2 \
             of it; accuracy 1.0e-6 is asked for, and the next mesh takes 25.0 GB: ask for 2.0e-2"
        );
        assert!(accuracy(0.4).ends_with("no accuracy worth asking for is in reach here"));
        let zone = unresolved(&Unresolved::Zone { width_deg: 0.0123 });
        assert!(zone.starts_with("a contact zone 0.0123 deg wide"), "{zone}");
        let open = still_open(&Open::Meshes {
            quantity: "released out-of-roundness of bore".into(),
            relative: 0.02,
            accuracy: 0.01,
        });
        assert!(
            open.contains("differs by 2.0e-2 of it, and accuracy 1.0e-2"),
            "{open}"
        );
    }
}
