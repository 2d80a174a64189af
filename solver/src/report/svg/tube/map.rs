//! A surface unrolled: angle across, position upwards, deviation from the least-squares circle of each position in shades.
//!
//! The shades run from dark to light without a turn, so they are read on a grey print and by any eye.

use std::fmt::Write;

use super::{Grip, ROUND, Tube};
use crate::geometry::Surface;
use crate::process::{Contact, GripAlong, TubeState};
use crate::report::svg::capital;
use crate::report::svg::scale::Scale;
use crate::report::svg::shapes::EDGE;
use crate::report::svg::sheet::{Anchor, FAINT, Font, INK, Sheet, badge_width, path, wrap};
use crate::report::svg::view::View;
use crate::report::units::{MM_PER_INCH, Units, fixed};
use crate::report::vtk;

const LEFT: f64 = 84.0;
const WIDTH: f64 = 440.0;
const HEIGHT: f64 = 230.0;
/// Cells across and upwards.
const ACROSS: usize = 120;
const UP: usize = 36;
/// Least number of shades on either side of zero.
const SHADES: usize = 4;
/// Darkest, middle and lightest shade, red, green and blue: lows are dark.
const RAMP: [[f64; 3]; 3] = [
    [22.0, 44.0, 84.0],
    [128.0, 134.0, 138.0],
    [255.0, 238.0, 170.0],
];

/// A surface in a state, ready to be drawn.
pub(super) struct Map<'a> {
    tube: &'a Tube<'a>,
    state: &'a TubeState,
    surface: Surface,
    held: bool,
    view: View,
    scale: Scale,
    /// Deviations, one row a position of the state, mm.
    rows: Vec<Vec<f64>>,
    left: f64,
    top: f64,
}

impl<'a> Map<'a> {
    pub fn new(
        tube: &'a Tube<'a>,
        state: &'a TubeState,
        surface: Surface,
        view: View,
        units: Units,
    ) -> Self {
        let mut rows: Vec<Vec<f64>> = (0..state.z.len())
            .map(|row| vtk::deviations(state, surface, row))
            .collect();
        let most = rows.iter().flatten().fold(0.0_f64, |m, d| m.max(d.abs()));
        if most < ROUND {
            // rounding errors would make stripes
            rows.iter_mut().for_each(|r| r.fill(0.0));
        }
        Self {
            tube,
            state,
            surface,
            held: std::ptr::eq(state, tube.held),
            view,
            scale: Scale::covering(most, units),
            rows,
            left: 0.0,
            top: 0.0,
        }
    }

    fn x(&self, seen: f64) -> f64 {
        self.left + WIDTH * seen / 360.0
    }

    fn y(&self, z: f64) -> f64 {
        self.top + HEIGHT * (1.0 - self.tube.share(z))
    }

    /// Draws the map in the column that begins at `left`, below `top`, and returns where it ends.
    pub fn draw(mut self, sheet: &mut Sheet, (left, top): (f64, f64), units: Units) -> f64 {
        (self.left, self.top) = (left + LEFT, top + 72.0);
        self.heading(sheet, left + 30.0, top);
        self.shades(sheet);
        if self.held {
            for grip in self.tube.grips(self.surface) {
                self.pad(sheet, grip.contact, grip.along);
            }
            self.numbers(sheet);
        }
        self.axes(sheet, units);
        self.key(sheet, units);
        self.caption(sheet, left + 30.0, units)
    }

    fn heading(&self, sheet: &mut Sheet, left: f64, top: f64) {
        let state = match (self.held, self.tube.step.cuts.is_empty()) {
            (true, true) => "held",
            (true, false) => "held, before the cut",
            (false, _) => "released",
        };
        let words = format!(
            "{} unrolled, {state}: out-of-roundness along the length",
            capital(self.surface)
        );
        sheet.text(left, top + 14.0, Anchor::Start, Font::bold(15.0), &words);
        let words = format!(
            "Across: the part's angle, as above. Upwards: away from the {}.",
            self.tube.holder()
        );
        sheet.text(left, top + 33.0, Anchor::Start, Font::faint(13.0), &words);
    }

    /// Deviation at a part angle (degrees) and position, mm, linear between the points of the state.
    fn deviation(&self, degrees: f64, z: f64) -> f64 {
        let places = &self.state.z;
        let above = places
            .partition_point(|&p| p < z)
            .clamp(1, places.len() - 1);
        let (low, high) = (places[above - 1], places[above]);
        let t = if high > low {
            ((z - low) / (high - low)).clamp(0.0, 1.0)
        } else {
            0.0
        };
        let n = self.state.angles;
        let at = degrees.rem_euclid(360.0) / 360.0 * n as f64;
        let (k, s) = (at.floor() as usize % n, at - at.floor());
        let row = |r: &[f64]| r[k] + s * (r[(k + 1) % n] - r[k]);
        let (a, b) = (row(&self.rows[above - 1]), row(&self.rows[above]));
        a + t * (b - a)
    }

    /// Shades on either side of zero.
    fn half_count(&self) -> usize {
        let divisions = self.scale.divisions;
        divisions * SHADES.div_ceil(divisions)
    }

    /// Cells of one shade in one path, neighbours in a row joined.
    fn shades(&self, sheet: &mut Sheet) {
        let half = self.half_count();
        let mut paths = vec![String::new(); 2 * half];
        let (wide, high) = (WIDTH / ACROSS as f64, HEIGHT / UP as f64);
        for row in 0..UP {
            let share = 1.0 - (row as f64 + 0.5) / UP as f64;
            let share = if self.tube.tube.flipped {
                1.0 - share
            } else {
                share
            };
            let z = share * self.tube.tube.length;
            let shade = |column: usize| {
                let seen = 360.0 * (column as f64 + 0.5) / ACROSS as f64;
                let d = self.deviation(self.view.along(seen), z) / self.scale.most();
                (((d + 1.0) * half as f64).floor().max(0.0) as usize).min(2 * half - 1)
            };
            let mut from = 0;
            for column in 1..=ACROSS {
                let own = shade(from);
                if column < ACROSS && shade(column) == own {
                    continue;
                }
                let (x, y) = (self.left + wide * from as f64, self.top + high * row as f64);
                let long = wide * (column - from) as f64;
                // a little over the next row: no seam between them; writing into a string does not fail
                let _ = write!(
                    paths[own],
                    "M{x:.1} {y:.1}h{long:.1}v{:.1}h-{long:.1}z",
                    high + 0.3
                );
                from = column;
            }
        }
        for (k, cells) in paths.iter().enumerate().filter(|(_, p)| !p.is_empty()) {
            let colour = shade_of(k, 2 * half);
            sheet.put(format_args!(
                "<path d=\"{cells}\" fill=\"{colour}\" shape-rendering=\"crispEdges\"/>"
            ));
        }
    }

    /// What a pad may cover, dashed, and where it touches, in a heavy line; both on white.
    fn pad(&self, sheet: &mut Sheet, contact: &Contact, grip: &GripAlong) {
        if contact.half_angle_deg < 180.0 {
            let arc = [
                contact.angle_deg - contact.half_angle_deg,
                contact.angle_deg + contact.half_angle_deg,
            ];
            let dashed = format!("stroke=\"{INK}\" stroke-width=\"1.3\" stroke-dasharray=\"5 3\"");
            self.outline(sheet, arc, grip.reach, 3.0, &dashed);
        }
        for &arc in &contact.arcs {
            for &stretch in &grip.touching {
                let heavy =
                    format!("stroke=\"{INK}\" stroke-width=\"2.6\" stroke-linejoin=\"round\"");
                self.outline(sheet, arc, stretch, 5.0, &heavy);
            }
        }
    }

    /// The outline of an area between two part angles and two positions; at the zero mark it is cut in two.
    fn outline(&self, sheet: &mut Sheet, arc: [f64; 2], stretch: [f64; 2], halo: f64, style: &str) {
        let wide = (arc[1] - arc[0]).min(360.0);
        let middle = self.view.seen(0.5 * (arc[0] + arc[1]));
        let start = (middle - 0.5 * wide).rem_euclid(360.0);
        let [low, high] = stretch.map(|z| self.y(z));
        for (from, to) in [
            (start, (start + wide).min(360.0)),
            (0.0, start + wide - 360.0),
        ] {
            if to <= from {
                continue;
            }
            let corners = [
                [self.x(from), low],
                [self.x(to), low],
                [self.x(to), high],
                [self.x(from), high],
            ];
            let d = path(&corners, true);
            sheet.put(format_args!(
                "<path d=\"{d}\" fill=\"none\" stroke=\"#ffffff\" stroke-width=\"{halo}\"/><path d=\"{d}\" fill=\"none\" {style}/>"
            ));
        }
    }

    /// Numbers of the bodies above the map, those that find room.
    fn numbers(&self, sheet: &mut Sheet) {
        let numbered = |g: &Grip| !g.contact.round;
        for grip in self.tube.grips(self.surface).filter(numbered) {
            let x = self.x(self.view.unrolled(grip.contact.angle_deg));
            let half = 0.5 * badge_width(&grip.label);
            let x = x.clamp(self.left + half - 12.0, self.left + WIDTH + 12.0 - half);
            sheet.badge(x, self.top - 14.0, &grip.label);
        }
    }

    fn axes(&self, sheet: &mut Sheet, units: Units) {
        let bottom = self.top + HEIGHT;
        sheet.put(format_args!(
            "<rect x=\"{:.1}\" y=\"{:.1}\" width=\"{WIDTH}\" height=\"{HEIGHT}\" fill=\"none\" stroke=\"{EDGE}\"/>",
            self.left, self.top
        ));
        let font = Font::faint(13.0);
        for k in 0..=12 {
            let x = self.x(30.0 * f64::from(k));
            let tick = path(&[[x, bottom], [x, bottom + 5.0]], false);
            sheet.put(format_args!("<path d=\"{tick}\" stroke=\"{FAINT}\"/>"));
            if k % 2 == 0 {
                let part = self.view.along(30.0 * f64::from(k));
                let words = format!("{part:.0}\u{b0}");
                sheet.text(x, bottom + 20.0, Anchor::Middle, font, &words);
            }
        }
        for (z, label) in self.tube.ticks(units) {
            let y = self.y(z);
            let tick = path(&[[self.left - 5.0, y], [self.left, y]], false);
            sheet.put(format_args!("<path d=\"{tick}\" stroke=\"{FAINT}\"/>"));
            sheet.text(self.left - 9.0, y + 5.0, Anchor::End, font, &label);
        }
        let unit = if units.inch { "in" } else { "mm" };
        let bold = Font { bold: true, ..font };
        sheet.text(self.left - 22.0, bottom + 20.0, Anchor::End, bold, unit);
    }

    /// The shades and what they stand for.
    fn key(&self, sheet: &mut Sheet, units: Units) {
        let count = 2 * self.half_count();
        let (x, high) = (self.left + WIDTH + 14.0, HEIGHT / count as f64);
        for k in 0..count {
            let y = self.top + HEIGHT - high * (k + 1) as f64;
            sheet.put(format_args!(
                "<rect x=\"{x:.1}\" y=\"{y:.1}\" width=\"16\" height=\"{:.1}\" fill=\"{}\" shape-rendering=\"crispEdges\"/>",
                high + 0.3,
                shade_of(k, count)
            ));
        }
        sheet.put(format_args!(
            "<rect x=\"{x:.1}\" y=\"{:.1}\" width=\"16\" height=\"{HEIGHT}\" fill=\"none\" stroke=\"{EDGE}\"/>",
            self.top
        ));
        let (unit, name) = if units.inch {
            (MM_PER_INCH / 1000.0, "thou")
        } else {
            (1.0, "mm")
        };
        let divisions = self.scale.divisions as i32;
        let division = self.scale.division / unit;
        let places = (-(division * 1.000_001).log10().floor()).max(0.0) as usize;
        for k in -divisions..=divisions {
            let y = self.top + 0.5 * HEIGHT * (1.0 - f64::from(k) / f64::from(divisions));
            let words = fixed(f64::from(k) * division, places);
            let words = if k > 0 { format!("+{words}") } else { words };
            sheet.text(x + 21.0, y + 5.0, Anchor::Start, Font::faint(13.0), &words);
        }
        let font = Font {
            bold: true,
            ..Font::faint(13.0)
        };
        sheet.text(
            x + 21.0,
            self.top + HEIGHT + 24.0,
            Anchor::Start,
            font,
            name,
        );
    }

    fn caption(&self, sheet: &mut Sheet, left: f64, units: Units) -> f64 {
        let pads = match self.held && self.tube.grips(self.surface).next().is_some() {
            true => " Dashed: what a face may cover; heavy: the area within which it touches.",
            false => "",
        };
        let words = format!(
            "Light stands out, dark lies low, from the least-squares circle of each position; {} from one figure of the key to the next. Positions \
             from {}; angle and length are not to one scale.{pads}",
            units.small(self.scale.division),
            self.tube.origin
        );
        let font = Font::plain(14.0);
        let y = self.top + HEIGHT + 44.0;
        sheet.lines(left, y, font, &wrap(&words, font, 540.0, 6), 19.0)
    }
}

/// The colour of a shade, from 0, the darkest.
fn shade_of(k: usize, count: usize) -> String {
    let at = 2.0 * k as f64 / (count - 1).max(1) as f64;
    let (from, t) = if at < 1.0 { (0, at) } else { (1, at - 1.0) };
    let mix = |c: usize| (RAMP[from][c] + t * (RAMP[from + 1][c] - RAMP[from][c])).round() as u8;
    format!("#{:02x}{:02x}{:02x}", mix(0), mix(1), mix(2))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Brightness as a grey print shows it (weights of ITU-R BT.709) rises from shade to shade.
    #[test]
    fn shades_get_lighter_one_by_one() {
        for count in [4, 8, 16] {
            let grey = |k: usize| {
                let colour = shade_of(k, count);
                let part = |at: usize| {
                    u8::from_str_radix(&colour[at..at + 2], 16).map_or(f64::NAN, f64::from)
                };
                0.2126 * part(1) + 0.7152 * part(3) + 0.0722 * part(5)
            };
            for k in 1..count {
                assert!(grey(k) > grey(k - 1) + 8.0, "{k} of {count}");
            }
        }
    }
}
