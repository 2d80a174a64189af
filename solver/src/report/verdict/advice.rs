//! What other forces would do, in words, and what to try where force does not do it. Never an order: every sentence that names a smaller force says whether
//! it still grips, or that this is not checked.

use crate::judge::{Judgement, Lever, Limit, LimitKind, Remedy};
use crate::process::{Advice, ForceWindow, Outcome, Recomputed, SetForce};
use crate::report::units::{Units, percent};
use crate::report::words::{listed, plural, set_forces};

/// The words that go with every force that is offered.
const NOT_CHECKED: &str = "whether that still grips is not checked";

/// Goes with a share of all forces. How well a force is known: common practice, no source.
const AIM_LOWER: &str =
    "Force is known to some 10 percent at best: aim lower, as this leaves no margin.";

/// A force that is left after the cut is told where it differs from the one set by more than this share.
const OTHER: f64 = 0.02;

/// Other forces are solved on the coarser of the two meshes: by how much more that is off than is stated of the finer, the difference of the
/// two taken half or 1.1 times (where error falls with the square and the first power of the elements: 2.7 and 1.8).
const COARSER: f64 = 2.7;

/// Nobody measures roundness finer than this in a shop, mm.
const FINEST: f64 = 1e-3;

/// What the forces of each step at fault would do, and what to try.
pub(super) fn advice(outcome: &Outcome, judgement: &Judgement, units: Units) -> Vec<String> {
    let both = outcome.advice.iter().zip(&judgement.remedies);
    both.flat_map(|(advice, remedy)| {
        let about = About {
            advice,
            remedy,
            hold: &outcome.steps[advice.step].hold,
            window: outcome.steps[advice.step].grip.window.as_ref(),
            turns: outcome.steps[advice.step].held_at_speed.is_some(),
            units,
            error: outcome.steps[advice.step]
                .estimate
                .relative_error
                .map(|e| COARSER * e),
        };
        about.says()
    })
    .collect()
}

/// A zone that is missed on a surface that came so.
pub(super) fn not_cut(limits: &[Limit]) -> Vec<String> {
    let came_so =
        |l: &&Limit| l.kind == LimitKind::Roundness && !l.is_met() && l.cut_in_step.is_none();
    limits
        .iter()
        .filter(came_so)
        .map(|l| {
            format!(
                "No step cuts the {}: it stays as it was received.",
                l.surface.in_words()
            )
        })
        .collect()
}

/// One step at fault with what belongs to it.
struct About<'a> {
    advice: &'a Advice,
    remedy: &'a Remedy,
    /// Name of the hold.
    hold: &'a str,
    window: Option<&'a ForceWindow>,
    /// Whether turning changes what presses.
    turns: bool,
    units: Units,
    /// Relative error of what was solved again.
    error: Option<f64>,
}

impl About<'_> {
    fn hold(&self) -> String {
        format!("step {}, hold \"{}\"", self.advice.step + 1, self.hold)
    }

    /// `the roundness of the bore is 0.020 mm (0.8 thou)`.
    fn roundness_is(&self, still: &str, mm: f64) -> String {
        let found = if mm < FINEST {
            format!("less than {}", self.units.small(FINEST))
        } else {
            self.units.small_within(mm, self.error.map(|e| e * mm))
        };
        format!(
            "the roundness of the {} is {still}{found}",
            self.advice.surface.in_words()
        )
    }

    /// What is left of a force after the cut, where it is not what was set.
    fn left(&self, found: &Recomputed) -> String {
        let set = found.forces.first().filter(|f| f.each[1] > 0.0);
        match (set, found.left_after_cut) {
            (Some(set), Some(left)) if (left / set.each[1] - 1.0).abs() > OTHER => format!(
                ", {} a {} {}",
                self.units.force(left),
                set.called,
                if self.turns {
                    "as it turns, after the cut"
                } else {
                    "after the cut"
                }
            ),
            _ => String::new(),
        }
    }

    /// Whether all forces times a factor still grip, as far as that is known.
    fn grips(&self, factor: f64) -> &'static str {
        match self.window.and_then(|w| w.low.as_ref()) {
            None => NOT_CHECKED,
            Some(low) if !low.not_enough && factor >= low.factor => {
                "by this estimate, which is no rating, that still grips"
            }
            Some(_) => "BY THIS ESTIMATE IT THEN SLIPS",
        }
    }

    fn says(&self) -> Vec<String> {
        let (advice, units, hold) = (self.advice, self.units, self.hold());
        let mut says = Vec::new();
        if let Some(found) = &advice.one_scheme {
            let met = found.roundness <= found.limit;
            let still = if met { "" } else { ", still over the zone" };
            says.push(format!(
                "With {} instead of {} and the rest as it is ({hold}, recomputed{}) {}{still}; {NOT_CHECKED}.",
                set_forces(&found.forces, units),
                as_set(found, units),
                self.left(found),
                self.roundness_is("", found.roundness)
            ));
        }
        if let Some(found) = &advice.whole_hold {
            let first = if self.remedy.change_hold_first {
                "Change the hold first. "
            } else {
                ""
            };
            says.push(format!(
                "{first}At {} of this force ({hold}: {}, recomputed{}) {}; {}. {AIM_LOWER}",
                percent(found.factor),
                set_forces(&found.forces, units),
                self.left(found),
                self.roundness_is("", found.roundness),
                self.grips(found.factor)
            ));
        }
        if !self.remedy.by_force {
            says.push(format!("{}{}", self.not_by_force(), self.levers()));
        }
        says
    }

    fn not_by_force(&self) -> String {
        let (advice, hold) = (self.advice, self.hold());
        match &advice.least {
            Some(least) => {
                let forces = set_forces(&least.forces, self.units);
                let begin = if self.remedy.little_would_do {
                    "It would take less than a tenth of the force, so change the hold"
                } else {
                    "Less force is not the lever"
                };
                let yields = if least.yields {
                    " and the part yields"
                } else {
                    ""
                };
                format!(
                    "{begin}: at {} of this force ({hold}: {forces}, recomputed) {}{yields}, and {}.",
                    percent(least.factor),
                    self.roundness_is("still ", least.roundness),
                    self.grips(least.factor)
                )
            }
            None if advice.by_force => {
                format!(
                    "No other force was found that meets the zone and stays below yield ({hold})."
                )
            }
            None => format!("Force is not the lever: none shapes the part in {hold}."),
        }
    }
}

/// The forces before they were changed, beside the same bodies named.
fn as_set(found: &Recomputed, units: Units) -> String {
    let before = |f: &SetForce| {
        let [low, high] = f.each.map(|force| units.set_force(force / found.factor));
        if low == high {
            high
        } else {
            format!("{low} to {high}")
        }
    };
    let all: Vec<String> = found.forces.iter().map(before).collect();
    listed(&all, "and")
}

impl About<'_> {
    /// What to try instead: of lobes that the part came with another thing than of those that the hold makes.
    fn levers(&self) -> String {
        if let Some(count) = self.remedy.own_lobes {
            return format!(
                " The hold presses the blank's own {count} lobes out and they come back: let the part float (fewer jaws, a loose plug \
                 with an end clamp), or make the blank rounder first."
            );
        }
        let levers: Vec<String> = self.remedy.levers.iter().map(lever).collect();
        if levers.is_empty() {
            return " Look at the stock and at where the spindle axis lies.".into();
        }
        format!(" Try {}.", levers.join("; or "))
    }
}

fn lever(lever: &Lever) -> String {
    match lever {
        Lever::MoreStock => "more stock, so that it cleans up".into(),
        Lever::OtherSize { called } => format!("another size of the {called}"),
        Lever::OtherJaws => "jaws bored to another diameter, wider, or more of them".into(),
        Lever::SetToTouch { called } => format!("{} set so that they touch", plural(called)),
        Lever::OtherPlaces { called } => format!(
            "other places (travel, gap or set-out) for the {}, or more of them",
            plural(called)
        ),
        Lever::WiderOrMore { called } => format!("wider {} or more of them", plural(called)),
        Lever::MoreLoads { called } => format!("more or wider {}", plural(called)),
    }
}
