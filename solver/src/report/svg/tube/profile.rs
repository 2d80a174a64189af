//! The wall in a plane through the axis: how far it has moved while held, what is left after release, and how hard it is pressed where.

use super::{Grip, ROUND, Tube};
use crate::geometry::Surface;
use crate::process::{GripAlong, TubeState};
use crate::report::svg::scale::{Scale, two_digits};
use crate::report::svg::shapes::{BODY, EDGE};
use crate::report::svg::sheet::{Anchor, FAINT, Font, INK, Sheet, path, wrap};
use crate::report::svg::unrolled::scale_texts;
use crate::report::svg::{GRID, HELD, MARGIN, RELEASED, WIDE, polar};
use crate::report::units::{Units, angle};
use crate::report::vtk;

const LEFT: f64 = 124.0;
const WIDTH: f64 = 1000.0;
/// Room for deviations on either side of a surface, pixels.
const BAND: f64 = 58.0;
/// From the line of the outside to that of the bore, pixels.
const WALL: f64 = 142.0;
/// Room for forces per length beyond a surface's band, and thickness of a pad, pixels.
const FORCE: f64 = 58.0;
const PAD: f64 = 12.0;
/// Pieces of a pad over which its force is told.
const PIECES: usize = 20;
/// What a force per length is drawn in.
const LOAD: &str = "#6b6256";

/// The views of one plane.
struct Profile<'a> {
    tube: &'a Tube<'a>,
    /// Number of the angle in the states.
    angle: usize,
    scale: Scale,
    /// Pixels down the page of the outside's zero line.
    outside: f64,
}

/// Draws the wall below `top` and returns where it ends.
pub(super) fn draw(tube: &Tube, sheet: &mut Sheet, top: f64, units: Units) -> f64 {
    let worst = worst_angle(tube);
    let angle_at = worst.unwrap_or(0);
    let curves = [Surface::Outer, Surface::Bore]
        .map(|s| [held(tube, s, angle_at), released(tube, s, angle_at)]);
    let most = curves
        .iter()
        .flatten()
        .flatten()
        .fold(0.0_f64, |m, p| m.max(p[1].abs()));
    let pressed = Surface::BOTH.map(|s| hardest(tube, s));
    let room = |k: usize| {
        if pressed[k].is_some() {
            FORCE + PAD
        } else {
            6.0
        }
    };
    let mut profile = Profile {
        tube,
        angle: angle_at,
        scale: Scale::covering(most, units),
        outside: 0.0,
    };
    let y = profile.heading(sheet, top, worst.is_some());
    profile.outside = y + room(0) + BAND;
    profile.wall(sheet);
    for (k, surface) in Surface::BOTH.into_iter().enumerate() {
        profile.axes(sheet, surface, units);
        if let Some(body) = &pressed[k] {
            profile.pressed(sheet, surface, body, units);
        }
    }
    for (surface, [held, released]) in Surface::BOTH.into_iter().zip(&curves) {
        let dash = polar::HELD_DASH;
        let style = format!("stroke=\"{HELD}\" stroke-width=\"2.4\" stroke-dasharray=\"{dash}\"");
        profile.line(sheet, surface, held, &style);
        let style = format!("stroke=\"{RELEASED}\" stroke-width=\"2.4\"");
        profile.line(sheet, surface, released, &style);
    }
    let bottom = profile.level(Surface::Bore) + BAND + room(1);
    profile.positions(sheet, bottom, units);
    profile.caption(sheet, bottom + 46.0, &pressed, units)
}

/// The angle at which the surface that is shown stands farthest from round, in the section that the figures are of; `None` if it is round.
fn worst_angle(tube: &Tube) -> Option<usize> {
    let state = match tube.step.cuts.is_empty() {
        true => tube.held,
        false => tube.released,
    };
    let far = |z: &f64| (z - tube.tube.section).abs();
    let row = (0..state.z.len())
        .min_by(|&a, &b| far(&state.z[a]).total_cmp(&far(&state.z[b])))
        .unwrap_or(0);
    let off = vtk::deviations(state, tube.shown, row);
    let mut worst = 0;
    for (k, d) in off.iter().enumerate() {
        // of equal ones the first
        if d.abs() > off[worst].abs() * (1.0 + 1e-6) {
            worst = k;
        }
    }
    (off[worst].abs() >= ROUND).then_some(worst)
}

/// The same direction in a state with its own number of angles.
fn nearest(tube: &Tube, state: &TubeState, angle: usize) -> usize {
    let of = if tube.step.cuts.is_empty() {
        tube.held.angles
    } else {
        tube.released.angles
    };
    let share = angle as f64 / of as f64;
    (share * state.angles as f64).round() as usize % state.angles
}

/// Position and radial displacement of a held surface, mm.
fn held(tube: &Tube, surface: Surface, angle: usize) -> Vec<[f64; 2]> {
    displaced(tube, tube.held, surface, angle)
}

fn displaced(tube: &Tube, state: &TubeState, surface: Surface, angle: usize) -> Vec<[f64; 2]> {
    let k = nearest(tube, state, angle);
    let moved = state.displacement.get(surface);
    let at = |(row, &z): (usize, &f64)| [z, moved[row * state.angles + k][0]];
    state.z.iter().enumerate().map(at).collect()
}

/// Position and what is left after release, mm: where the surface is cut against what the tool was set to, elsewhere against the stress-free
/// shape.
fn released(tube: &Tube, surface: Surface, angle: usize) -> Vec<[f64; 2]> {
    let state = tube.released;
    let k = nearest(tube, state, angle);
    let mut points = displaced(tube, state, surface, angle);
    for (row, point) in points.iter_mut().enumerate() {
        let Some(tool) = tool_radius(tube, surface, point[0]) else {
            continue;
        };
        let off = vtk::deviations(state, surface, row);
        let radii = (0..state.angles).map(|k| state.radius(surface, row, k));
        let mean = radii.sum::<f64>() / state.angles as f64;
        point[1] = off[k] + mean - tool;
    }
    points
}

/// What the tool was set to at a position of the part in the last cut that runs over it, mm.
fn tool_radius(tube: &Tube, surface: Surface, z: f64) -> Option<f64> {
    let length = tube.tube.length;
    let own = if tube.tube.flipped { length - z } else { z };
    let cuts = tube.asked.cuts.iter().rev();
    cuts.filter(|c| c.surface == surface).find_map(|c| {
        let (from, to) = (c.reach.from, c.reach.to.unwrap_or(length));
        let inside = own >= from - 1e-9 && own <= to + 1e-9;
        let end = c.reach.end_diameter.unwrap_or(c.diameter);
        let share = (own - from) / (to - from);
        inside.then_some(0.5 * (c.diameter + share * (end - c.diameter)))
    })
}

/// The body on a surface with the largest force per length anywhere.
fn hardest<'a>(tube: &Tube<'a>, surface: Surface) -> Option<Grip<'a>> {
    let told = !tube.without_forces;
    let pressing = tube.grips(surface).filter(|g| told && peak(g.along) > 0.0);
    pressing.reduce(|a, b| {
        if peak(b.along) > 1.001 * peak(a.along) {
            b
        } else {
            a
        }
    })
}

/// Force per length of each of [`PIECES`] equal pieces of a pad, from the lower position on, N/mm: right at a pad's end it has no limit, so it
/// is told over a length.
fn pieces(grip: &GripAlong) -> [f64; PIECES] {
    let [from, to] = grip.reach;
    let piece = (to - from) / PIECES as f64;
    let mut forces = [0.0; PIECES];
    for (k, point) in grip.line_force.iter().enumerate() {
        // as far as half way to its neighbours
        let beside =
            |other: Option<&[f64; 2]>, end: f64| other.map_or(end, |p| 0.5 * (p[0] + point[0]));
        let before = k.checked_sub(1).and_then(|k| grip.line_force.get(k));
        let start = beside(before, from);
        let end = beside(grip.line_force.get(k + 1), to);
        for (n, force) in forces.iter_mut().enumerate() {
            let low = from + piece * n as f64;
            let shared = (end.min(low + piece) - start.max(low)).max(0.0);
            *force += point[1].max(0.0) * shared / piece;
        }
    }
    forces
}

fn peak(grip: &GripAlong) -> f64 {
    pieces(grip).into_iter().fold(0.0, f64::max)
}

impl Profile<'_> {
    fn x(&self, z: f64) -> f64 {
        LEFT + WIDTH * self.tube.share(z)
    }

    /// Where the surface of the stress-free shape stands.
    fn level(&self, surface: Surface) -> f64 {
        match surface {
            Surface::Outer => self.outside,
            Surface::Bore => self.outside + WALL,
        }
    }

    fn y(&self, surface: Surface, deviation: f64) -> f64 {
        self.level(surface) - BAND * deviation / self.scale.most()
    }

    fn heading(&self, sheet: &mut Sheet, top: f64, out_of_round: bool) -> f64 {
        let state = if self.tube.step.cuts.is_empty() {
            self.tube.held
        } else {
            self.tube.released
        };
        let degrees = 360.0 * self.angle as f64 / state.angles as f64;
        let why = match out_of_round {
            true => format!(
                ": there the {} is farthest from round",
                self.tube.shown.in_words()
            ),
            false => String::new(),
        };
        let words = format!(
            "Wall at {} from end to end, the {} on the left{why}",
            angle(degrees),
            self.tube.holder()
        );
        sheet.text(MARGIN, top + 14.0, Anchor::Start, Font::bold(15.0), &words);
        top + 26.0
    }

    /// The wall, its thickness not to scale, and the ends of the part.
    fn wall(&self, sheet: &mut Sheet) {
        let (outside, bore) = (self.level(Surface::Outer), self.level(Surface::Bore));
        sheet.put(format_args!(
            "<rect x=\"{LEFT}\" y=\"{outside:.1}\" width=\"{WIDTH}\" height=\"{:.1}\" fill=\"#f4f2ee\"/>",
            bore - outside
        ));
        sheet.text(
            LEFT + 0.5 * WIDTH,
            0.5 * (outside + bore) + 5.0,
            Anchor::Middle,
            Font::faint(13.0),
            "wall (drawn plain, thickness not to scale)",
        );
    }

    fn line(&self, sheet: &mut Sheet, surface: Surface, points: &[[f64; 2]], style: &str) {
        let drawn: Vec<[f64; 2]> = points
            .iter()
            .map(|p| [self.x(p[0]), self.y(surface, p[1])])
            .collect();
        sheet.put(format_args!(
            "<path d=\"{}\" fill=\"none\" stroke-linejoin=\"round\" {style}/>",
            path(&drawn, false)
        ));
    }

    /// Zero and full scale of a surface, in both units, and its name.
    fn axes(&self, sheet: &mut Sheet, surface: Surface, units: Units) {
        let most = self.scale.most();
        let full = self.scale.divisions as i32;
        let font = Font::faint(13.0);
        for k in [-1, 0, 1] {
            let y = self.y(surface, f64::from(k) * most);
            let style = if k == 0 {
                let dash = polar::MIDDLE_DASH;
                format!("stroke=\"{INK}\" stroke-width=\"1.2\" stroke-dasharray=\"{dash}\"")
            } else {
                format!("stroke=\"{GRID}\"")
            };
            let level = path(&[[LEFT, y], [LEFT + WIDTH, y]], false);
            sheet.put(format_args!("<path d=\"{level}\" {style}/>"));
            let [first, second] = scale_texts(self.scale.division, k * full, units);
            sheet.text(LEFT - 8.0, y + 5.0, Anchor::End, font, &first);
            sheet.text(LEFT + WIDTH + 8.0, y + 5.0, Anchor::Start, font, &second);
        }
        let bold = Font { bold: true, ..font };
        let name = crate::report::svg::capital(surface);
        let y = self.level(surface) - 0.5 * BAND + 5.0;
        sheet.text(MARGIN, y, Anchor::Start, bold, name);
        let (first, second) = if units.inch {
            ("thou", "mm")
        } else {
            ("mm", "thou")
        };
        sheet.text(LEFT - 8.0, y, Anchor::End, font, first);
        sheet.text(LEFT + WIDTH + 8.0, y, Anchor::Start, font, second);
    }

    /// A pad beside its surface, and the force per length along it as a stepped strip behind it.
    fn pressed(&self, sheet: &mut Sheet, surface: Surface, body: &Grip, units: Units) {
        let grip = body.along;
        let away = -surface.outward();
        let face = self.level(surface) + away * (BAND + 4.0);
        let back = face + away * PAD;
        let [from, to] = grip.reach.map(|z| self.x(z));
        let (left, right) = (from.min(to), from.max(to));
        sheet.put(format_args!(
            "<rect x=\"{left:.1}\" y=\"{:.1}\" width=\"{:.1}\" height=\"{PAD}\" fill=\"{BODY}\" stroke=\"{EDGE}\"/>",
            face.min(back),
            right - left
        ));
        let most = peak(grip);
        let mut outline = vec![[self.x(grip.reach[0]), back]];
        let piece = (grip.reach[1] - grip.reach[0]) / PIECES as f64;
        for (n, force) in pieces(grip).into_iter().enumerate() {
            let y = back + away * (FORCE - 10.0) * force / most;
            let ends = [n, n + 1].map(|k| self.x(grip.reach[0] + piece * k as f64));
            outline.extend(ends.map(|x| [x, y]));
        }
        outline.push([self.x(grip.reach[1]), back]);
        sheet.put(format_args!(
            "<path d=\"{}\" fill=\"{LOAD}\"/>",
            path(&outline, true)
        ));
        let words = format!("{}: up to {}", body.name(), units.force_per_length(most));
        let font = Font::plain(14.0);
        // beside it, towards the front, where there is room
        if right + 10.0 + font.width(&words) < LEFT + WIDTH {
            let y = back + away * 0.5 * (FORCE - 10.0) + 5.0;
            sheet.text(right + 10.0, y, Anchor::Start, font, &words);
        }
        // where it touches, on its face
        for stretch in &grip.touching {
            let ends = stretch.map(|z| [self.x(z), face]);
            sheet.put(format_args!(
                "<path d=\"{}\" stroke=\"#000000\" stroke-width=\"4\"/>",
                path(&ends, false)
            ));
        }
    }

    fn positions(&self, sheet: &mut Sheet, bottom: f64, units: Units) {
        let font = Font::faint(13.0);
        let axis = path(&[[LEFT, bottom], [LEFT + WIDTH, bottom]], false);
        sheet.put(format_args!("<path d=\"{axis}\" stroke=\"{FAINT}\"/>"));
        for (z, label) in self.tube.ticks(units) {
            let x = self.x(z);
            let tick = path(&[[x, bottom], [x, bottom + 5.0]], false);
            sheet.put(format_args!("<path d=\"{tick}\" stroke=\"{FAINT}\"/>"));
            sheet.text(x, bottom + 20.0, Anchor::Middle, font, &label);
        }
        let unit = if units.inch { "in" } else { "mm" };
        let bold = Font { bold: true, ..font };
        sheet.text(LEFT - 30.0, bottom + 20.0, Anchor::End, bold, unit);
    }

    fn caption(
        &self,
        sheet: &mut Sheet,
        top: f64,
        pressed: &[Option<Grip>; 2],
        units: Units,
    ) -> f64 {
        let exaggerated = (BAND / self.scale.most()) / (WIDTH / self.tube.tube.length);
        let held = match self.tube.step.cuts.is_empty() {
            true => "held",
            false => "held before the cut",
        };
        let force: String = pressed
            .iter()
            .flatten()
            .map(|body| {
                format!(
                    " Strip behind the pad: force per length of {}, over each twentieth of it, {} at most; black: where it touches.",
                    body.name(),
                    units.force_per_length(peak(body.along))
                )
            })
            .collect();
        let words = format!(
            "Dashed: {held}, how far the wall has moved from its stress-free shape (zero line). Solid: released, a surface that was cut \
             against what the tool was set to, any other against its stress-free shape. Outwards is up. Positions from {}; deviations drawn \u{d7}{} against the length.{force}",
            self.tube.origin,
            two_digits(exaggerated)
        );
        let font = Font::plain(14.0);
        sheet.lines(MARGIN, top, font, &wrap(&words, font, 0.9 * WIDE, 5), 19.0)
    }
}
