//! The summary of `run`: what the shop wants to know, both units, the drawing's own first.

use ringwright_solver::case::{Case, CentreOn, Step, Turned};
use ringwright_solver::geometry::Surface;
use ringwright_solver::report::ResultDocument;
use ringwright_solver::report::document::{ContactDocument, GRIP_CAUTION, Shape, StepDocument};
use ringwright_solver::report::units::{Units, angle, percent};

use super::readings;

/// Lobes smaller than this are not worth a word, mm: a hundredth of a micrometre.
pub(super) const NOTHING: f64 = 1e-5;

/// Paragraphs are broken here: what a terminal and a note to a colleague both take.
const WIDTH: usize = 100;

/// The whole summary, ending in a line break.
pub(crate) fn summary(case: &Case, document: &ResultDocument) -> String {
    let units = Units::new(case.inch);
    let mut text = format!("{}\n", one_line(&case.title));
    for (n, step) in document.steps.iter().enumerate() {
        text += &format!(
            "\nStep {}, hold \"{}\"{}\n",
            n + 1,
            one_line(&step.hold),
            placing(&case.steps[n], step)
        );
        held(&mut text, case, step, units);
        cuts(&mut text, step, units);
        released(&mut text, step, units);
        estimate(&mut text, step);
    }
    if let Some(last) = document.steps.last() {
        text.push('\n');
        text += &readings::gauges(last, units);
    }
    text += &readings::inspection(&document.inspection, units);
    // the grip comes first, so that nobody reads a verdict on roundness as one on safety
    let about_grip = |line: &String| line.starts_with("Grip") || line == GRIP_CAUTION;
    text.push('\n');
    text += &wrapped("", &format!("Grip: NOT CHECKED. {GRIP_CAUTION}"));
    text += "\nVerdict\n";
    for line in document.verdict.says.iter().filter(|l| !about_grip(l)) {
        text += &wrapped("  ", line);
    }
    for line in document.cautions.iter().filter(|l| !about_grip(l)) {
        text += &wrapped("  ", &format!("Caution: {line}"));
    }
    let assumed = one_line(&document.assumed.join("; "));
    text += &wrapped("  ", &format!("Taken for granted: {assumed}."));
    text
}

/// How the part lies in the hold, where it does not lie as drawn.
fn placing(asked: &Step, step: &StepDocument) -> String {
    let mut text = String::new();
    if step.flipped {
        text += ", turned end for end";
    }
    match asked.turned {
        Turned::Any => text += &format!(", turned {}: the worst way", angle(step.turned)),
        Turned::By(_) if step.turned != 0.0 => text += &format!(", turned {}", angle(step.turned)),
        Turned::By(_) => {}
    }
    if let CentreOn::Surface(s) = asked.centre_on {
        text += &format!(", the {} set to run true", s.name());
    }
    text
}

/// A paragraph, its later lines set in by two more than the first.
pub(super) fn wrapped(margin: &str, paragraph: &str) -> String {
    let mut text = String::new();
    let mut line = margin.to_owned();
    let mut empty = true;
    for word in paragraph.split_whitespace() {
        if !empty && line.chars().count() + 1 + word.chars().count() > WIDTH {
            text += &line;
            text.push('\n');
            line = format!("{margin}  ");
            empty = true;
        }
        if !empty {
            line.push(' ');
        }
        line += word;
        empty = false;
    }
    text + &line + "\n"
}

/// A title may hold a line break; a heading must not.
fn one_line(title: &str) -> String {
    title
        .chars()
        .map(|c| if c.is_control() { ' ' } else { c })
        .collect()
}

fn held(text: &mut String, case: &Case, step: &StepDocument, units: Units) {
    *text += " Held\n";
    for c in &step.held.contacts {
        *text += &format!("  {}\n", contact(c, units));
    }
    for load in &step.held.loads {
        *text += &format!(
            "  {} {} at {}: {} that stays as it is\n",
            load.called,
            load.number,
            angle(load.angle),
            units.force(load.force)
        );
    }
    if step.held.axial_force > 0.0 {
        *text += &format!(
            "  end plates press with {}\n",
            units.force(step.held.axial_force)
        );
    }
    for s in Surface::BOTH {
        *text += &format!("  {}\n", shape(s, step.held_shape(s), units));
    }
    let stress = units.stress(step.held.stress.von_mises_away);
    *text += &match (
        case.part.material.yield_strength,
        step.held.stress.yield_margin,
    ) {
        (Some(limit), Some(margin)) => format!(
            "  stress {stress} against yield {}: {}\n",
            units.stress(limit),
            if margin < 0.0 {
                "YIELDS".to_owned()
            } else {
                format!("{} of it", percent(step.held.stress.von_mises_away / limit))
            }
        ),
        _ => format!("  stress {stress}; the material has no yield strength to hold it against\n"),
    };
    if step.held.stress.von_mises_max.is_none() {
        *text += "  (away from loaded pad edges, where stress has no largest value)\n";
    }
    for motion in &step.held.free_motions {
        *text += &format!("  nothing resists {motion}; the forces leave it alone\n");
    }
}

fn contact(c: &ContactDocument, units: Units) -> String {
    if c.arcs.is_empty() {
        let named = format!("{} {}", c.called, c.body);
        return format!("{named} does not touch: gap {}", units.small(c.gap));
    }
    let arcs: Vec<_> = c
        .arcs
        .iter()
        .map(|[a, b]| format!("{a:.2} to {b:.2}"))
        .collect();
    let arcs = arcs.join(" and ");
    let force = units.force(c.force);
    let mut text = if c.round {
        // what goes round the part has no axis, and its force is the sum of its pressure
        format!(
            "{} presses with {force} all told, carries over {arcs} deg",
            c.called
        )
    } else {
        format!(
            "{} {} at {}: {force}, travel after touch {}, carries over {arcs} deg",
            c.called,
            c.body,
            angle(c.angle),
            units.small(c.approach)
        )
    };
    if let Some(edge) = c.edge_force_per_length {
        text += &format!("; pad edge {}", units.force_per_length(edge));
    }
    text
}

/// Roundness on both circles, and the strongest lobes.
fn shape(surface: Surface, shape: &Shape, units: Units) -> String {
    if shape.roundness_minimum_zone < NOTHING {
        return format!("{:5} round", surface.name());
    }
    let mut lobes: Vec<_> = shape
        .harmonics
        .iter()
        .filter(|h| h.count >= 2 && h.amplitude > NOTHING)
        .collect();
    lobes.sort_by(|a, b| {
        b.amplitude
            .total_cmp(&a.amplitude)
            .then(a.count.cmp(&b.count))
    });
    let strongest = lobes.first().map_or(0.0, |h| h.amplitude);
    let words: Vec<_> = lobes
        .iter()
        .take(2)
        .filter(|h| h.amplitude >= 0.2 * strongest)
        .map(|h| format!("{} lobes {} each way", h.count, units.small(h.amplitude)))
        .collect();
    format!(
        "{:5} roundness {}, about the least-squares circle {}{}",
        surface.name(),
        units.small(shape.roundness_minimum_zone),
        units.small(shape.roundness_least_squares),
        words.iter().map(|w| format!("; {w}")).collect::<String>()
    )
}

fn cuts(text: &mut String, step: &StepDocument, units: Units) {
    if step.cuts.is_empty() {
        *text += " Cut: nothing\n";
        return;
    }
    *text += " Cut\n";
    for c in &step.cuts {
        *text += &format!(
            "  {:5} to {}: depth {} to {}",
            c.surface.name(),
            units.size(c.diameter),
            units.small(c.depth_min),
            units.small(c.depth_max)
        );
        *text += &if c.cleaned_up < 1.0 {
            format!(
                "; LOW SPOTS STAY, {} of it cleaned up; {} more on the diameter would clean it up\n",
                percent(c.cleaned_up.min(0.9949)),
                units.small(c.stock_to_clean_up.abs())
            )
        } else {
            ", cleaned up all round\n".to_owned()
        };
    }
}

fn released(text: &mut String, step: &StepDocument, units: Units) {
    *text += " Let go\n";
    for s in Surface::BOTH {
        *text += &format!("  {}\n", shape(s, step.released_shape(s), units));
        *text += &format!(
            "        average diameter {}\n",
            units.size(*step.released.average_diameter.get(s))
        );
    }
    let w = &step.released.wall;
    *text += &format!(
        "  wall  {} at {} to {} at {}\n",
        units.size(w.min),
        angle(w.min_angle),
        units.size(w.max),
        angle(w.max_angle)
    );
}

fn estimate(text: &mut String, step: &StepDocument) {
    let e = &step.estimate;
    *text += &match e.relative_error {
        Some(error) => format!(
            " Mesh error of the {}: about {}; it says nothing about force, friction or material\n",
            e.quantity,
            percent(error)
        ),
        None => format!(" Mesh error of the {}: not estimated\n", e.quantity),
    };
}
