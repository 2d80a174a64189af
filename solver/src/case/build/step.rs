//! The steps of a case made in code.

use super::checked::number;
use crate::case::check::metal::{Metal, Workpiece};
use crate::case::check::range::{ENTERING, Range, TEMPERATURE_RISE, wrong_band};
use crate::case::check::{self, Findings, key_path};
use crate::case::most::{MOST_CUTS, MOST_STEPS};
use crate::case::quantity::Dimension;
use crate::case::{Cut, Reach, Step, Tool, Turned};

pub(super) fn steps(
    f: &mut Findings,
    all: &[Step],
    work: &mut Workpiece,
    names: &[String],
) -> Vec<Step> {
    if all.is_empty() {
        f.wrong("step", "missing; give at least one [[step]] with a hold");
    }
    if let Some(message) = check::too_many(all.len(), MOST_STEPS, "steps") {
        f.wrong("step", message);
    }
    let all = all.iter().take(MOST_STEPS).enumerate();
    all.filter_map(|(k, step)| checked(f, k, step, work, names))
        .collect()
}

fn checked(
    f: &mut Findings,
    k: usize,
    step: &Step,
    work: &mut Workpiece,
    names: &[String],
) -> Option<Step> {
    let table = format!("step[{k}]");
    let path = |key: &str| key_path(&table, key);
    let hold = check::step::hold_is_there(f, &path("hold"), &step.hold, names);
    let scale = number(
        f,
        &path("force_scale"),
        step.force_scale,
        Dimension::Plain,
        Range::ZeroOrMore,
    );
    let turned = match step.turned {
        Turned::By(angle) => number(f, &path("turned"), angle, Dimension::Angle, Range::Any),
        Turned::Any => Some(0.0),
    };
    let [x, y] = step.spindle_offset;
    let offset = number(
        f,
        &path("spindle_offset"),
        x.hypot(y),
        Dimension::Length,
        Range::ZeroOrMore,
    );
    let speed = match step.speed {
        Some(speed) => number(
            f,
            &path("speed"),
            speed,
            Dimension::Speed,
            Range::ZeroOrMore,
        ),
        None => Some(0.0),
    };
    let rise = step.temperature_rise.unwrap_or(0.0);
    let rise = number(
        f,
        &path("temperature_rise"),
        rise,
        Dimension::Plain,
        TEMPERATURE_RISE,
    );
    let minutes = step.minutes_held.unwrap_or(0.0);
    let minutes = number(
        f,
        &path("minutes_held"),
        minutes,
        Dimension::Plain,
        Range::ZeroOrMore,
    );
    if work.is_tube {
        check::tube::step_goes(f, &table, Some(step.turned), step.stress_relieved);
    }
    if let Some(message) = check::too_many(step.cuts.len(), MOST_CUTS, "cuts in one step") {
        f.wrong(path("cut"), message);
    }
    let cuts = step.cuts.iter().take(MOST_CUTS).enumerate();
    let cuts = cuts
        .filter_map(|(n, own)| cut(f, &format!("{table}.cut[{n}]"), own, step.flipped, work))
        .collect();
    hold.and(scale)
        .and(turned)
        .and(offset)
        .and(speed)
        .and(rise)
        .and(minutes)?;
    Some(Step {
        cuts,
        ..step.clone()
    })
}

fn cut(
    f: &mut Findings,
    path: &str,
    cut: &Cut,
    flipped: bool,
    work: &mut Workpiece,
) -> Option<Cut> {
    let mut length = |key: &str, x: f64, range| {
        let path = key_path(path, key);
        number(f, &path, x, Dimension::Length, range).map(|_| ())
    };
    let Reach {
        from,
        to,
        end_diameter,
    } = cut.reach;
    let above = |x: Option<f64>| x.unwrap_or(1.0);
    let sound = [
        length("diameter", cut.diameter, Range::AboveZero),
        length("from", from, Range::ZeroOrMore),
        length("to", above(to), Range::AboveZero),
        length("end_diameter", above(end_diameter), Range::AboveZero),
    ];
    let given = |key: &str| match key {
        "from" => from != 0.0,
        "to" => to.is_some(),
        _ => end_diameter.is_some(),
    };
    let [diameter, along @ ..] = sound;
    let reach = if work.is_tube {
        let part = work.metal.as_ref().map(Metal::length);
        let sound = !along.contains(&None);
        sound
            .then(|| check::grip::reach(f, path, cut.reach, part))
            .flatten()
    } else {
        check::grip::needs_tube(f, path, given);
        Some(Reach::default())
    };
    let key = key_path(path, "radial_force");
    let force = number(
        f,
        &key,
        cut.radial_force,
        Dimension::Force,
        Range::ZeroOrMore,
    );
    check::tube::no_tool_force(f, &key, force, work.is_tube)?;
    tool(f, path, &cut.tool)?;
    force.and(diameter)?;
    let cut = Cut {
        reach: reach?,
        ..*cut
    };
    if let Some(metal) = &mut work.metal {
        metal.cut(f, path, &cut, flipped);
    }
    Some(cut)
}

/// What is known of the tool's force.
fn tool(f: &mut Findings, path: &str, tool: &Tool) -> Option<()> {
    let mut at = |key: &str, x: Option<f64>, dimension, range| match x {
        Some(x) => number(f, &key_path(path, key), x, dimension, range).is_some(),
        None => true,
    };
    let degrees = tool.entering_angle.map(f64::to_degrees);
    let sound = [
        at("feed", tool.feed, Dimension::Length, Range::AboveZero),
        at("entering_angle", degrees, Dimension::Angle, ENTERING),
    ];
    let forces = [
        ("tangential_force", tool.tangential_force),
        ("axial_force", tool.axial_force),
        ("radial_force", tool.radial_force),
    ];
    let bands = forces.map(|(key, band)| match band {
        Some(band) => match wrong_band(&band, Dimension::Force, Range::ZeroOrMore) {
            Some(message) => {
                f.wrong(key_path(path, key), message);
                false
            }
            None => true,
        },
        None => true,
    });
    (sound == [true; 2] && bands == [true; 3]).then_some(())
}
