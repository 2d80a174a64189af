//! Nodal displacement fields as plain numbers: sums, differences, one list of all components.

/// Adds a field to another.
pub(super) fn plus(a: &mut [[f64; 2]], b: &[[f64; 2]]) {
    for (a, b) in a.iter_mut().zip(b) {
        a[0] += b[0];
        a[1] += b[1];
    }
}

/// All components, node by node.
pub(super) fn flat(pairs: &[[f64; 2]]) -> Vec<f64> {
    pairs.iter().flatten().copied().collect()
}

/// The same back as a field.
pub(super) fn pairs(flat: &[f64]) -> Vec<[f64; 2]> {
    flat.chunks_exact(2).map(|p| [p[0], p[1]]).collect()
}

/// Largest change of a component from one field to another, in their unit.
pub(super) fn largest_change(a: &[[f64; 2]], b: &[[f64; 2]]) -> f64 {
    let size = |(x, y): (&[f64; 2], &[f64; 2])| (x[0] - y[0]).abs().max((x[1] - y[1]).abs());
    a.iter().zip(b).map(size).fold(0.0, f64::max)
}
