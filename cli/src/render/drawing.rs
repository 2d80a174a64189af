//! The jaws of a sized hold as a drawing has them, in words.

use ringwright_solver::geometry::Surface;
use ringwright_solver::report::units::{MM_PER_INCH, Units, fixed};
use ringwright_solver::report::words::numbered;
use ringwright_solver::size::{
    BlankDocument, BoredDocument, DrawingDocument, GapDocument, MadeDocument, PreloadDocument,
};

use super::size::down;
use super::summary::{one_line, wrapped};

/// A block for each kind of jaw.
pub(super) fn lines(drawing: &[DrawingDocument], units: Units) -> String {
    let mut text = String::new();
    for jaws in drawing {
        text += &wrapped("  ", &head(jaws, units));
        let mut add = |line: String| text += &wrapped("    ", &line);
        match &jaws.face {
            Some(face) => add(faced(jaws, face, units)),
            None => add("Flat face.".to_owned()),
        }
        if jaws.shape != "circle" {
            add(size(jaws, units));
            add(angles(jaws));
        }
        if !jaws.gaps.is_empty() {
            add(gaps(&jaws.gaps, units));
        }
        if let Some(off) = &jaws.stands_off {
            add(set(off, units));
        }
        if let Some(preload) = &jaws.preload {
            add(pressed(preload, &jaws.gaps, units));
        }
        add(blank(jaws.blank.as_ref(), jaws.surface, units));
        jaws.says.iter().for_each(|line| add(one_line(line)));
    }
    text
}

fn place(surface: Surface) -> &'static str {
    match surface {
        Surface::Outer => "outside",
        Surface::Bore => "bore",
    }
}

/// Both units, that of the file first.
fn pair(mm: String, inch: String, units: Units) -> String {
    let (mm, inch) = (format!("{mm} mm"), format!("{inch} in"));
    match units.inch {
        true => format!("{inch} ({mm})"),
        false => format!("{mm} ({inch})"),
    }
}

fn made(length: &MadeDocument, units: Units) -> String {
    pair(fixed(length.mm, 1), fixed(length.inch, 3), units)
}

fn head(jaws: &DrawingDocument, units: Units) -> String {
    let mut who = numbered(&one_line(&jaws.called), &jaws.numbers);
    if let Some(first) = who.get(..1) {
        who.replace_range(..1, &first.to_uppercase());
    }
    format!(
        "{who} (\"{}\"), against the {} of {}:",
        one_line(&jaws.scheme),
        place(jaws.surface),
        units.size(jaws.gripped_diameter)
    )
}

fn faced(jaws: &DrawingDocument, face: &BoredDocument, units: Units) -> String {
    // a thousandth for what is ground, a hundredth for what is bored; radii are halves of these
    let [mm, inch] = match jaws.shape {
        "circle" => [3, 5],
        _ => [2, 4],
    };
    let to =
        |x: [f64; 2], more: usize| pair(fixed(x[0], mm + more), fixed(x[1], inch + more), units);
    let diameter = to([face.diameter_mm, face.diameter_inch], 0);
    let radius = to([face.radius_mm, face.radius_inch], 1);
    let what = match jaws.shape {
        "bored" => format!("Bore to {diameter} diameter, {radius} radius"),
        "turned" => format!("Turn to {diameter} diameter, {radius} radius"),
        "circle" => format!("Make to {diameter} diameter"),
        _ => format!("Crown of {radius} radius"),
    };
    let other = |x: f64| (x - face.diameter).abs() > 1e-9;
    let mut notes = Vec::new();
    for (meets, number, unit) in [
        (face.mm_meets, face.diameter_mm, "millimetre"),
        (face.inch_meets, face.diameter_inch * MM_PER_INCH, "inch"),
    ] {
        match meets {
            Some(false) => notes.push(format!(
                "ROUNDED SO, THE {} NUMBER DOES NOT MEET EVERY LIMIT over the spread: computed with {}",
                unit.to_uppercase(),
                exact(face.diameter)
            )),
            None if other(number) => notes.push(format!(
                "the {unit} number is rounded from {}; whether it still meets every limit was not checked",
                exact(face.diameter)
            )),
            _ => {}
        }
    }
    match notes.is_empty() {
        true => format!("{what}."),
        false => format!("{what}; {}.", notes.join("; ")),
    }
}

/// A diameter with all its digits that mean something.
fn exact(mm: f64) -> String {
    format!("{} mm ({} in)", fixed(mm, 4), fixed(mm / MM_PER_INCH, 6))
}

fn size(jaws: &DrawingDocument, units: Units) -> String {
    let width = jaws.width.as_ref().map_or(String::new(), |w| {
        format!(", {} straight across", made(w, units))
    });
    let relief = jaws.relief_width.as_ref().map_or(String::new(), |w| {
        format!("; the middle {} cut back", made(w, units))
    });
    format!("Each covers {} deg{width}{relief}.", fixed(jaws.arc, 1))
}

fn angles(jaws: &DrawingDocument) -> String {
    let angles: Vec<String> = jaws.angles.iter().map(|a| fixed(*a, 1)).collect();
    format!(
        "At {} deg, counter-clockwise from the zero mark seen from the tailstock.",
        angles.join(", ")
    )
}

fn gaps(gaps: &[GapDocument], units: Units) -> String {
    let alike = gaps
        .iter()
        .all(|g| (g.degrees - gaps[0].degrees).abs() < 1e-6);
    let told: Vec<String> = match alike {
        true => vec![gap(&gaps[0], units)],
        false => gaps
            .iter()
            .map(|g| format!("{} to {}: {}", g.between[0], g.between[1], gap(g, units)))
            .collect(),
    };
    let which = if alike { "each gap" } else { "gaps" };
    format!(
        "Closed on the part, {which} from corner to corner: {}.",
        told.join("; ")
    )
}

fn gap(gap: &GapDocument, units: Units) -> String {
    format!(
        "{} deg, {}",
        fixed(gap.degrees, 1),
        made(&gap.closed, units)
    )
}

/// Where bodies stand that no force drives.
fn set(off: &[f64], units: Units) -> String {
    let each = |x: &f64| match *x {
        x if x > 0.0 => format!("{} clear of the free part", units.small(x)),
        x if x < 0.0 => format!("{} past first touch", units.small(-x)),
        _ => "at first touch with the free part".to_owned(),
    };
    let mut told: Vec<String> = off.iter().map(each).collect();
    told.dedup();
    format!("Set {}.", told.join(", "))
}

/// How jaws are bored so that they are what was computed. Common practice, no source.
fn pressed(preload: &PreloadDocument, gaps: &[GapDocument], units: Units) -> String {
    let how = match preload.direction {
        "closing" => "Bore them while they close on a plug or disc at the back of the jaws",
        _ => "Turn them while they open into a ring round the jaws",
    };
    let where_to = gaps.first().and_then(|g| g.bored.as_ref());
    let alike = |w: &&MadeDocument| {
        gaps.iter().all(|g| {
            g.bored
                .as_ref()
                .is_some_and(|b| (b.exact - w.exact).abs() < 1e-6)
        })
    };
    let stand = where_to.filter(alike).map_or(String::new(), |w| {
        format!(", of a size at which each gap is {} then", made(w, units))
    });
    format!(
        "{how}{stand}, with {} a jaw ({}): the way and the force in which they grip, so that jaws and guides give as they do on the part. No more than the chuck's maker allows.",
        units.set_force(preload.force),
        preload.direction
    )
}

fn blank(blank: Option<&BlankDocument>, surface: Surface, units: Units) -> String {
    let Some(blank) = blank else {
        return format!(
            "What the {} of the blank may be off by was not worked out: no key of the case gives its diameter alone.",
            place(surface)
        );
    };
    let head = format!(
        "Blank where it is gripped, {} ({})",
        units.size(blank.diameter),
        blank.path
    );
    if blank.plus_minus <= 0.0 {
        return format!(
            "{head}: NO PLAY FOUND: the diameter may not be off by anything that was tried."
        );
    }
    let off = units.small(down(blank.plus_minus));
    let (more, limited) = match (blank.and_more, blank.limited_by) {
        (true, _) => (" or more (no more was tried)", String::new()),
        (false, Some("no answer")) => ("", "; beyond that the case has no answer".to_owned()),
        (false, by) => (
            "",
            by.map_or(String::new(), |by| format!("; beyond that, {by}")),
        ),
    };
    format!(
        "{head}: may be off by \u{b1}{off}{more} on the diameter with every limit that is known met, all else that is spread at its worst{limited}."
    )
}
