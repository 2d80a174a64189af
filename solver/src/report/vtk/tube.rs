//! A tube: its surfaces in space, closed all round, and its mesh in the plane through the axis.

use std::f64::consts::TAU;
use std::io;

use vtkio::model::{Attribute, Attributes, CellType};

use super::{Alike, COMPRESSION, encode_cells};
use crate::geometry::Surface;
use crate::metrology::{Profile, least_squares_circle};
use crate::process::{MeridianField, TubeState};

/// What the cell array `surface` calls outside, bore and end faces.
const OUTSIDE: i32 = 0;
const BORE: i32 = 1;
const ENDS: i32 = 2;

/// A surface within this of the axis is a point, mm.
const NO_RADIUS: f64 = 1e-9;

/// Writes the surfaces of a tube in one state: quadrilaterals (VTK type 9) over outside, bore and both end faces, seen from outside
/// counter-clockwise. Points are the stress-free shape, the axis along z (mm); point arrays `displacement_mm` and `deviation_mm` (of each
/// surface from its least-squares circle at each position), cell array `surface` (0 outside, 1 bore, 2 ends).
///
/// # Errors
/// What `out` says.
pub fn write_tube(state: &TubeState, mut out: &mut dyn io::Write) -> io::Result<()> {
    let turns: Vec<[f64; 2]> = (0..state.angles)
        .map(|k| {
            let (s, c) = (TAU * k as f64 / state.angles as f64).sin_cos();
            [c, s]
        })
        .collect();
    let (mut points, mut displacement, mut deviation) = (Vec::new(), Vec::new(), Vec::new());
    for surface in Surface::BOTH {
        let (reference, moved) = (
            state.reference.get(surface),
            state.displacement.get(surface),
        );
        for (row, &z) in state.z.iter().enumerate() {
            let off = deviations(state, surface, row);
            for (k, &[c, s]) in turns.iter().enumerate() {
                let at = row * state.angles + k;
                let [radial, axial, tangential] = moved[at];
                let r = reference[at];
                points.extend([r * c, r * s, z]);
                displacement.extend([
                    radial * c - tangential * s,
                    radial * s + tangential * c,
                    axial,
                ]);
                deviation.extend([off[k] * c, off[k] * s, 0.0]);
            }
        }
    }
    let (connectivity, surface) = quads(state.z.len(), state.angles);
    let data = Attributes {
        point: vec![
            Attribute::vectors("displacement_mm").with_data(displacement),
            Attribute::generic("deviation_mm", 3).with_data(deviation),
        ],
        cell: vec![Attribute::scalars("surface", 1).with_data(surface)],
    };
    let cells = Alike {
        kind: CellType::Quad,
        nodes: 4,
        connectivity,
    };
    encode_cells(points, cells, data, COMPRESSION, &mut out).map_err(io::Error::other)
}

/// Radial deviation of the moved surface from its own least-squares circle at a position (by its number), mm.
pub(in crate::report) fn deviations(
    state: &TubeState,
    surface: Surface,
    position: usize,
) -> Vec<f64> {
    let row = position * state.angles..(position + 1) * state.angles;
    // the middle of a floor has no circle
    if state.reference.get(surface)[row]
        .iter()
        .all(|r| r.abs() < NO_RADIUS)
    {
        return vec![0.0; state.angles];
    }
    let radii: Vec<f64> = (0..state.angles)
        .map(|k| state.radius(surface, position, k))
        .collect();
    let circle = least_squares_circle(&Profile::equal(&radii));
    let from_centre = |k: usize, r: f64| {
        let (s, c) = (TAU * k as f64 / radii.len() as f64).sin_cos();
        (r * c - circle.centre[0]).hypot(r * s - circle.centre[1]) - circle.radius
    };
    radii
        .iter()
        .enumerate()
        .map(|(k, &r)| from_centre(k, r))
        .collect()
}

/// The quadrilaterals of two grids of rows of points and of the two rings between their first and last rows, and which surface each is of.
fn quads(rows: usize, angles: usize) -> (Vec<u64>, Vec<i32>) {
    let (mut connectivity, mut surfaces) = (Vec::new(), Vec::new());
    let point = |bore: bool, row: usize, k: usize| {
        let first = if bore { rows * angles } else { 0 };
        (first + row * angles + k % angles) as u64
    };
    let mut put = |quad: [u64; 4], surface: i32| {
        connectivity.extend(quad);
        surfaces.push(surface);
    };
    for row in 1..rows {
        for k in 0..angles {
            let outside = [(row - 1, k), (row - 1, k + 1), (row, k + 1), (row, k)];
            put(outside.map(|(r, k)| point(false, r, k)), OUTSIDE);
        }
    }
    for row in 1..rows {
        for k in 0..angles {
            let bore = [(row - 1, k), (row, k), (row, k + 1), (row - 1, k + 1)];
            put(bore.map(|(r, k)| point(true, r, k)), BORE);
        }
    }
    for k in 0..angles {
        let low = [(true, k), (true, k + 1), (false, k + 1), (false, k)];
        put(low.map(|(bore, k)| point(bore, 0, k)), ENDS);
    }
    for k in 0..angles {
        let high = [(false, k), (false, k + 1), (true, k + 1), (true, k)];
        put(high.map(|(bore, k)| point(bore, rows - 1, k)), ENDS);
    }
    (connectivity, surfaces)
}

/// Writes the fields of a tube in the plane through its axis at one angle: eight-node quadrilaterals (VTK type 23) with x the radius and y
/// the position along the axis (mm), z the direction round it. Point arrays `displacement_mm`, `stress_mpa` (xx, yy, zz, xy, yz, xz in these
/// axes, so zz is the hoop stress), `von_mises_mpa`, and `boundary_outer`, `boundary_bore` (1 on that surface); cell array `angle_deg`, the same everywhere.
///
/// # Errors
/// What `out` says.
pub fn write_meridian(field: &MeridianField, mut out: &mut dyn io::Write) -> io::Result<()> {
    let points: Vec<f64> = field.nodes.iter().flat_map(|p| [p[0], p[1], 0.0]).collect();
    let displacement: Vec<f64> = field.displacement.as_flattened().to_vec();
    let stress: Vec<f64> = field
        .stress
        .iter()
        .flat_map(|&[rr, zz, hoop, rz, r_theta, z_theta]| [rr, zz, hoop, rz, z_theta, r_theta])
        .collect();
    let mises: Vec<f64> = field.stress.iter().map(von_mises).collect();
    let connectivity: Vec<u64> = field
        .elements
        .as_flattened()
        .iter()
        .map(|&n| n as u64)
        .collect();
    let angle = vec![field.angle_deg; field.elements.len()];
    let mut point = vec![
        Attribute::vectors("displacement_mm").with_data(displacement),
        Attribute::generic("stress_mpa", 6).with_data(stress),
        Attribute::scalars("von_mises_mpa", 1).with_data(mises),
    ];
    point.extend(Surface::BOTH.map(|surface| {
        let mut flags = vec![0_i32; field.nodes.len()];
        field
            .boundary
            .get(surface)
            .iter()
            .for_each(|&n| flags[n] = 1);
        Attribute::scalars(format!("boundary_{}", surface.name()), 1).with_data(flags)
    }));
    let data = Attributes {
        point,
        cell: vec![Attribute::scalars("angle_deg", 1).with_data(angle)],
    };
    let cells = Alike {
        kind: CellType::QuadraticQuad,
        nodes: 8,
        connectivity,
    };
    encode_cells(points, cells, data, COMPRESSION, &mut out).map_err(io::Error::other)
}

/// Von Mises stress of three normal and three shear stresses.
fn von_mises(&[a, b, c, ab, ac, bc]: &[f64; 6]) -> f64 {
    let normal = (a - b).powi(2) + (b - c).powi(2) + (c - a).powi(2);
    (0.5 * normal + 3.0 * (ab * ab + ac * ac + bc * bc)).sqrt()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::super::tests::{array, read_back};
    use super::*;
    use crate::report::sample::LOBE;
    use crate::report::sample::tube::{fading, tube_outcome};
    use std::collections::BTreeMap;
    use vtkio::model::VertexNumbers;

    fn written(fill: impl FnOnce(&mut std::fs::File)) -> vtkio::model::UnstructuredGridPiece {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("state.vtu");
        fill(&mut std::fs::File::create(&path).unwrap());
        read_back(&path)
    }

    fn cells(piece: &vtkio::model::UnstructuredGridPiece, nodes: usize) -> Vec<Vec<usize>> {
        let VertexNumbers::XML { connectivity, .. } = &piece.cells.cell_verts else {
            panic!("not XML")
        };
        connectivity
            .chunks(nodes)
            .map(|c| c.iter().map(|&n| n as usize).collect())
            .collect()
    }

    #[test]
    fn the_surface_of_a_tube_reads_back_and_is_closed() {
        let outcome = tube_outcome();
        let state = &outcome.steps[0].tube.as_ref().unwrap().states[0];
        let piece = written(|out| write_tube(state, out).unwrap());
        assert!(piece.cells.types.iter().all(|&t| t == CellType::Quad));
        let points = piece.points.cast_into::<f64>().unwrap();
        let u = array(&piece.data.point, "displacement_mm");
        let d = array(&piece.data.point, "deviation_mm");
        let rows = state.z.len() * state.angles;
        assert_eq!(points.len(), 3 * 2 * rows);
        for (n, p) in points.chunks(3).enumerate() {
            let (surface, at) = match n < rows {
                true => (Surface::Outer, n),
                false => (Surface::Bore, n - rows),
            };
            let r = p[0].hypot(p[1]);
            assert!((r - state.reference.get(surface)[at]).abs() < 1e-12);
            let t = p[1].atan2(p[0]);
            let [radial, axial, tangential] = state.displacement.get(surface)[at];
            let (c, s) = (t.cos(), t.sin());
            assert!((u[3 * n] * c + u[3 * n + 1] * s - radial).abs() < 1e-12);
            assert!((u[3 * n + 1] * c - u[3 * n] * s - tangential).abs() < 1e-12);
            assert_eq!(u[3 * n + 2], axial);
            let lobes = -LOBE * fading(p[2]) * (3.0 * t).cos();
            assert!((d[3 * n] * c + d[3 * n + 1] * s - lobes).abs() < 1e-9);
            assert_eq!(d[3 * n + 2], 0.0);
        }
        closed_and_outward(&cells(&piece, 4), &points);
        let surface = array(&piece.data.cell, "surface");
        let count = |of: f64| surface.iter().filter(|&&s| s == of).count();
        let grid = (state.z.len() - 1) * state.angles;
        assert_eq!(
            [count(0.0), count(1.0), count(2.0)],
            [grid, grid, 2 * state.angles]
        );
    }

    /// Every edge has a cell on either side that runs along it the other way, and the volume inside is that of the tube.
    fn closed_and_outward(cells: &[Vec<usize>], points: &[f64]) {
        let mut edges: BTreeMap<(usize, usize), i32> = BTreeMap::new();
        let p = |n: usize| [points[3 * n], points[3 * n + 1], points[3 * n + 2]];
        let mut volume = 0.0;
        for cell in cells {
            for k in 0..4 {
                let (a, b) = (cell[k], cell[(k + 1) % 4]);
                *edges.entry((a, b)).or_default() += 1;
                *edges.entry((b, a)).or_default() -= 1;
            }
            for [a, b, c] in [[0, 1, 2], [0, 2, 3]].map(|t| t.map(|k| p(cell[k]))) {
                let normal = [
                    b[1] * c[2] - b[2] * c[1],
                    b[2] * c[0] - b[0] * c[2],
                    b[0] * c[1] - b[1] * c[0],
                ];
                volume += (a[0] * normal[0] + a[1] * normal[1] + a[2] * normal[2]) / 6.0;
            }
        }
        assert!(edges.values().all(|&n| n == 0));
        let exact = std::f64::consts::PI * (60.0 * 60.0 - 57.0 * 57.0) * 60.0;
        assert!((volume / exact - 1.0).abs() < 2e-3, "{volume} {exact}");
    }

    #[test]
    fn the_plane_through_the_axis_reads_back() {
        let outcome = tube_outcome();
        let field = &outcome.steps[0].tube.as_ref().unwrap().fields[0];
        let piece = written(|out| write_meridian(field, out).unwrap());
        assert_eq!(piece.cells.types, [CellType::QuadraticQuad]);
        assert_eq!(cells(&piece, 8), [field.elements[0].to_vec()]);
        let points = piece.points.cast_into::<f64>().unwrap();
        for (p, n) in points.chunks(3).zip(&field.nodes) {
            assert_eq!(p, [n[0], n[1], 0.0]);
        }
        let u = array(&piece.data.point, "displacement_mm");
        assert_eq!(u[..3], field.displacement[0]);
        // rr, zz, hoop, rz, then z-theta before r-theta: yz before xz
        let s = array(&piece.data.point, "stress_mpa");
        assert_eq!(s[..6], [1.0, 2.0, 30.0, 4.0, 6.0, 5.0]);
        let shear: f64 = 16.0 + 25.0 + 36.0;
        let mises = (0.5_f64 * (1.0 + 28.0 * 28.0 + 29.0 * 29.0) + 3.0 * shear).sqrt();
        assert!((array(&piece.data.point, "von_mises_mpa")[0] - mises).abs() < 1e-12);
        assert_eq!(array(&piece.data.cell, "angle_deg"), [60.0]);
    }
}
