//! Grip in words: what the tool does, what the hold takes, what turning does, and what is not checked.

use super::units::{Units, fixed};
use crate::case::quantity::LBF_N;
use crate::grip::Band;
use crate::judge::{ENOUGH, Unsafe, Way};
use crate::process::{Beyond, CutForce, GripOutcome, Load, Marking, NotChecked, StepOutcome};
use crate::scheme::UNIT_FORCE;

/// Stands at the head of everything where a slip is predicted.
pub const NOT_SAFE: &str = "NOT SAFE BY THIS ESTIMATE";

/// Stands at the head of everything where the part yields.
pub const STAYS_BENT: &str = "THE RING WOULD STAY BENT; THESE SHAPES DO NOT APPLY";

/// Stands at the head of everything where the force of a hold is not known.
pub const FORCE_UNKNOWN: &str =
    "FORCE UNKNOWN: SHAPES ARE FOR 100 N EACH; HOW HARD TO HOLD STANDS BELOW";

/// What has to be known beside every figure of grip, force or speed.
pub const CAUTIONS: &str = "Grip figures are estimates from what the case says, and no rating. A part that leaves the chuck can kill: the ratings and instructions of the chuck's maker, local codes \
     and the judgement of a competent person come first. Guard the machine; take the key out of the chuck; keep the jaws' stroke within what the maker allows; balance what turns off centre; \
     screws, plugs and plates fly too if they come loose.";

/// A speed: `1500 rev/min`.
pub fn speed(rpm: f64) -> String {
    format!("{rpm:.0} rev/min")
}

/// A safety: two figures, and no more than anybody asks for.
pub fn safety(x: f64) -> String {
    match x {
        x if x >= 100.0 => "more than 100".into(),
        x if x >= 10.0 => format!("{x:.0}"),
        x => fixed((x * 100.0).floor() / 100.0, 2),
    }
}

/// Three figures, so that what is told is on the safe side of what was found.
pub(super) fn rounded(force: f64, up: bool) -> f64 {
    let unit = 10_f64.powf(force.abs().max(1e-9).log10().floor() - 2.0);
    let steps = force / unit;
    unit * if up { steps.ceil() } else { steps.floor() }
}

/// A window in brief, in the drawing's own unit: `1090 to 1500 N a jaw`; ends that are not known are left out.
pub fn brief_window(ends: [Option<f64>; 2], each: &str, units: Units) -> String {
    let (unit, name) = match units.inch {
        true => (LBF_N, "lbf"),
        false => (1.0, "N"),
    };
    let shown = |force: f64, up: bool| {
        let force = rounded(force / unit, up);
        let places = if force >= 100.0 { 0 } else { 1 };
        fixed(force, places)
    };
    let force = match ends {
        [Some(a), Some(b)] => format!("{} to {} {name}", shown(a, true), shown(b, false)),
        [Some(a), None] => format!("from {} {name}", shown(a, true)),
        [None, Some(b)] => format!("up to {} {name}", shown(b, false)),
        [None, None] => return "not known".into(),
    };
    match each {
        "end plate" => format!("{force} on the plates"),
        each => format!("{force} a {each}"),
    }
}

/// Two values of one quantity, or one where they read alike.
fn pair([low, high]: [f64; 2], words: impl Fn(f64) -> String) -> String {
    let (a, b) = (words(low), words(high));
    match a == b {
        true => a,
        false => format!("{a} to {b}"),
    }
}

/// Something that was not checked, and for want of what.
pub fn not_checked(open: &NotChecked) -> String {
    match open {
        NotChecked::ForceUnknown => format!(
            "slip, marks and whatever else depends on the force: it is unknown. Find it with `squeeze`, from what the ring shows of it, or give \
             `force`; shapes and pressures are for {UNIT_FORCE} N each"
        ),
        NotChecked::Friction { scheme } => {
            format!("slip: no `friction` is given for {scheme}, which then carries nothing")
        }
        NotChecked::FrictionOfPlastic { scheme } => format!(
            "slip: no class of friction is known for a plastic; give `friction` of {scheme} as a number or a band"
        ),
        NotChecked::CuttingForce { cut } => format!(
            "what cut {} asks of the hold: neither `feed` nor `tangential_force` is given",
            cut + 1
        ),
        NotChecked::CuttingConstants { cut } => format!(
            "what cut {} asks of the hold: the material has no constants of the cutting force; give `cutting = {{ kc11 = ..., mc = ... }}`, or \
             `tangential_force`, `axial_force` and `radial_force` of the cut",
            cut + 1
        ),
        NotChecked::ForceLeftOut { cut, key } => format!(
            "what cut {} asks of the hold beside torque: no `{key}` is given",
            cut + 1
        ),
        NotChecked::TiltOfSlice => {
            "tipping: how the pressure lies along a grip shorter than the part is not known from a slice; `[tube]` computes it".into()
        }
        NotChecked::MarkingAlong => "marks of the pads along a tube".into(),
        NotChecked::NoSpeed => "what turning takes from the jaws: no `speed` is given".into(),
        NotChecked::NoJawMass { scheme } => format!(
            "the force of {scheme} at speed: `jaw_mass` and `jaw_centroid_radius` are wanted"
        ),
        NotChecked::SetByTravel { scheme } => format!(
            "slip at speed: {scheme} set by travel, and what turning leaves of their force depends on how part and jaws give way; give `force`"
        ),
        NotChecked::NoRatedForce => "the chuck's rated force: none is given in `[chuck]`".into(),
        NotChecked::NoRatedSpeed => "the chuck's rated speed: none is given in `[chuck]`".into(),
    }
}

/// A limit of the chuck that is passed.
pub fn beyond(limit: &Beyond, units: Units) -> String {
    match *limit {
        Beyond::RatedForce { force, rated } => format!(
            "all jaws together press with up to {}, more than the chuck is rated for ({})",
            units.force(force),
            units.force(rated)
        ),
        Beyond::LowestSteadyForce { force, lowest } => format!(
            "all jaws together press with as little as {}, below your chuck's lowest steady force ({})",
            units.force(force),
            units.force(lowest)
        ),
        Beyond::RatedSpeed { speed: own, rated } => format!(
            "{} is faster than the chuck is rated for ({})",
            speed(own),
            speed(rated)
        ),
        Beyond::PermittedSpeed {
            speed: own,
            permitted,
        } => match permitted > 0.0 {
            true => format!(
                "{} is faster than the force at rest permits with the guideline's factors of 1.5 on the cutting force and 1.5 on the jaw force ({})",
                speed(own),
                speed(permitted)
            ),
            false => format!(
                "the force at rest is too little for this cut at any speed, with the guideline's factors of 1.5 on the cutting force and 1.5 on the jaw \
                 force; the step runs at {}",
                speed(own)
            ),
        },
    }
}

/// What gives way first, in words.
fn gives(way: Way) -> &'static str {
    match way {
        Way::Torque => "it slips round",
        Way::Axial => "it is pushed along the axis",
        Way::Tilt => "it tips",
        Way::Side => "the side force of the tool lifts it off a pad or slides it across",
    }
}

/// What limits the hold, the worst first.
pub(super) fn limits(grip: &GripOutcome, units: Units) -> Vec<String> {
    let mut all = Vec::new();
    if let (Some(found), Some(way)) = (grip.safety, Way::first_to_give(grip))
        && found[0].is_finite()
    {
        all.push(format!(
            "slip: what gives first is that {}; the hold takes {} times what the cut asks at the unfavourable ends",
            gives(way),
            safety(found[0])
        ));
    }
    all.extend(grip.beyond.iter().map(|limit| beyond(limit, units)));
    let marks = grip.marking.filter(|m| m.pressure > m.limit);
    all.extend(marks.and_then(|m| marking(&m, units)));
    all
}

/// Why a step is not safe, with what the first line of everything then says left out.
pub(super) fn not_safe(found: &Unsafe, steps: usize, units: Units) -> String {
    let in_step = |step: usize| match steps {
        1 => String::new(),
        _ => format!("step {}: ", step + 1),
    };
    match found {
        Unsafe::Slips {
            step,
            safety: found,
            way,
        } => format!(
            "{}the hold takes only {} times what the cut asks at the unfavourable ends of what is known ({} at the favourable); {} first",
            in_step(*step),
            safety(found[0]),
            safety(found[1]),
            gives(*way)
        ),
        Unsafe::LetsGo {
            step,
            speed: own,
            zero_force,
        } => format!(
            "{}at {} the jaws have let go: turning takes all their force from {} on, and the shapes and sizes told are those of a chuck that stands",
            in_step(*step),
            speed(*own),
            speed(*zero_force)
        ),
        Unsafe::Beyond { step, limit } => format!("{}{}", in_step(*step), beyond(limit, units)),
    }
}

/// What the tool does in a cut.
pub(super) fn tool(cut: &CutForce, units: Units) -> String {
    let force = |of: fn(&crate::grip::ToolForce) -> f64| {
        pair([of(&cut.force[0]), of(&cut.force[1])], |x| units.force(x))
    };
    if cut.depth.is_some_and(|d| d[1] <= 0.0) {
        return "takes no depth: no tool force is reckoned with".into();
    }
    let mut text = format!("tool force {} round", force(|f| f.tangential));
    if cut.knows_axial {
        text += &format!(", {} along", force(|f| f.axial));
    }
    if cut.knows_radial {
        text += &format!(", {} across", force(|f| f.radial));
    }
    match cut.depth {
        None => text += " (as given)",
        Some(depth) => {
            let depth = pair(depth, |x| units.small(x));
            text += &format!(
                " (estimated from feed, material and the depth it really takes, {depth}: sharp edge to worn"
            );
            if cut.interrupted > 1.0 {
                text += &format!(
                    "; the cut is interrupted, for which the largest is taken {} times",
                    cut.interrupted
                );
            }
            if !cut.in_range {
                text += "; the chip is thinner or thicker than the constants are trusted for (0.05 to 2.5 mm)";
            }
            text += ")";
        }
    }
    text
}

/// The grip of a step, line by line; none of a step in which nothing presses.
pub fn lines(step: &StepOutcome, units: Units) -> Vec<String> {
    let grip = &step.grip;
    if !grip.held {
        return Vec::new();
    }
    let mut lines = Vec::new();
    for (k, cut) in grip.tools.iter().enumerate() {
        if let Some(cut) = cut {
            lines.push(format!("cut {}: {}", k + 1, tool(cut, units)));
        }
    }
    // what is zero but for rounding is told as zero
    let sound = |x: f64| if x.abs() < 1e-3 { 0.0 } else { x };
    for (scheme, [around, along]) in &grip.friction {
        let band = |b: &Band| pair([b.low, b.high], |x| fixed(x, 3));
        let both = match around == along {
            true => band(around),
            false => format!("{} round the part, {} along it", band(around), band(along)),
        };
        lines.push(format!("friction of {scheme}: {both}"));
    }
    let torque = |x: f64| units.torque(sound(x));
    let force = |x: f64| units.force(sound(x));
    lines.extend(way("torque", &grip.torque, torque));
    lines.extend(along(grip, force));
    lines.extend(way("tipping", &grip.tilt, torque));
    lines.extend(way("across the axis", &grip.side, force));
    if let Some(found) = grip.safety.filter(|s| s[0].is_finite()) {
        let enough = match found[0] {
            x if x < 1.0 => "less than 1: it slips",
            x if x < ENOUGH => "less than the guideline's 1.5",
            _ => "the guideline asks for 1.5",
        };
        lines.push(format!(
            "safety against slip {} at the unfavourable ends ({enough}), {} at the favourable",
            safety(found[0]),
            safety(found[1])
        ));
    }
    lines.extend(turning(step, units));
    lines.extend(grip.marking.and_then(|m| marking(&m, units)));
    lines
}

/// The same along the axis, where a stop may take all that is asked.
fn along(grip: &GripOutcome, words: impl Fn(f64) -> String) -> Option<String> {
    let line = way("along the axis", &grip.axial, &words)?;
    let asked = grip.axial.needed.filter(|n| grip.stopped && n[1] <= 0.0);
    let asks = asked.map(|n| format!("the cut asks {}", pair(n, &words)));
    Some(match asks {
        Some(asks) => line.replace(&asks, "a stop takes the feed"),
        None => line,
    })
}

/// What is asked in one way, and what the hold takes; `None` where neither is known.
fn way(what: &str, load: &Load, words: impl Fn(f64) -> String) -> Option<String> {
    let takes = load
        .available
        .map(|p| format!("the hold takes {}", pair(p, &words)));
    let asks = load
        .needed
        .map(|p| format!("the cut asks {}", pair(p, &words)));
    let told: Vec<String> = takes.into_iter().chain(asks).collect();
    (!told.is_empty()).then(|| format!("{what}: {}", told.join(", ")))
}

/// How hard the surface is pressed, of what marks it; `None` where nothing presses on a surface.
fn marking(marking: &Marking, units: Units) -> Option<String> {
    let Marking {
        pressure,
        limit,
        given,
    } = *marking;
    let source = match given {
        true => "as the case has it",
        false => {
            "1.67 times yield, where a smooth surface first gives under a line; teeth mark at any force"
        }
    };
    let marks = if pressure > limit { ": MARKS" } else { "" };
    (pressure > 0.0).then(|| {
        format!(
            "marking: pressed with up to {}, and marked from {} on ({source}){marks}",
            units.stress(pressure),
            units.stress(limit)
        )
    })
}

fn turning(step: &StepOutcome, units: Units) -> Vec<String> {
    let turning = &step.grip.turning;
    let mut lines = Vec::new();
    // of the jaws that touch
    let pressing: Vec<(f64, f64)> = turning
        .at_rest
        .iter()
        .copied()
        .zip(turning.at_speed.iter().copied())
        .filter(|(rest, _)| *rest > 0.0)
        .collect();
    let least = pressing.iter().min_by(|a, b| a.1.total_cmp(&b.1));
    if let (Some(rpm), Some(&(at_rest, at_speed))) = (turning.speed, least) {
        let what = if turning.loses { "leaves" } else { "gives" };
        lines.push(format!(
            "turning at {} {what} {} of {} a jaw{}",
            speed(rpm),
            units.force(at_speed),
            units.force(at_rest),
            if step.held_at_speed.is_some() {
                ": the cut is made at that force"
            } else {
                ""
            }
        ));
    }
    if let Some(zero) = turning.zero_force {
        let permitted = turning.permitted.map_or(String::new(), |p| {
            format!(
                "; by the guideline's factors this force permits {}",
                if p > 0.0 {
                    speed(p)
                } else {
                    "no speed at all".into()
                }
            )
        });
        lines.push(format!(
            "turning takes all of the jaws' force at {}{permitted}",
            speed(zero)
        ));
    }
    if turning.not_softened {
        lines.push(
            "jaw_stiffness and part_stiffness do not soften the loss: the drive keeps its force"
                .into(),
        );
    }
    lines
}
