//! Marked points, told apart by their shape.

use super::sheet::{Sheet, path};

const YIELD: &str = "#b00020";

/// A triangle that points along a direction, degrees counter-clockwise from the right, with its middle on a place.
pub(super) fn triangle(sheet: &mut Sheet, at: [f64; 2], degrees: f64, colour: &str) {
    let corner = |turn: f64, size: f64| {
        let (s, c) = (degrees + turn).to_radians().sin_cos();
        [at[0] + size * c, at[1] - size * s]
    };
    let outline = [corner(0.0, 8.5), corner(130.0, 7.0), corner(-130.0, 7.0)];
    sheet.put(format_args!(
        "<path d=\"{}\" fill=\"{colour}\" stroke=\"#ffffff\"/>",
        path(&outline, true)
    ));
}

/// A cross: where the part yields.
pub(super) fn cross(sheet: &mut Sheet, at: [f64; 2]) {
    let [x, y] = at;
    let stroke = |dy: f64| path(&[[x - 7.0, y - dy], [x + 7.0, y + dy]], false);
    let strokes = stroke(7.0) + &stroke(-7.0);
    sheet.put(format_args!(
        "<path d=\"{strokes}\" stroke=\"#ffffff\" stroke-width=\"6\"/><path d=\"{strokes}\" stroke=\"{YIELD}\" stroke-width=\"3.5\"/>"
    ));
}
