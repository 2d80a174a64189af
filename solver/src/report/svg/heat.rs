//! A figure over two inputs, as a map of coloured cells.

use super::sheet::{Anchor, Font, INK, Sheet, wrap};
use super::{MARGIN, WIDE, page};
use crate::report::units::Units;

/// A map of a length over two inputs.
#[derive(Clone, Debug)]
pub struct Heat<'a> {
    /// What stands over it.
    pub title: &'a str,
    /// What the cells show.
    pub of: &'a str,
    /// Name and values along the page, and up it.
    pub across: (&'a str, &'a [String]),
    /// See `across`.
    pub up: (&'a str, &'a [String]),
    /// mm, row by row from the bottom, each from the left; `None` where there is no answer.
    pub cells: &'a [Option<f64>],
    /// Which of them are in tolerance and not found unsafe; empty where there is none.
    pub good: &'a [bool],
}

/// Colours from the least to the largest: the viridis map of matplotlib at nine equal steps (from memory), which a grey print shows as dark to light.
const COLOURS: [[f64; 3]; 9] = [
    [68.0, 1.0, 84.0],
    [71.0, 44.0, 122.0],
    [59.0, 81.0, 139.0],
    [44.0, 113.0, 142.0],
    [33.0, 144.0, 141.0],
    [39.0, 173.0, 129.0],
    [92.0, 200.0, 99.0],
    [170.0, 220.0, 50.0],
    [253.0, 231.0, 37.0],
];

/// Room left of the map and to its right, and its height, pixels.
const LEFT: f64 = 150.0;
const RIGHT: f64 = 260.0;
const TALL: f64 = 560.0;

/// Most values written along a side.
const MOST_NAMES: usize = 12;

/// The colour of a share from 0 to 1.
fn colour(share: f64) -> String {
    let at = share.clamp(0.0, 1.0) * (COLOURS.len() - 1) as f64;
    let k = (at.floor() as usize).min(COLOURS.len() - 2);
    let mix = |c: usize| {
        let [a, b] = [COLOURS[k][c], COLOURS[k + 1][c]];
        (a + (b - a) * (at - k as f64)).round() as u8
    };
    format!("#{:02x}{:02x}{:02x}", mix(0), mix(1), mix(2))
}

/// The map as a whole SVG document.
pub fn heat(map: &Heat, units: Units) -> String {
    let mut sheet = Sheet::new();
    let bold = Font::bold(24.0);
    let top = sheet.lines(MARGIN, 42.0, bold, &wrap(map.title, bold, WIDE, 2), 30.0);
    let plain = Font::plain(15.0);
    let mut note = format!("{}. Cells with a cross have no answer", map.of);
    if !map.good.is_empty() {
        note += "; those with a frame are in tolerance and not found unsafe";
    }
    let top = sheet.lines(
        MARGIN,
        top,
        plain,
        &wrap(&(note + "."), plain, WIDE, 3),
        21.0,
    ) + 16.0;
    let (columns, rows) = (map.across.1.len(), map.up.1.len());
    let (wide, tall) = ((WIDE - LEFT - RIGHT) / columns as f64, TALL / rows as f64);
    let found = || map.cells.iter().flatten();
    let least = found().copied().fold(f64::INFINITY, f64::min);
    let most = found().copied().fold(0.0, f64::max);
    let range = (most - least).max(f64::MIN_POSITIVE);
    let left = MARGIN + LEFT;
    for (k, cell) in map.cells.iter().enumerate() {
        let x = left + wide * (k % columns) as f64;
        let y = top + TALL - tall * (k / columns + 1) as f64;
        match cell {
            Some(value) => sheet.put(format_args!(
                "<rect x=\"{x:.1}\" y=\"{y:.1}\" width=\"{wide:.2}\" height=\"{tall:.2}\" fill=\"{}\"/>",
                colour((value - least) / range)
            )),
            None => sheet.put(format_args!(
                "<path d=\"M{x:.1} {y:.1}l{wide:.2} {tall:.2}m0 -{tall:.2}l-{wide:.2} {tall:.2}\" stroke=\"{INK}\" fill=\"none\"/>"
            )),
        }
    }
    let good = map.good.iter().enumerate().filter(|(_, good)| **good);
    for (k, _) in good {
        let x = left + wide * (k % columns) as f64 + 1.5;
        let y = top + TALL - tall * (k / columns + 1) as f64 + 1.5;
        sheet.put(format_args!(
            "<rect x=\"{x:.1}\" y=\"{y:.1}\" width=\"{:.2}\" height=\"{:.2}\" fill=\"none\" stroke=\"#ffffff\" stroke-width=\"2\"/>",
            wide - 3.0,
            tall - 3.0
        ));
    }
    sides(&mut sheet, map, [left, top], [wide, tall]);
    bar(
        &mut sheet,
        [left + WIDE - LEFT - RIGHT + 40.0, top],
        [least, most],
        units,
    );
    let about = format!(
        "{}: least {}, most {}.",
        map.of,
        units.small(least),
        units.small(most)
    );
    page(map.title, &about, top + TALL + 100.0, &sheet.into_text())
}

/// Values and names along both sides.
fn sides(sheet: &mut Sheet, map: &Heat, [left, top]: [f64; 2], [wide, tall]: [f64; 2]) {
    let small = Font::plain(13.0);
    let every = |n: usize| n.div_ceil(MOST_NAMES);
    let (across, up) = (map.across.1, map.up.1);
    for (k, value) in across.iter().enumerate().step_by(every(across.len())) {
        let x = left + wide * (k as f64 + 0.5);
        sheet.text(x, top + TALL + 20.0, Anchor::Middle, small, value);
    }
    for (k, value) in up.iter().enumerate().step_by(every(up.len())) {
        let y = top + TALL - tall * (k as f64 + 0.5) + 4.0;
        sheet.text(left - 8.0, y, Anchor::End, small, value);
    }
    let name = Font::bold(15.0);
    sheet.text(
        left,
        top + TALL + 48.0,
        Anchor::Start,
        name,
        &format!("across: {}", map.across.0),
    );
    sheet.text(
        left,
        top + TALL + 72.0,
        Anchor::Start,
        name,
        &format!("up: {}", map.up.0),
    );
}

/// What the colours stand for.
fn bar(sheet: &mut Sheet, [x, top]: [f64; 2], [least, most]: [f64; 2], units: Units) {
    let steps = 64;
    let tall = TALL / f64::from(steps);
    for k in 0..steps {
        let y = top + TALL - tall * f64::from(k + 1);
        sheet.put(format_args!(
            "<rect x=\"{x:.1}\" y=\"{y:.2}\" width=\"24\" height=\"{:.2}\" fill=\"{}\"/>",
            tall + 0.3,
            colour((f64::from(k) + 0.5) / f64::from(steps))
        ));
    }
    let font = Font::plain(13.0);
    for k in 0..=4 {
        let share = f64::from(k) / 4.0;
        let words = units.small(least + share * (most - least));
        let y = top + TALL * (1.0 - share) + 4.0;
        sheet.text(x + 32.0, y, Anchor::Start, font, &words);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_cell_is_drawn_once() {
        let values: Vec<String> = ["1", "2", "3"].map(str::to_owned).to_vec();
        let map = Heat {
            title: "Forces",
            of: "Roundness after release",
            across: ("force", &values),
            up: ("bored", &values[..2]),
            cells: &[Some(0.01), None, Some(0.03), Some(0.02), Some(0.02), None],
            good: &[true, false, false, false, false, false],
        };
        let drawn = heat(&map, Units::default());
        assert_eq!(drawn.matches("stroke=\"#ffffff\"").count(), 1);
        // the page, four cells, a frame and the bar
        assert_eq!(drawn.matches("<rect").count(), 1 + 4 + 1 + 64);
        assert!(
            drawn.contains("#440154") && drawn.contains("#fde725"),
            "{drawn}"
        );
    }
}
