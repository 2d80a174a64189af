//! What the last cut of a surface leaves on average, and what to cut to instead, in words.

use crate::geometry::Surface;
use crate::judge::{Aim, Misfit, Size, Target};
use crate::report::units::Units;

/// `steps` is how many the case has.
pub(super) fn size(size: &Size, steps: usize, units: Units) -> String {
    let in_step = match steps {
        1 => String::new(),
        _ => format!(" in step {}", size.step + 1),
    };
    let mut words = format!(
        "The {}: cut to {} while held{in_step}, {} on average when released",
        size.surface.in_words(),
        units.size(size.cut_to),
        units.size(size.released),
    );
    match size.aim {
        Aim::NoSize => {
            words += ". No one size mends that: its diameters differ by more than the limits allow, so it must first be rounder.";
            return words;
        }
        Aim::Keep => {}
        Aim::Other {
            cut_to,
            released,
            target,
        } => {
            words += &format!(
                "; {}for {} released{}, cut to {}",
                match size.misfit {
                    Misfit::NoMetal => "on the next part, ",
                    Misfit::Metal | Misfit::None => "",
                },
                units.size(released),
                match target {
                    Target::AsCut => "",
                    Target::Middle => ", the middle of the limits",
                    Target::Inside => ", which meets the limits",
                },
                units.size(cut_to)
            );
        }
    }
    words.push('.');
    words + &put_right(size, steps)
}

/// Whether metal is left to put the part in hand right, and whether the hold still fits it: only the last step's does.
fn put_right(size: &Size, steps: usize) -> String {
    let (can_be_cut, cannot, cut) = match size.surface {
        Surface::Bore => ("too small", "too large", "bored"),
        Surface::Outer => ("too large", "too small", "turned"),
    };
    match size.misfit {
        Misfit::None => String::new(),
        Misfit::NoMetal => format!(" It is {cannot}: no metal is left to put this part right."),
        Misfit::Metal if size.step + 1 == steps => format!(
            " It is {can_be_cut}: metal is left, so it can be {cut} again in the same hold, put back at the same jaw marks."
        ),
        Misfit::Metal => format!(
            " It is {can_be_cut}: metal is left, so it can be {cut} again: the hold of step {} no longer fits as it did.",
            size.step + 1
        ),
    }
}
