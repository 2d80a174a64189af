//! What other forces would do, in words, and what to try where force does not do it. Never an order: whether a force still grips is not
//! checked, and every sentence that names a smaller one says so.

use crate::geometry::Surface;
use crate::metrology::{Profile, harmonics, least_squares_circle};
use crate::process::{Advice, Outcome, Recomputed, SetForce};
use crate::report::document::{ContactDocument, LimitDocument, StepDocument};
use crate::report::units::{Units, percent};
use crate::report::words::{listed, plural, set_forces};

/// The words that go with every force that is offered.
const NOT_CHECKED: &str = "whether that still grips is not checked";

/// Goes with a share of all forces. How well a force is known: common practice, no source.
const AIM_LOWER: &str =
    "Force is known to some 10 percent at best: aim lower, as this leaves no margin.";

/// Lobes that are larger than those the part came with by more than this factor are the hold's.
const LIKE_ITS_OWN: f64 = 2.0;

/// Below this share of the force the hold is wrong for the part, and less force a makeshift.
const LITTLE: f64 = 1.0 / 3.0;

/// A force that is left after the cut is told where it differs from the one set by more than this share.
const OTHER: f64 = 0.02;

/// Nobody measures roundness finer than this in a shop, mm.
const FINEST: f64 = 1e-3;

/// What the forces of each step at fault would do.
pub(super) fn advice(
    outcome: &Outcome,
    steps: &[StepDocument],
    limits: &[LimitDocument],
    units: Units,
) -> Vec<String> {
    let one = |advice: &Advice| {
        let judged = |l: &&LimitDocument| l.surface == advice.surface && l.limit == "roundness";
        let about = About {
            advice,
            step: &steps[advice.step],
            limit: limits.iter().find(judged),
            own_lobes: own_lobes(outcome, steps, advice),
            units,
        };
        about.says()
    };
    outcome.advice.iter().flat_map(one).collect()
}

/// Lobes of the finished surface that the part came with: as many a turn as the strongest of a surface as received, and not much larger.
fn own_lobes(outcome: &Outcome, steps: &[StepDocument], advice: &Advice) -> Option<u32> {
    let (step, surface) = (&steps[advice.step], advice.surface);
    // lobes that stay because the tool did not reach them were not pressed out; nor does anything press where nothing holds
    let reached = step.cuts.iter().all(|c| c.cleaned_up >= 1.0);
    let held = !(step.held.contacts.is_empty() && step.held.loads.is_empty());
    if !(reached && held) {
        return None;
    }
    let left = steps.last()?.released_shape(surface).main_lobes()?;
    let stock = &outcome.steps.first()?.stock;
    Surface::BOTH.into_iter().find_map(|s| {
        let profile = Profile::equal(stock.get(s));
        let centre = least_squares_circle(&profile).centre;
        let all = harmonics(&profile, centre, left.count).into_iter();
        let came = all
            .filter(|h| h.count >= 2)
            .reduce(|a, b| if b.amplitude > a.amplitude { b } else { a })?;
        let own = came.count == left.count && left.amplitude <= LIKE_ITS_OWN * came.amplitude;
        own.then_some(left.count)
    })
}

/// A zone that is missed on a surface that came so.
pub(super) fn not_cut(limits: &[LimitDocument]) -> Vec<String> {
    let came_so =
        |l: &&LimitDocument| l.limit == "roundness" && !l.is_met() && l.cut_in_step.is_none();
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
    step: &'a StepDocument,
    /// The limit that is missed.
    limit: Option<&'a LimitDocument>,
    /// Count of the lobes that are the part's own, where those are what is left.
    own_lobes: Option<u32>,
    units: Units,
}

impl About<'_> {
    fn hold(&self) -> String {
        format!("step {}, hold \"{}\"", self.advice.step + 1, self.step.hold)
    }

    /// `the roundness of the bore is 0.020 mm (0.8 thou)`.
    fn roundness_is(&self, still: &str, mm: f64) -> String {
        let found = if mm < FINEST {
            format!("less than {}", self.units.small(FINEST))
        } else {
            self.units.small(mm)
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
                ", {} a {} after the cut",
                self.units.force(left),
                set.called
            ),
            _ => String::new(),
        }
    }

    fn says(&self) -> Vec<String> {
        let (advice, units, hold) = (self.advice, self.units, self.hold());
        let mut says = Vec::new();
        let mut done = false;
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
            done |= met;
        }
        if let Some(found) = &advice.whole_hold {
            let first = if found.factor < LITTLE {
                "Change the hold first. "
            } else {
                ""
            };
            says.push(format!(
                "{first}At {} of this force ({hold}: {}, recomputed{}) {}; {NOT_CHECKED}. {AIM_LOWER}",
                percent(found.factor),
                set_forces(&found.forces, units),
                self.left(found),
                self.roundness_is("", found.roundness)
            ));
            done = true;
        }
        if !done {
            says.push(format!("{}{}", self.not_by_force(), self.levers()));
        }
        says
    }

    /// Whether next to no force would meet the zone: the shape is close to linear in the force.
    fn little_would_do(&self, least: &Recomputed) -> bool {
        let Some(limit) = self.limit else {
            return false;
        };
        let left_by_none = (least.roundness - least.factor * limit.found[1]) / (1.0 - least.factor);
        left_by_none < 0.9 * limit.allowed[1]
    }

    fn not_by_force(&self) -> String {
        let (advice, hold) = (self.advice, self.hold());
        match &advice.least {
            Some(least) => {
                let forces = set_forces(&least.forces, self.units);
                let begin = if self.little_would_do(least) {
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
                    "{begin}: at {} of this force ({hold}: {forces}, recomputed) {}{yields}, and {NOT_CHECKED}.",
                    percent(least.factor),
                    self.roundness_is("still ", least.roundness)
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
        match self.own_lobes {
            Some(count) => format!(
                " The hold presses the blank's own {count} lobes out and they come back: let the part float (fewer jaws, a loose plug \
                 with an end clamp), or make the blank rounder first."
            ),
            None => levers(self.advice, self.step),
        }
    }
}

/// What to try instead, by what presses on the part.
fn levers(advice: &Advice, step: &StepDocument) -> String {
    let mut levers: Vec<String> = Vec::new();
    let mut add = |lever: String| {
        if !levers.contains(&lever) {
            levers.push(lever);
        }
    };
    let cuts = step.cuts.iter().rev();
    let cut = cuts.into_iter().find(|c| c.surface == advice.surface);
    if cut.is_some_and(|c| c.cleaned_up < 1.0) {
        add("more stock, so that it cleans up".into());
    }
    for contact in &step.held.contacts {
        add(of_contact(contact));
    }
    for load in &step.held.loads {
        add(format!("more or wider {}", plural(&load.called)));
    }
    if levers.is_empty() {
        return " Look at the stock and at where the spindle axis lies.".into();
    }
    format!(" Try {}.", levers.join("; or "))
}

fn of_contact(contact: &ContactDocument) -> String {
    let (called, many) = (&contact.called, plural(&contact.called));
    if contact.round {
        return format!("another size of the {called}");
    }
    match (called.as_str(), contact.set_force) {
        ("jaw", _) => "jaws bored to another diameter, wider, or more of them".into(),
        (_, None) if contact.arcs.is_empty() => format!("{many} set so that they touch"),
        (_, None) => format!("other places (gap, set-out) for the {many}, or more of them"),
        _ => format!("wider {many} or more of them"),
    }
}
