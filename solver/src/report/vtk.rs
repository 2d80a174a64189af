//! VTK files: `.vtu` of a mesh or a state, and the `.pvd` that lists the states. The only module that touches `vtkio`.
//!
//! Cells are VTK type 23 (quadratic quadrilateral; "VTK File Formats", Kitware): corners counter-clockwise, then the
//! middles of the sides in the same order, as [`Mesh::element_nodes`] gives them. Points are the mesh, so the
//! stress-free shape; vectors have three components with z = 0 because readers cannot warp by fewer.

mod tube;

use std::f64::consts::TAU;
use std::io;

use vtkio::model::{
    Attribute, Attributes, ByteOrder, CellType, Cells, DataSet, UnstructuredGridPiece, Version,
    VertexNumbers, Vtk,
};
use vtkio::xml::Compressor;

use crate::element::von_mises;
use crate::geometry::{SampledOutline, Surface};
use crate::mesh::Mesh;
use crate::metrology::{Profile, least_squares_circle};
use crate::process::{FieldState, PROFILE_POINTS};
pub(super) use tube::deviations;
pub use tube::{write_meridian, write_tube};

/// zlib's level; 0 writes plain base64. A state of 5,500 nodes took 5 ms and 1.09 MB plain, 9 ms and 0.63 MB at level 1,
/// 24 ms and 0.57 MB at level 6 (`timing` below measures it again): fields are nearly incompressible, and writing them
/// must not cost as much as solving.
const COMPRESSION: u32 = 0;

/// Writes the mesh alone, for review: point arrays `boundary_outer`, `boundary_bore` (1 on that surface), cell
/// arrays `column` (round the ring) and `layer` (through the wall, 0 at the bore).
///
/// # Errors
/// What `out` says.
pub fn write_mesh(mesh: &Mesh, out: &mut dyn io::Write) -> io::Result<()> {
    let point = boundary_arrays(mesh);
    let number = |f: fn(usize, usize) -> usize| {
        (0..mesh.elements())
            .map(|e| f(e, mesh.through()) as i32)
            .collect::<Vec<_>>()
    };
    let cell = vec![
        Attribute::scalars("column", 1).with_data(number(|e, n| e / n)),
        Attribute::scalars("layer", 1).with_data(number(|e, n| e % n)),
    ];
    write(mesh, Attributes { point, cell }, out)
}

/// The two surfaces by name, so that nobody has to find them by radius: 1 at the nodes of each, 0 elsewhere.
fn boundary_arrays(mesh: &Mesh) -> Vec<Attribute> {
    Surface::BOTH
        .into_iter()
        .map(|surface| {
            let mut flags = vec![0_i32; mesh.nodes()];
            for node in mesh.boundary(surface) {
                flags[node] = 1;
            }
            Attribute::scalars(format!("boundary_{}", surface.name()), 1).with_data(flags)
        })
        .collect()
}

/// Writes one state: point arrays `displacement_mm`, `deviation_mm` (3 components each), `stress_mpa` (xx, yy, zz,
/// xy, yz, xz), `von_mises_mpa`, and `boundary_outer`, `boundary_bore` (1 on that surface). `deviation` is what
/// [`deviation`] gives.
///
/// # Errors
/// What `out` says.
pub fn write_state(
    state: &FieldState,
    deviation: &[[f64; 3]],
    out: &mut dyn io::Write,
) -> io::Result<()> {
    write(
        &state.mesh,
        Attributes {
            point: state_arrays(state, deviation),
            cell: Vec::new(),
        },
        out,
    )
}

fn state_arrays(state: &FieldState, deviation: &[[f64; 3]]) -> Vec<Attribute> {
    let displacement: Vec<f64> = state
        .displacement
        .iter()
        .flat_map(|u| [u[0], u[1], 0.0])
        .collect();
    let stress: Vec<f64> = state
        .stress
        .iter()
        .flat_map(|s| [s[0], s[1], 0.0, s[2], 0.0, 0.0])
        .collect();
    let mises: Vec<f64> = state.stress.iter().map(|s| von_mises(*s)).collect();
    let mut arrays = vec![
        Attribute::vectors("displacement_mm").with_data(displacement),
        Attribute::generic("deviation_mm", 3).with_data(deviation.as_flattened().to_vec()),
        Attribute::generic("stress_mpa", 6).with_data(stress),
        Attribute::scalars("von_mises_mpa", 1).with_data(mises),
    ];
    arrays.extend(boundary_arrays(&state.mesh));
    arrays
}

/// Radial deviation of the moved surfaces from their own least-squares circles, mm, as a vector along each node's
/// reference direction, linear through the wall from the bore to the outside. Warping by it shows the lobes.
///
/// A surface point counts as its radius plus its radial displacement at the reference angle, as in every held and
/// released shape. The circle is fitted to the surface sampled at equal angles on the elements' own curves, so a
/// graded mesh does not pull it. A slit mesh is closed over its slit.
pub fn deviation(state: &FieldState) -> Vec<[f64; 3]> {
    let mesh = &state.mesh;
    let lines = mesh.angles().len();
    let at = |surface: Surface| -> Vec<f64> {
        let radii: Vec<f64> = mesh
            .boundary(surface)
            .into_iter()
            .map(|n| {
                let (x, u) = (mesh.coords()[n], state.displacement[n]);
                let r = x[0].hypot(x[1]);
                r + (x[0] * u[0] + x[1] * u[1]) / r
            })
            .collect();
        let closed = lines - lines % 2;
        let curve = SampledOutline::new(mesh.angles()[..closed].to_vec(), radii[..closed].to_vec());
        let sampled: Vec<f64> = (0..PROFILE_POINTS)
            .map(|k| curve.radius(TAU * k as f64 / PROFILE_POINTS as f64))
            .collect();
        let circle = least_squares_circle(&Profile::equal(&sampled));
        mesh.angles()
            .iter()
            .zip(&radii)
            .map(|(&t, &r)| {
                let (s, c) = t.sin_cos();
                (r * c - circle.centre[0]).hypot(r * s - circle.centre[1]) - circle.radius
            })
            .collect()
    };
    let (outer, bore) = (at(Surface::Outer), at(Surface::Bore));
    let mut vectors = vec![[0.0; 3]; mesh.nodes()];
    for (i, &t) in mesh.angles().iter().enumerate() {
        let (s, c) = t.sin_cos();
        let step = if i % 2 == 0 { 1 } else { 2 };
        for (j, &x) in mesh.layers().iter().enumerate().step_by(step) {
            let d = bore[i] + x * (outer[i] - bore[i]);
            vectors[mesh.node(i, j)] = [d * c, d * s, 0.0];
        }
    }
    vectors
}

fn write(mesh: &Mesh, data: Attributes, mut out: &mut dyn io::Write) -> io::Result<()> {
    encode(mesh, data, COMPRESSION, &mut out).map_err(io::Error::other)
}

fn encode(
    mesh: &Mesh,
    data: Attributes,
    compression: u32,
    out: &mut impl io::Write,
) -> Result<(), vtkio::Error> {
    let points: Vec<f64> = mesh
        .coords()
        .iter()
        .flat_map(|p| [p[0], p[1], 0.0])
        .collect();
    let connectivity = mesh.connectivity().flatten().map(|n| n as u64).collect();
    let cells = Alike {
        kind: CellType::QuadraticQuad,
        nodes: 8,
        connectivity,
    };
    encode_cells(points, cells, data, compression, out)
}

/// Cells of one kind: so many nodes each.
struct Alike {
    kind: CellType,
    nodes: usize,
    connectivity: Vec<u64>,
}

fn encode_cells(
    points: Vec<f64>,
    cells: Alike,
    data: Attributes,
    compression: u32,
    out: &mut impl io::Write,
) -> Result<(), vtkio::Error> {
    let count = cells.connectivity.len() / cells.nodes;
    let piece = UnstructuredGridPiece {
        points: points.into(),
        cells: Cells {
            cell_verts: VertexNumbers::XML {
                connectivity: cells.connectivity,
                offsets: (1..=count).map(|e| (cells.nodes * e) as u64).collect(),
            },
            types: vec![cells.kind; count],
        },
        data,
    };
    let file = Vtk {
        version: Version::new_xml(1, 0),
        title: String::new(),
        byte_order: ByteOrder::LittleEndian,
        data: DataSet::inline(piece),
        file_path: None,
    };
    file.try_into_xml_format(Compressor::ZLib, compression)?
        .write(out)?;
    Ok(())
}

/// The `.pvd` collection that names the files of the states in order; pseudo-time is the running index. Its names are
/// the program's own, so nothing in them needs escaping.
pub fn collection(names: &[String]) -> String {
    let mut text = String::from(
        "<?xml version=\"1.0\"?>\n<VTKFile type=\"Collection\" version=\"1.0\" byte_order=\"LittleEndian\">\n  <Collection>\n",
    );
    for (index, name) in names.iter().enumerate() {
        text.push_str(&format!(
            "    <DataSet timestep=\"{index}\" group=\"\" part=\"0\" file=\"{name}\"/>\n"
        ));
    }
    text.push_str("  </Collection>\n</VTKFile>\n");
    text
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::super::sample::{LOBE, sample_outcome};
    use super::*;
    use std::path::Path;
    use vtkio::model::{DataArrayBase, Piece};

    pub(super) fn read_back(path: &Path) -> UnstructuredGridPiece {
        match Vtk::import(path).unwrap().data {
            DataSet::UnstructuredGrid { mut pieces, .. } => match pieces.remove(0) {
                Piece::Inline(piece) => *piece,
                _ => panic!("not inline"),
            },
            _ => panic!("not an unstructured grid"),
        }
    }

    pub(super) fn array(attributes: &[Attribute], wanted: &str) -> Vec<f64> {
        attributes
            .iter()
            .find_map(|a| match a {
                Attribute::DataArray(DataArrayBase { name, data, .. }) if name == wanted => {
                    Some(data.cast_into::<f64>().unwrap())
                }
                _ => None,
            })
            .unwrap_or_else(|| panic!("no array {wanted}"))
    }

    #[test]
    fn a_state_reads_back_bit_by_bit() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("state.vtu");
        let state = &sample_outcome().steps[0].fields[0];
        let deviation = deviation(state);
        write_state(
            state,
            &deviation,
            &mut std::fs::File::create(&path).unwrap(),
        )
        .unwrap();
        let piece = read_back(&path);
        assert!(
            piece
                .cells
                .types
                .iter()
                .all(|&t| t == CellType::QuadraticQuad)
        );
        let points = piece.points.cast_into::<f64>().unwrap();
        let u = array(&piece.data.point, "displacement_mm");
        let s = array(&piece.data.point, "stress_mpa");
        assert_eq!(points.len(), 3 * state.mesh.nodes());
        for (n, p) in state.mesh.coords().iter().enumerate() {
            assert_eq!(points[3 * n..3 * n + 3], [p[0], p[1], 0.0]);
            let v = state.displacement[n];
            assert_eq!(u[3 * n..3 * n + 3], [v[0], v[1], 0.0]);
            let t = state.stress[n];
            assert_eq!(s[6 * n..6 * n + 6], [t[0], t[1], 0.0, t[2], 0.0, 0.0]);
        }
        assert_eq!(
            array(&piece.data.point, "deviation_mm"),
            deviation.as_flattened()
        );
        assert_eq!(
            array(&piece.data.point, "von_mises_mpa").len(),
            state.mesh.nodes()
        );
    }

    #[test]
    fn the_deviation_shows_the_lobes_and_not_where_the_ring_is() {
        let mut state = sample_outcome().steps[0].fields[0].clone();
        for u in &mut state.displacement {
            u[0] += 0.01;
            u[1] -= 0.02;
        }
        let d = deviation(&state);
        for surface in Surface::BOTH {
            for n in state.mesh.boundary(surface) {
                let p = state.mesh.coords()[n];
                let t = p[1].atan2(p[0]);
                let radial = d[n][0] * t.cos() + d[n][1] * t.sin();
                // a shift e seen from the old centre is off by e^2 / 2 r
                assert!((radial + LOBE * (3.0 * t).cos()).abs() < 1e-4 * LOBE + 5e-6);
            }
        }
    }

    #[test]
    fn boundaries_are_named_in_a_mesh_file() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("mesh.vtu");
        let mesh = &sample_outcome().steps[0].fields[0].mesh.clone();
        write_mesh(mesh, &mut std::fs::File::create(&path).unwrap()).unwrap();
        let piece = read_back(&path);
        let sum = |name| array(&piece.data.point, name).iter().sum::<f64>();
        assert_eq!(sum("boundary_outer"), 96.0);
        assert_eq!(sum("boundary_bore"), 96.0);
        assert_eq!(array(&piece.data.cell, "column")[3], 1.0);
        assert_eq!(array(&piece.data.cell, "layer")[3], 1.0);
    }

    #[test]
    fn von_mises_of_plain_states() {
        assert_eq!(von_mises([100.0, 0.0, 0.0]), 100.0);
        assert!((von_mises([0.0, 0.0, 10.0]) - 10.0 * 3f64.sqrt()).abs() < 1e-12);
        assert_eq!(von_mises([50.0, 50.0, 0.0]), 50.0);
    }

    /// Run by hand: `cargo test --release -p ringwright-solver report::vtk -- --ignored --nocapture`.
    #[test]
    #[ignore = "a measurement, not a check"]
    #[allow(clippy::print_stdout)]
    fn timing() {
        let ends: Vec<f64> = (0..500).map(|k| TAU * f64::from(k) / 500.0).collect();
        let mut state = sample_outcome().steps[0].fields[0].clone();
        let outlines = crate::geometry::PerSurface {
            outer: crate::geometry::Outline::round(60.0),
            bore: crate::geometry::Outline::round(57.0),
        };
        let mesh = Mesh::build(&outlines, &ends, &[0.0, 0.3, 0.7, 1.0], true).unwrap();
        state.displacement = mesh
            .coords()
            .iter()
            .map(|p| [(0.37 * p[0]).sin() * 0.01, (p[0] * p[1]).cos() * 0.01])
            .collect();
        state.stress = mesh
            .coords()
            .iter()
            .map(|p| [p[0].sin() * 30.0, p[1].cos() * 20.0, p[0] * p[1] * 1e-3])
            .collect();
        state.mesh = std::sync::Arc::new(mesh);
        let start = std::time::Instant::now();
        let d = deviation(&state);
        println!(
            "{} nodes, deviation {:?}",
            state.mesh.nodes(),
            start.elapsed()
        );
        for level in [0, 1, 3, 6] {
            let start = std::time::Instant::now();
            let size = (0..10)
                .map(|_| {
                    let data = Attributes {
                        point: state_arrays(&state, &d),
                        cell: Vec::new(),
                    };
                    let mut bytes = Vec::new();
                    encode(&state.mesh, data, level, &mut bytes).unwrap();
                    bytes.len()
                })
                .max();
            println!(
                "level {level}: {:?} a file, {size:?} bytes",
                start.elapsed() / 10
            );
        }
        let outcome = sample_outcome();
        let start = std::time::Instant::now();
        let size = super::super::csv::profiles(&outcome).unwrap().len();
        println!("profiles.csv {:?}, {size} bytes", start.elapsed());
    }
}
