//! The blank as the options name it, what is left out put in, and what no ring can be refused.

use ringwright_solver::case::material::{BuiltIn, table};
use ringwright_solver::report::units::MM_PER_INCH;

use super::text::Writer;
use crate::args::{Job, NewArgs};

/// Outside diameter if no size is typed, mm.
const OUTSIDE: f64 = 110.0;
/// Bore over outside diameter if one of them is left out.
const BORE_OF_OUTSIDE: f64 = 0.85;
/// Length over outside diameter if it is left out: of a ring, of a tube.
const LENGTH_OF_OUTSIDE: (f64, f64) = (0.25, 0.6);
/// Thinnest wall that jaws are proposed for, over the outside diameter: below it the squeeze of any jaw that carries the cut stays in the part.
const THINNEST: f64 = 0.01;
/// The same of a tube: along a thinner one the contact of wide pads takes minutes to solve, or more than is taken on.
const THINNEST_TUBE: f64 = 0.025;
/// Thinnest wall whatever the diameter, mm: the lightest cut proposed is a tenth of it.
const THINNEST_WALL: f64 = 0.5;
/// Thickest wall that is called a ring's, over the outside diameter: the bore is half of it then.
const THICKEST: f64 = 0.25;
/// Longest part over its outside diameter: of a ring, gripped over its whole length; of a tube, gripped at one end without a centre or a steady.
const LONGEST: (f64, f64) = (1.0, 3.0);
/// Smallest and largest outside diameter that the rules of [`super::job`] were tried on, mm.
const TRIED: (f64, f64) = (20.0, 1000.0);
/// Material if none is named.
const MATERIAL: &str = "bronze C93200";

/// What goes into the chuck; lengths in mm.
pub(super) struct Blank {
    pub(super) outside: f64,
    pub(super) bore: f64,
    pub(super) length: f64,
    pub(super) material: &'static BuiltIn,
    /// Whether the file is in inches.
    pub(super) inch: bool,
}

impl Blank {
    /// The blank that the options name.
    ///
    /// # Errors
    /// In words, with what would be right.
    pub(super) fn of(args: &NewArgs) -> Result<Self, String> {
        let inch = args.in_inches()?;
        let tube = args.job == Some(Job::Tube);
        // a size that nobody typed is a round one
        let round = |mm: f64| {
            if inch {
                nearest(mm, MM_PER_INCH / 16.0)
            } else {
                nearest(mm, if mm < 20.0 { 0.5 } else { 1.0 })
            }
        };
        let mm = |size: &Option<crate::args::TypedLength>| size.as_ref().map(|s| s.mm);
        let (outside, bore) = match (mm(&args.od), mm(&args.bore)) {
            (Some(outside), Some(bore)) => (outside, bore),
            (Some(outside), None) => (outside, round(outside * BORE_OF_OUTSIDE)),
            (None, Some(bore)) => (round(bore / BORE_OF_OUTSIDE), bore),
            (None, None) => (round(OUTSIDE), round(OUTSIDE * BORE_OF_OUTSIDE)),
        };
        let share = if tube {
            LENGTH_OF_OUTSIDE.1
        } else {
            LENGTH_OF_OUTSIDE.0
        };
        let length = mm(&args.length).unwrap_or_else(|| round(outside * share));
        let material = material(args.material.as_deref().unwrap_or(MATERIAL))?;
        let blank = Self {
            outside,
            bore,
            length,
            material,
            inch,
        };
        blank.is_a_ring(tube)?;
        Ok(blank)
    }

    /// The wall, mm.
    pub(super) fn wall(&self) -> f64 {
        (self.outside - self.bore) / 2.0
    }

    fn is_a_ring(&self, tube: bool) -> Result<(), String> {
        let write = Writer { inch: self.inch };
        let shown = |mm: f64| write.with_unit(mm);
        let (outside, bore, length) = (shown(self.outside), shown(self.bore), shown(self.length));
        if !(TRIED.0..=TRIED.1).contains(&self.outside) {
            let (least, largest) = (shown(TRIED.0), shown(TRIED.1));
            return Err(format!(
                "outside {outside}: cases are proposed for outsides from {least} to {largest}; for another start from `ringwright new` without options"
            ));
        }
        let share = if tube { THINNEST_TUBE } else { THINNEST };
        let thinnest = THINNEST_WALL.max(share * self.outside);
        let most = shown(self.outside - 2.0 * thinnest);
        if self.bore >= self.outside {
            return Err(format!(
                "bore {bore} is not smaller than outside {outside}: give both as diameters, the bore from {} to {most}",
                shown(self.outside * (1.0 - 2.0 * THICKEST)),
            ));
        }
        let wall = self.wall() / self.outside;
        let diameters = format!(
            "outside {outside} with bore {bore} leaves a wall of {}",
            shown(self.wall())
        );
        if self.wall() < thinnest - 1e-9 {
            let instead = if tube {
                "for what is quickly solved along its length; --job bore takes thinner ones, as a slice"
            } else {
                "for jaws alone; thinner rings want a plug or mandrel, see `ringwright schemes`"
            };
            return Err(format!(
                "{diameters}, under {}: too thin {instead}; the bore may be up to {most}",
                shown(thinnest),
            ));
        }
        if wall > THICKEST + 1e-9 {
            return Err(format!(
                "{diameters}, over {} percent of the outside: too thick to be squeezed out of round like a ring; the bore may be {} or more",
                THICKEST * 100.0,
                shown(self.outside * (1.0 - 2.0 * THICKEST)),
            ));
        }
        let longest = self.outside * if tube { LONGEST.1 } else { LONGEST.0 };
        if self.length > longest * (1.0 + 1e-9) {
            let instead = if tube {
                "a longer tube wants a centre or a steady, which is not modelled"
            } else {
                "what is longer is not gripped over its whole length: --job tube"
            };
            return Err(format!(
                "length {length}: up to {} at this diameter; {instead}",
                shown(longest)
            ));
        }
        let shortest = self.outside * 0.02;
        if self.length < shortest {
            return Err(format!(
                "length {length}: expected {} or more at this diameter",
                shown(shortest)
            ));
        }
        Ok(())
    }
}

/// The nearest whole multiple of `step`.
pub(super) fn nearest(value: f64, step: f64) -> f64 {
    (value / step).round() * step
}

/// A material by its name, or by a word that no other has.
fn material(name: &str) -> Result<&'static BuiltIn, String> {
    let lower = name.trim().to_lowercase();
    if let Some(one) = table().iter().find(|m| m.name.to_lowercase() == lower) {
        return Ok(one);
    }
    let has = |m: &&BuiltIn| !lower.is_empty() && m.name.to_lowercase().contains(&lower);
    let found: Vec<&BuiltIn> = table().iter().filter(has).collect();
    let names = |of: &[&'static BuiltIn]| of.iter().map(|m| m.name).collect::<Vec<_>>().join(", ");
    match found.as_slice() {
        [one] => Ok(one),
        [] => Err(format!(
            "--material: the built-in table has no \"{name}\"; it has {} (`ringwright materials` tells more)",
            names(&table().iter().collect::<Vec<_>>())
        )),
        several => Err(format!(
            "--material {name} could be {}: write one of them in full",
            names(several)
        )),
    }
}
