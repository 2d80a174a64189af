//! One step of the summary of `run`: held, cut, released, and a tube along its length.

use std::ops::Range;

use ringwright_solver::case::{Case, CentreOn, Step, Turned};
use ringwright_solver::geometry::Surface;
use ringwright_solver::report::document::{
    ContactDocument, CutDocument, LoadDocument, Shape, StepDocument, StressDocument,
};
use ringwright_solver::report::units::{
    Units, angle, angle_within, digits, percent, percent_within,
};
use ringwright_solver::report::words::{
    against_yield, alike, body_name, listed, numbered, place, radii_after,
};
use ringwright_solver::report::{ResultDocument, along};

use super::summary::{NOTHING, one_line, wrapped};
use super::tool::tool;

/// Stress below this is no stress, MPa.
const NO_STRESS: f64 = 1e-3;

/// A force that changes by less than this share is not told again.
const SAME_FORCE: f64 = 0.01;

/// The error of an end of contact, as a share of its arc, from which it stands beside the ends.
const NOT_TOLD: f64 = 0.2;

/// More bodies than these are told by the first and the spacing.
const MANY: usize = 8;

/// A step, ending in a line break.
pub(super) fn step(case: &Case, document: &ResultDocument, n: usize, units: Units) -> String {
    let step = &document.steps[n];
    let heading = format!(
        "Step {}, hold \"{}\"{}",
        n + 1,
        one_line(&step.hold),
        placing(&case.steps[n], step, units)
    );
    let mut text = wrapped("", &heading);
    let drawn = [
        0.5 * document.part.outer_diameter,
        0.5 * document.part.bore_diameter,
    ];
    let before = document.steps[..n].iter().flat_map(|s| &s.cuts);
    let radii = radii_after(drawn, before.map(|c| (&c.surface, c.diameter)));
    let about = About { case, units };
    if let Some(words) = along::heading(step, units) {
        text += &wrapped(" ", &words);
    }
    held(&mut text, &about, step, radii);
    cuts(&mut text, &about, step, radii);
    grip(&mut text, step);
    released(&mut text, step, units);
    length(&mut text, &about, n, step);
    estimate(&mut text, step);
    text
}

/// What every line needs.
struct About<'a> {
    case: &'a Case,
    units: Units,
}

/// How the part lies in the hold, where it does not lie as drawn.
fn placing(asked: &Step, step: &StepDocument, units: Units) -> String {
    let mut text = String::new();
    if asked.stress_relieved {
        text += ", stress relieved before it";
    }
    if step.flipped {
        text += ", turned end for end";
    }
    match asked.turned {
        Turned::Any => text += &format!(", turned {}: the worst way", angle(step.turned)),
        Turned::By(_) if step.turned != 0.0 => text += &format!(", turned {}", angle(step.turned)),
        Turned::By(_) => {}
    }
    if let CentreOn::Surface(s) = asked.centre_on {
        text += &format!(", the {} set to run true", s.in_words());
    }
    let [x, y] = asked.spindle_offset;
    if [x, y] != [0.0, 0.0] {
        text += &format!(
            ", spindle {} off towards {}",
            units.small(x.hypot(y)),
            angle(y.atan2(x).to_degrees().rem_euclid(360.0))
        );
    }
    text
}

fn held(text: &mut String, about: &About, step: &StepDocument, radii: [f64; 2]) {
    let units = about.units;
    *text += " Held\n";
    for run in grouped(&step.held.contacts, one_scheme) {
        for line in scheme(&step.held.contacts[run], units) {
            *text += &wrapped("  ", &line);
        }
    }
    for group in alike_loads(&step.held.loads) {
        *text += &wrapped("  ", &load(&step.held.loads[group], units));
    }
    if step.held.axial_force > 0.0 {
        let force = units.force(step.held.axial_force);
        *text += &format!("  end plates press with {force}\n");
    }
    for line in shapes(&step.held.outer, &step.held.bore, units) {
        *text += &wrapped("  ", &line);
    }
    if let Some(words) = stress(about, &step.held.stress, radii) {
        *text += &wrapped("  ", &format!("largest von Mises stress {words}"));
    }
    let free: Vec<String> = step.held.free_motions.iter().map(|m| motion(m)).collect();
    let loaded = !step.held.contacts.is_empty() || !step.held.loads.is_empty();
    if !free.is_empty() && loaded {
        let them = if free.len() == 1 { "it" } else { "them" };
        let line = format!(
            "not restrained in this frictionless model: {}; no load drives {them}",
            listed(&free, "and")
        );
        *text += &wrapped("  ", &line);
    }
}

/// What the cuts ask of the hold, what it takes, and what was not checked.
fn grip(text: &mut String, step: &StepDocument) {
    let grip = &step.grip;
    if grip.says.is_empty() {
        return;
    }
    *text += " Grip (estimates)\n";
    for line in &grip.says {
        *text += &wrapped("  ", line);
    }
    if !grip.not_checked.is_empty() {
        let open = format!("not checked: {}", grip.not_checked.join("; "));
        *text += &wrapped("  ", &open);
    }
}

/// A motion that nothing resists, as the field calls it.
fn motion(named: &str) -> String {
    match named {
        "turning about the axis" => "rotation about the axis".into(),
        other => other.into(),
    }
}

/// Stress beside yield, and where; `None` where there is none to speak of.
fn stress(about: &About, stress: &StressDocument, radii: [f64; 2]) -> Option<String> {
    if stress.von_mises_away < NO_STRESS {
        return None;
    }
    let mut words = format!(
        "{}, {}",
        against_yield(stress, about.units),
        place(stress, radii, about.units)
    );
    if stress.von_mises_max.is_none() {
        words += " (right at a loaded edge it has no limit, and is left out)";
    }
    if about.case.part.material.yield_strength.is_none() {
        words += "; the material has no yield strength to hold it against";
    }
    Some(words)
}

/// Neighbours in the list that do the same, each about its own axis.
fn alike_bodies(contacts: &[ContactDocument]) -> Vec<Range<usize>> {
    let same = |a: &ContactDocument, b: &ContactDocument| {
        one_scheme(a, b)
            && !a.round
            && a.arcs.is_empty() == b.arcs.is_empty()
            && alike(a.force, b.force)
            && (a.approach - b.approach).abs() < 1e-4
            && (a.gap - b.gap).abs() < 1e-4
            && a.arcs.len() == b.arcs.len()
            && own_arcs(a)
                .iter()
                .zip(own_arcs(b))
                .all(|(x, y)| (x[0] - y[0]).abs() < 0.02 && (x[1] - y[1]).abs() < 0.02)
    };
    grouped(contacts, same)
}

fn one_scheme(a: &ContactDocument, b: &ContactDocument) -> bool {
    a.scheme == b.scheme && a.called == b.called && a.body + 1 == b.body
}

/// Runs of neighbours that are the same.
fn grouped<T>(items: &[T], same: impl Fn(&T, &T) -> bool) -> Vec<Range<usize>> {
    let mut groups: Vec<Range<usize>> = Vec::new();
    for k in 0..items.len() {
        match groups.last_mut() {
            Some(group) if same(&items[k - 1], &items[k]) => group.end = k + 1,
            _ => groups.push(k..k + 1),
        }
    }
    groups
}

/// Loaded arcs from the body's own axis, degrees, rising.
fn own_arcs(contact: &ContactDocument) -> Vec<[f64; 2]> {
    let mut arcs: Vec<[f64; 2]> = contact
        .arcs
        .iter()
        .map(|[a, b]| {
            let turns = ((0.5 * (a + b) - contact.angle) / 360.0).round() * 360.0;
            [a - contact.angle - turns, b - contact.angle - turns]
        })
        .collect();
    arcs.sort_by(|x, y| x[0].total_cmp(&y[0]));
    arcs
}

/// What the bodies of one scheme do: those that do the same in one line; where they differ, what they share comes first.
fn scheme(all: &[ContactDocument], units: Units) -> Vec<String> {
    let groups = alike_bodies(all);
    if groups.len() == 1 {
        return vec![contact(all, all, &closing(all, units), units)];
    }
    let shared = alike_travel(all);
    let mut lines = Vec::new();
    if shared {
        let numbers: Vec<usize> = all.iter().map(|c| c.body).collect();
        let closing = closing(all, units);
        lines.extend(
            closing
                .strip_prefix(',')
                .map(|does| format!("{}{does}", body_name(&all[0], &numbers))),
        );
    }
    for group in groups {
        let these = &all[group];
        let own = if shared {
            String::new()
        } else {
            closing(these, units)
        };
        lines.push(contact(these, all, &own, units));
    }
    lines
}

/// Whether all bodies of a scheme have come as far past first contact.
fn alike_travel(all: &[ContactDocument]) -> bool {
    all.iter()
        .all(|c| (c.approach - all[0].approach).abs() < 1e-4 && c.set_force.is_some())
}

/// How far bodies close past first contact, and what the pad edges carry. What stands at a place of its own has no approach to speak of;
/// nor has what is met by a part that others have bent towards it.
fn closing(all: &[ContactDocument], units: Units) -> String {
    let mut text = String::new();
    let moves = match (all[0].surface, all[0].called.as_str()) {
        (Surface::Bore, "screw") => "advance",
        (Surface::Bore, _) => "open",
        (Surface::Outer, _) => "close",
    };
    let moves = if all.len() == 1 {
        format!("{moves}s")
    } else {
        moves.into()
    };
    if all[0].set_force.is_some() && all[0].approach > NOTHING {
        text += &format!(
            ", {moves} {} past first contact",
            units.small_within(all[0].approach, all[0].error.map(|e| e.approach))
        );
    }
    // of a tube that is a mean over its length, which no edge carries
    let edges = all.iter().filter(|c| c.along.is_none()).filter_map(|c| {
        let error = c.error.and_then(|e| e.edge_force_per_length);
        Some((c.edge_force_per_length?, error))
    });
    if let Some((edge, error)) = edges.reduce(|a, b| if b.0 > a.0 { b } else { a }) {
        let shown = units.force_per_length_within(edge, error);
        text += &format!(", pad edges up to {shown} within a tenth of the wall");
    }
    text
}

/// Bodies that do the same, with their scheme beside them.
fn contact(
    these: &[ContactDocument],
    scheme: &[ContactDocument],
    closing: &str,
    units: Units,
) -> String {
    let c = &these[0];
    let numbers: Vec<usize> = these.iter().map(|c| c.body).collect();
    let name = body_name(c, &numbers);
    if c.arcs.is_empty() {
        let does = if these.len() == 1 { "does" } else { "do" };
        let gap = units.small_within(c.gap, c.error.map(|e| e.gap));
        return format!("{name} {does} not touch: gap {gap}");
    }
    let force = units.force_within(c.force, c.error.map(|e| e.force));
    let text = if c.round {
        // what goes round the part has no axis, and its force is the sum of its pressure
        let peak = c.peak_pressure.map_or(String::new(), |p| {
            let error = c.error.and_then(|e| e.peak_pressure);
            format!(", pressure up to {}", units.stress_within(p, error))
        });
        format!("{name}: {force} in total{peak}")
    } else {
        let each = if these.len() == 1 { "" } else { " each" };
        format!("{name} at {}: {force}{each}", angles(these))
    };
    format!(
        "{text}{}{closing}, {}",
        set_otherwise(scheme, units),
        arcs(c, these.len() > 1)
    )
}

/// What a scheme was set to, if it carries something else.
fn set_otherwise(scheme: &[ContactDocument], units: Units) -> String {
    let set: Option<f64> = scheme.iter().map(|c| c.set_force).sum();
    let found: f64 = scheme.iter().map(|c| c.force).sum();
    match set {
        Some(set) if (found - set).abs() > SAME_FORCE * set.abs().max(found.abs()) => {
            format!(" (set to {})", units.force(set / scheme.len() as f64))
        }
        _ => String::new(),
    }
}

/// Where bodies stand: all angles, or the first and the spacing.
fn angles(all: &[ContactDocument]) -> String {
    if all.len() <= MANY {
        let degrees: Vec<String> = all
            .iter()
            .map(|c| format!("{:.1}", c.angle + 0.0))
            .collect();
        return format!("{} deg", degrees.join(", "));
    }
    format!(
        "{} and on to {}",
        angle(all[0].angle),
        angle(all[all.len() - 1].angle)
    )
}

/// Where a body touches: in part angles, or about the axis of each of several.
fn arcs(c: &ContactDocument, several: bool) -> String {
    let covered: f64 = c.arcs.iter().map(|[a, b]| b - a).sum();
    if covered > 359.9 {
        return "contact all round".into();
    }
    let arcs = if several { own_arcs(c) } else { c.arcs.clone() };
    let error = c.error.map_or(0.0, |e| e.arcs);
    let narrowest = arcs.iter().map(|[a, b]| b - a).fold(360.0, f64::min);
    // where digits that hold would leave one end no other than the next, the error is told instead
    let (shown, within) = if error > NOT_TOLD * narrowest {
        let first = Some(0.1 * error);
        (
            first,
            format!(", each to \u{b1}{} deg", digits(error, 6, first)),
        )
    } else {
        (Some(error), String::new())
    };
    let arcs: Vec<String> = arcs
        .iter()
        .map(|arc| {
            let [a, b] = arc.map(|t| digits(t, 2, shown));
            format!("{a} to {b}")
        })
        .collect();
    let about = if several { " about its own axis" } else { "" };
    let arcs = listed(&arcs, "and");
    format!("contact from {arcs} deg{about}{within}")
}

/// Neighbours in the list that press alike.
fn alike_loads(loads: &[LoadDocument]) -> Vec<Range<usize>> {
    grouped(loads, |a, b| {
        a.scheme == b.scheme
            && a.called == b.called
            && a.number + 1 == b.number
            && alike(a.force, b.force)
    })
}

fn load(all: &[LoadDocument], units: Units) -> String {
    let first = &all[0];
    let numbers: Vec<usize> = all.iter().map(|l| l.number).collect();
    let each = if all.len() == 1 { "" } else { " each" };
    let at = if all.len() <= MANY {
        let degrees: Vec<String> = all
            .iter()
            .map(|l| format!("{:.1}", l.angle + 0.0))
            .collect();
        format!("{} deg", degrees.join(", "))
    } else {
        format!(
            "{} and on to {}",
            angle(first.angle),
            angle(all[all.len() - 1].angle)
        )
    };
    format!(
        "{} at {at}: {}{each}, constant load",
        numbered(&first.called, &numbers),
        units.force(first.force)
    )
}

/// The shapes of both surfaces: in one line if they read alike, and none of a surface that is round beside one that is not.
fn shapes(outer: &Shape, bore: &Shape, units: Units) -> Vec<String> {
    let [a, b] = [outer, bore].map(|s| shape(s, units));
    match (a, b) {
        (None, None) => vec!["outside and bore: round".into()],
        (Some(a), Some(b)) if a == b => vec![format!("outside and bore: {a}")],
        (a, b) => {
            let named = [(Surface::Outer, a), (Surface::Bore, b)];
            named
                .into_iter()
                .filter_map(|(s, words)| Some(format!("{}: {}", s.in_words(), words?)))
                .collect()
        }
    }
}

/// Roundness (minimum zone) and the strongest lobes; `None` of what is round.
fn shape(shape: &Shape, units: Units) -> Option<String> {
    if shape.roundness_minimum_zone < NOTHING {
        return None;
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
    let words: String = lobes
        .iter()
        .take(2)
        .filter(|h| h.amplitude >= 0.2 * strongest)
        .map(|h| {
            let amplitude = units.small_in_column(h.amplitude, shape.error.map(|e| e.harmonics));
            format!("; {} lobes \u{b1}{amplitude}", h.count)
        })
        .collect();
    let zone = units.small_within(
        shape.roundness_minimum_zone,
        shape.error.map(|e| e.roundness),
    );
    Some(format!("roundness {zone}{words}"))
}

fn cuts(text: &mut String, about: &About, step: &StepDocument, radii: [f64; 2]) {
    if step.cuts.is_empty() {
        *text += " Cut: nothing\n";
        return;
    }
    for (k, c) in step.cuts.iter().enumerate() {
        *text += &wrapped(" ", &format!("Cut: {}", cut(c, about.units)));
        if let Some(t) = &c.tool_dip {
            *text += &wrapped("  ", &tool(t, about.units));
        }
        let taken = step.cuts[..=k].iter();
        let radii = radii_after(radii, taken.map(|c| (&c.surface, c.diameter)));
        if let Some(words) = stress(about, &c.stress, radii) {
            *text += &wrapped("  ", &format!("largest von Mises stress {words}"));
        }
    }
    for line in forces_left(step, about.units) {
        *text += &wrapped("  ", &line);
    }
}

fn cut(c: &CutDocument, units: Units) -> String {
    let reached = if c.cleaned_up < 1.0 {
        format!(
            "; DID NOT CLEAN UP: {} of the way round untouched",
            percent_within(
                (1.0 - c.cleaned_up).clamp(0.0051, 1.0),
                c.error.map(|e| e.cleaned_up)
            )
        )
    } else {
        ", cleaned up".to_owned()
    };
    format!(
        "{} to {}, depth {} to {}{reached}",
        c.surface.in_words(),
        units.size(c.diameter),
        units.small_within(c.depth_min, c.error.map(|e| e.depth)),
        units.small_within(c.depth_max, c.error.map(|e| e.depth))
    )
}

/// What bodies carry after the last cut, where it is no longer what they carried before the first.
fn forces_left(step: &StepDocument, units: Units) -> Vec<String> {
    let held = &step.held_at_speed.as_ref().unwrap_or(&step.held).contacts;
    let Some(after) = step
        .after_cut
        .as_ref()
        .filter(|a| a.contacts.len() == held.len())
    else {
        return Vec::new();
    };
    let changed = |k: usize| {
        let (a, b) = (held[k].force, after.contacts[k].force);
        (a - b).abs() > SAME_FORCE * a.max(b)
    };
    grouped(held, one_scheme)
        .into_iter()
        .filter(|run| run.clone().any(changed))
        .map(|run| {
            let numbers: Vec<usize> = held[run.clone()].iter().map(|c| c.body).collect();
            let carry = if run.len() == 1 { "carries" } else { "carry" };
            format!(
                "{} then {carry} {}, {} before",
                body_name(&held[run.start], &numbers),
                forces(&after.contacts[run.clone()], units),
                forces(&held[run], units)
            )
        })
        .collect()
}

/// What bodies carry: each, or the least and the most.
fn forces(contacts: &[ContactDocument], units: Units) -> String {
    let all = contacts.iter().map(|c| c.force);
    let errors = contacts.iter().filter_map(|c| c.error.map(|e| e.force));
    let error = errors.reduce(f64::max);
    let shown = |force: f64| units.force_within(force, error);
    let (low, high) = (
        all.clone().fold(f64::INFINITY, f64::min),
        all.fold(0.0, f64::max),
    );
    match contacts {
        [one] => shown(one.force),
        _ if alike(low, high) => format!("{} each", shown(high)),
        _ => format!("{} to {}", shown(low), shown(high)),
    }
}

fn released(text: &mut String, step: &StepDocument, units: Units) {
    *text += " Released\n";
    let average = |s: Surface| {
        let error = *step.released.average_diameter_error.get(s);
        units.size_within(*step.released.average_diameter.get(s), error)
    };
    let (outer, bore) = (average(Surface::Outer), average(Surface::Bore));
    *text += &wrapped(
        "  ",
        &format!("average diameter: outside {outer}, bore {bore}"),
    );
    for line in shapes(&step.released.outer, &step.released.bore, units) {
        *text += &wrapped("  ", &line);
    }
    let w = &step.released.wall;
    let line = if w.max - w.min < NOTHING {
        format!("wall: {} all round", units.size_within(w.min, w.error))
    } else {
        format!(
            "wall: least {} at {}, most {} at {}",
            units.size_within(w.min, w.error),
            angle_within(w.min_angle, w.min_angle_error),
            units.size_within(w.max, w.error),
            angle_within(w.max_angle, w.max_angle_error)
        )
    };
    *text += &wrapped("  ", &line);
}

/// A tube from end to end.
fn length(text: &mut String, about: &About, n: usize, step: &StepDocument) {
    for (k, row) in along::table(step, about.units).iter().enumerate() {
        let margin = if k == 0 { " " } else { "  " };
        *text += &format!("{margin}{row}\n");
    }
    for line in along::lines(about.case, &about.case.steps[n], step, about.units) {
        *text += &wrapped("  ", &line);
    }
}

fn estimate(text: &mut String, step: &StepDocument) {
    let e = &step.estimate;
    let line = match e.relative_error {
        Some(error) => format!(
            "Estimated discretisation error {}; it says nothing about force, friction or material",
            percent(error)
        ),
        None => "Discretisation error: not estimated".to_owned(),
    };
    *text += &wrapped(" ", &line);
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use ringwright_solver::case::{Origin, read};
    use ringwright_solver::geometry::PerSurface;
    use ringwright_solver::process::{Options, run};
    use ringwright_solver::report::document::{
        CutAlongDocument, GripAlongDocument, LineForceDocument, StationDocument, TubeDocument,
        TubeMeshDocument,
    };
    use ringwright_solver::report::{Program, document};

    use super::super::summary;
    use super::*;

    const CASE: &str = "[part]\nouter_diameter = 110.0\nbore_diameter = 104.0\nlength = 60.0\nmaterial = \"aluminium 6061-T6\"\n\
        [mesh]\naround = 72\nthrough = 2\n[[hold.chuck]]\nscheme = \"jaws\"\ncount = 3\nforce = 300.0\nwidth = 12.0\n[[step]]\nhold = \"chuck\"\n\
        [[step.cut]]\nsurface = \"bore\"\ndiameter = 105.0\n";

    /// A slice solved, told as if it were the section of a tube: the figures along the length are made up.
    #[test]
    fn a_tube_is_told_from_end_to_end() {
        let case = read(CASE, &ringwright_plugins::registry()).unwrap();
        let options = Options {
            estimate: false,
            ..Options::default()
        };
        let outcome = run(&case, &options).unwrap();
        let origin = Origin::default();
        let mut document = document(&case, &origin, &outcome, &Program::default()).unwrap();
        let slice = summary::summary(&case, &document);
        assert!(!slice.contains("length:") && !slice.contains("section at"));
        let step = &mut document.steps[0];
        let both = |outer: &Shape, bore: &Shape| PerSurface {
            outer: outer.clone(),
            bore: bore.clone(),
        };
        let station = |z: f64| StationDocument {
            z,
            held: both(&step.held.outer, &step.held.bore),
            released: both(&step.released.outer, &step.released.bore),
        };
        step.stations = Some([0.0, 30.0, 60.0].map(station).to_vec());
        step.tube = Some(TubeDocument {
            section: 0.0,
            length: 60.0,
            flipped: false,
            harmonics: 30,
            mesh: TubeMeshDocument {
                along: 24,
                through: 4,
            },
            along: vec![CutAlongDocument {
                surface: Surface::Bore,
                from: 0.0,
                to: 60.0,
                taper: -0.004,
                barrel: 0.001,
                range: 0.04,
                error: None,
            }],
            plates: None,
        });
        for contact in &mut step.held.contacts {
            contact.along = Some(GripAlongDocument {
                from: 0.0,
                to: 20.0,
                centroid: Some(18.8),
                front_quarter: 0.98,
                front_tenth: 0.7,
                back_half: 0.0,
                touching: vec![[12.0, 20.0]],
                line_force: LineForceDocument::default(),
            });
        }
        let text = summary::summary(&case, &document);
        assert!(text.lines().all(|l| l.chars().count() <= 100), "{text}");
        let joined = text.split_whitespace().collect::<Vec<_>>().join(" ");
        for words in [
            "Shapes and wall below are of the section at 0.0 mm (0.000 in) from the gripped end",
            "Along the length: roundness (minimum zone), positions from the gripped end",
            "jaws 1 to 3 grip with their front edge: 98 percent of the force in the front quarter of their length, the back 12.0 mm (0.472 \
             in) stands clear; such a grip pulls out easily",
            "whether the part pulls out or tilts is not checked: keep to the chuck maker's rules",
            "the bore along the length, after release: taper 0.0040 mm (0.16 thou) on the diameter",
        ] {
            assert!(joined.contains(words), "{text}\n{words}");
        }
        // a row a station, in columns
        let rows: Vec<&str> = text
            .lines()
            .skip_while(|l| !l.contains("Along the length"))
            .take(7)
            .collect();
        assert!(rows[4].starts_with("  0.0 (0.000)      "), "{text}");
        assert!(rows[6].starts_with("  60.0 (2.362)     "), "{text}");
        let at = |row: &str, word: &str| row.find(word).unwrap();
        assert_eq!(at(rows[1], "outside"), at(rows[2], "held"));
    }
}
