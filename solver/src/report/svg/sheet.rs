//! The page: what is drawn, and where text stands, so that nothing is written over anything else.

use std::fmt::{Arguments, Write};

pub(super) const INK: &str = "#1a1a1a";
pub(super) const FAINT: &str = "#5f5f5f";

/// Farthest that a drawn curve may leave the true one, pixels: a fortieth of a stroke's width.
const SLACK: f64 = 0.05;

/// How a text looks.
#[derive(Clone, Copy)]
pub(super) struct Font {
    pub size: f64,
    pub colour: &'static str,
    pub bold: bool,
}

impl Font {
    pub const fn plain(size: f64) -> Self {
        Self {
            size,
            colour: INK,
            bold: false,
        }
    }

    pub const fn bold(size: f64) -> Self {
        Self {
            size,
            colour: INK,
            bold: true,
        }
    }

    pub const fn faint(size: f64) -> Self {
        Self {
            size,
            colour: FAINT,
            bold: false,
        }
    }

    /// Width of a text, pixels, from the letters of DejaVu Sans: it is the widest face of the drawing's list, so a text that
    /// fits by this fits in the others.
    pub fn width(self, words: &str) -> f64 {
        let ems: f64 = words.chars().map(em).sum();
        ems * self.size * if self.bold { 1.1 } else { 1.0 }
    }
}

/// Width of a character over the size of the type.
fn em(c: char) -> f64 {
    match c {
        'i' | 'j' | 'l' | 'I' | '|' | '!' | '\'' | '.' | ',' | ':' | ';' | ' ' => 0.34,
        'f' | 't' | 'r' | '(' | ')' | '[' | ']' | '/' | '\\' | '-' => 0.42,
        'm' | 'w' | 'M' | 'W' | '@' | '%' | '\u{2026}' => 0.99,
        '+' | '\u{b1}' | '\u{d7}' | '=' | '<' | '>' => 0.84,
        'A'..='Z' => 0.75,
        // scripts written in full squares, and pictures
        c if c >= '\u{1100}' => 1.3,
        c if c > '\u{2ff}' => 0.9,
        _ => 0.64,
    }
}

#[derive(Clone, Copy, PartialEq)]
pub(super) enum Anchor {
    Start,
    Middle,
    End,
}

impl Anchor {
    const fn name(self) -> &'static str {
        match self {
            Anchor::Start => "start",
            Anchor::Middle => "middle",
            Anchor::End => "end",
        }
    }
}

/// Left, top, right, bottom, pixels.
type Area = [f64; 4];

/// What has been drawn, and the areas that text takes.
pub(super) struct Sheet {
    out: String,
    taken: Vec<Area>,
}

impl Sheet {
    pub fn new() -> Self {
        Self {
            out: String::with_capacity(1 << 16),
            taken: Vec::new(),
        }
    }

    /// An element of the drawing, on a line of its own.
    pub fn put(&mut self, element: Arguments<'_>) {
        // writing into a string does not fail
        let _ = self.out.write_fmt(element);
        self.out.push('\n');
    }

    /// A text with the foot of its letters at `y`.
    pub fn text(&mut self, x: f64, y: f64, anchor: Anchor, font: Font, words: &str) {
        let wide = font.width(words);
        let left = match anchor {
            Anchor::Start => x,
            Anchor::Middle => x - 0.5 * wide,
            Anchor::End => x - wide,
        };
        self.taken
            .push([left, y - 0.8 * font.size, left + wide, y + 0.25 * font.size]);
        let weight = if font.bold {
            " font-weight=\"bold\""
        } else {
            ""
        };
        self.put(format_args!(
            "<text x=\"{x:.1}\" y=\"{y:.1}\" text-anchor=\"{}\" font-size=\"{:.0}\" fill=\"{}\"{weight}>{}</text>",
            anchor.name(),
            font.size,
            font.colour,
            escape(words)
        ));
    }

    /// Lines of text one under the other, from the left; returns the foot of the line that would follow.
    pub fn lines(&mut self, x: f64, y: f64, font: Font, lines: &[String], apart: f64) -> f64 {
        let mut y = y;
        for line in lines {
            self.text(x, y, Anchor::Start, font, line);
            y += apart;
        }
        y
    }

    /// A body's number in a disc about a place, legible on any ground; left out where a text stands already. Returns whether it was
    /// put down.
    pub fn badge(&mut self, x: f64, y: f64, label: &str) -> bool {
        let half = badge_width(label) / 2.0;
        let area = [x - half, y - 10.0, x + half, y + 10.0];
        if label.is_empty() || self.taken.iter().any(|t| overlap(*t, area)) {
            return false;
        }
        self.put(format_args!(
            "<rect x=\"{:.1}\" y=\"{:.1}\" width=\"{:.1}\" height=\"20\" rx=\"10\" fill=\"#ffffff\" stroke=\"#7a7468\"/>",
            x - half,
            y - 10.0,
            2.0 * half
        ));
        self.text(x, y + 5.0, Anchor::Middle, Font::bold(14.0), label);
        self.taken.pop();
        self.taken.push(area);
        true
    }

    pub fn into_text(self) -> String {
        self.out
    }
}

pub(super) fn badge_width(label: &str) -> f64 {
    Font::bold(14.0).width(label) + 12.0
}

fn overlap(a: Area, b: Area) -> bool {
    a[0] < b[2] && b[0] < a[2] && a[1] < b[3] && b[1] < a[3]
}

/// Words in lines of at most `wide` pixels; what goes beyond `most` lines is cut off with an ellipsis.
pub(super) fn wrap(words: &str, font: Font, wide: f64, most: usize) -> Vec<String> {
    let mut lines = vec![String::new()];
    for word in words.split_whitespace() {
        // one line too many says that there is more
        if lines.len() > most {
            break;
        }
        let line = lines.last().map_or("", String::as_str);
        let longer = if line.is_empty() {
            word.to_owned()
        } else {
            format!("{line} {word}")
        };
        if font.width(&longer) <= wide || line.is_empty() {
            lines.pop();
            lines.push(longer);
        } else {
            lines.push(word.to_owned());
        }
    }
    let cut = lines.len() > most;
    lines.truncate(most);
    let last = lines.len();
    for (k, line) in lines.iter_mut().enumerate() {
        *line = shorten(line, font, wide, cut && k + 1 == last);
    }
    lines
}

/// As much of a line as fits; an ellipsis at the end if something is left out here or after it.
fn shorten(line: &str, font: Font, wide: f64, goes_on: bool) -> String {
    if font.width(line) <= wide && !goes_on {
        return line.to_owned();
    }
    let mut room = wide - font.width("\u{2026}");
    let fits = |c: &char| {
        room -= font.width(c.encode_utf8(&mut [0; 4]));
        room >= 0.0
    };
    let mut short: String = line.chars().take_while(fits).collect();
    short.push('\u{2026}');
    short
}

/// The commands of a path through points, without those that a straight line through the rest passes within [`SLACK`]: tenths of
/// a pixel, each from the one before.
pub(super) fn path(points: &[[f64; 2]], closed: bool) -> String {
    let mut text = String::new();
    let mut before = [0_i64; 2];
    for (k, point) in thinned(points).into_iter().enumerate() {
        let now = point.map(|v| (10.0 * v).round() as i64);
        text.push(if k == 0 { 'M' } else { 'l' });
        push_tenths(&mut text, now[0] - before[0]);
        text.push(' ');
        push_tenths(&mut text, now[1] - before[1]);
        before = now;
    }
    if closed {
        text.push('Z');
    }
    text
}

/// Appends so many tenths as a decimal, without a zero that may be left out. By hand: a drawing has thousands.
fn push_tenths(text: &mut String, value: i64) {
    if value < 0 {
        text.push('-');
    }
    let (whole, part) = (value.unsigned_abs() / 10, value.unsigned_abs() % 10);
    if whole > 0 || part == 0 {
        push_whole(text, whole);
    }
    if part > 0 {
        text.push('.');
        push_whole(text, part);
    }
}

fn push_whole(text: &mut String, value: u64) {
    if value >= 10 {
        push_whole(text, value / 10);
    }
    text.push(char::from(b'0' + (value % 10) as u8));
}

/// Both ends, and between two kept points the one farthest from their line while that is beyond the slack.
fn thinned(points: &[[f64; 2]]) -> Vec<[f64; 2]> {
    let n = points.len();
    if n < 3 {
        return points.to_vec();
    }
    let mut kept = vec![false; n];
    // a curve that closes has no line between its ends: the middle is kept too
    let middle = n / 2;
    kept[0] = true;
    kept[middle] = true;
    kept[n - 1] = true;
    let mut spans = vec![[0, middle], [middle, n - 1]];
    while let Some([from, to]) = spans.pop() {
        let line = Line::through(points[from], points[to]);
        let farthest = (from + 1..to)
            .map(|k| (k, line.distance(points[k])))
            .fold((from, SLACK), |far, d| if d.1 > far.1 { d } else { far });
        if farthest.0 > from {
            kept[farthest.0] = true;
            spans.push([from, farthest.0]);
            spans.push([farthest.0, to]);
        }
    }
    points
        .iter()
        .zip(kept)
        .filter_map(|(p, keep)| keep.then_some(*p))
        .collect()
}

/// The line through two points.
struct Line {
    from: [f64; 2],
    to: [f64; 2],
    length: f64,
}

impl Line {
    fn through(a: [f64; 2], b: [f64; 2]) -> Self {
        let to = [b[0] - a[0], b[1] - a[1]];
        Self {
            from: a,
            to,
            length: to[0].hypot(to[1]),
        }
    }

    /// How far a point is from it; from its first point if the two coincide.
    fn distance(&self, p: [f64; 2]) -> f64 {
        let (px, py) = (p[0] - self.from[0], p[1] - self.from[1]);
        if self.length == 0.0 {
            px.hypot(py)
        } else {
            (self.to[0] * py - self.to[1] * px).abs() / self.length
        }
    }
}

/// Text safe inside XML: the five special characters as entities, characters that XML 1.0 forbids replaced.
pub(super) fn escape(words: &str) -> String {
    let mut safe = String::with_capacity(words.len());
    for c in words.chars() {
        match c {
            '&' => safe.push_str("&amp;"),
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '"' => safe.push_str("&quot;"),
            '\'' => safe.push_str("&#39;"),
            '\t' | '\n' | '\r' => safe.push(' '),
            c if c < ' ' || c == '\u{fffe}' || c == '\u{ffff}' => safe.push('\u{fffd}'),
            c => safe.push(c),
        }
    }
    safe
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn tenths_leave_out_zeros() {
        for (value, words) in [
            (0, "0"),
            (3, ".3"),
            (-3, "-.3"),
            (20, "2"),
            (-1234, "-123.4"),
            (10_005, "1000.5"),
        ] {
            let mut text = String::new();
            push_tenths(&mut text, value);
            assert_eq!(text, words);
        }
    }

    /// What a path leaves out lies within the slack, whatever the curve.
    #[test]
    fn thinned_curves_stay_where_they_were() {
        let points: Vec<[f64; 2]> = (0..3600)
            .map(|k| {
                let t = std::f64::consts::TAU * f64::from(k) / 3600.0;
                let r = 150.0 + 40.0 * (12.0 * t).cos() + (50.0 * t).sin();
                [300.0 + r * t.cos(), 300.0 - r * t.sin()]
            })
            .collect();
        let text = path(&points, true);
        assert!(text.len() < 20_000, "{}", text.len());
        let mut at = [0.0_f64; 2];
        let kept: Vec<[f64; 2]> = text
            .trim_end_matches('Z')
            .split(['M', 'l'])
            .skip(1)
            .map(|step| {
                let mut parts = step.split(' ').map(|v| v.parse::<f64>().unwrap());
                at = at.map(|v| v + parts.next().unwrap());
                at
            })
            .collect();
        for p in &points {
            let off = kept
                .windows(2)
                .map(|w| from_line(*p, w[0], w[1]))
                .fold(f64::INFINITY, f64::min);
            // the slack, and half a tenth of rounding either way
            assert!(off < 0.05 + 0.08, "{off}");
        }
    }

    /// Distance of a point from a line between two others, its ends included.
    fn from_line(p: [f64; 2], a: [f64; 2], b: [f64; 2]) -> f64 {
        let d = [b[0] - a[0], b[1] - a[1]];
        let along = ((p[0] - a[0]) * d[0] + (p[1] - a[1]) * d[1]) / (d[0] * d[0] + d[1] * d[1]);
        let along = along.clamp(0.0, 1.0);
        (p[0] - a[0] - along * d[0]).hypot(p[1] - a[1] - along * d[1])
    }
}
