//! `.msh`: a mesh with named boundaries for programs that read the MSH format, version 2.2 as text ("MSH file format version 2", Gmsh Reference Manual).
//!
//! Lines of three nodes (type 8) are the sides of elements that lie on a surface, quadrilaterals of eight (type 16) the part; corners come first, then
//! the middles of the sides in the same order, as [`Mesh::element_nodes`] gives them. What a surface is called is its physical group.

use std::collections::BTreeMap;
use std::io::{self, Write};

use crate::geometry::{PerSurface, Surface};
use crate::mesh::Mesh;
use crate::process::MeridianField;

/// Types of elements.
const LINE: u8 = 8;
const QUADRILATERAL: u8 = 16;

/// Number of the group that is the part; those of the surfaces are 1 and 2.
const PART: usize = 3;

/// Two corners and the middle of each side of an element.
const SIDES: [[usize; 3]; 4] = [[0, 1, 4], [1, 2, 5], [2, 3, 6], [3, 0, 7]];

/// Writes the mesh of a section: groups `outer`, `bore` and `part`. Coordinates x, y, 0, mm.
///
/// # Errors
/// What `out` says.
pub fn write_mesh(mesh: &Mesh, out: &mut dyn Write) -> io::Result<()> {
    let elements: Vec<_> = mesh.connectivity().collect();
    let surfaces = PerSurface::from_fn(|s| mesh.boundary(s));
    write(mesh.coords(), &elements, &surfaces, out)
}

/// Writes the mesh of a tube in the plane through its axis, x the radius and y the position along the axis, mm: groups as [`write_mesh`].
///
/// # Errors
/// What `out` says.
pub fn write_meridian(field: &MeridianField, out: &mut dyn Write) -> io::Result<()> {
    write(&field.nodes, &field.elements, &field.boundary, out)
}

fn write(
    nodes: &[[f64; 2]],
    elements: &[[usize; 8]],
    surfaces: &PerSurface<Vec<usize>>,
    out: &mut dyn Write,
) -> io::Result<()> {
    writeln!(
        out,
        "$MeshFormat\n2.2 0 8\n$EndMeshFormat\n$PhysicalNames\n3"
    )?;
    for (group, surface) in (1..).zip(Surface::BOTH) {
        writeln!(out, "1 {group} \"{}\"", surface.name())?;
    }
    writeln!(
        out,
        "2 {PART} \"part\"\n$EndPhysicalNames\n$Nodes\n{}",
        nodes.len()
    )?;
    for (n, [x, y]) in (1..).zip(nodes) {
        writeln!(out, "{n} {x:?} {y:?} 0")?;
    }
    let lines = PerSurface::from_fn(|s| sides_on(surfaces.get(s), nodes.len(), elements));
    let count = elements.len()
        + Surface::BOTH
            .map(|s| lines.get(s).len())
            .iter()
            .sum::<usize>();
    writeln!(out, "$EndNodes\n$Elements\n{count}")?;
    let mut number = 0;
    let mut element = |kind: u8, group: usize, nodes: &[usize]| -> io::Result<()> {
        number += 1;
        write!(out, "{number} {kind} 2 {group} {group}")?;
        for n in nodes {
            write!(out, " {}", n + 1)?;
        }
        writeln!(out)
    };
    for (group, surface) in (1..).zip(Surface::BOTH) {
        for line in lines.get(surface) {
            element(LINE, group, line)?;
        }
    }
    for nodes in elements {
        element(QUADRILATERAL, PART, nodes)?;
    }
    writeln!(out, "$EndElements")
}

/// Sides that belong to one element alone and have all of their nodes on a surface, in the order of the elements.
fn sides_on(surface: &[usize], nodes: usize, elements: &[[usize; 8]]) -> Vec<[usize; 3]> {
    let mut on = vec![false; nodes];
    surface.iter().for_each(|&n| on[n] = true);
    let sides = || {
        let all = elements
            .iter()
            .flat_map(|e| SIDES.map(|side| side.map(|k| e[k])));
        all.filter(|side| side.iter().all(|&n| on[n]))
    };
    // two elements share no more than a side, and that has a middle of its own
    let mut used: BTreeMap<usize, u8> = BTreeMap::new();
    for [_, _, middle] in sides() {
        *used.entry(middle).or_default() += 1;
    }
    sides().filter(|[_, _, middle]| used[middle] == 1).collect()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    /// A square of two elements of which three sides are named: what stands between them is no boundary though its nodes are named too.
    ///
    /// Truth: analytical.
    #[test]
    fn a_side_between_elements_is_no_boundary() {
        let x = |k: usize| {
            [
                0.0, 1.0, 2.0, 0.0, 1.0, 2.0, 0.5, 1.5, 2.0, 0.5, 1.5, 0.0, 1.0,
            ][k]
        };
        let y = |k: usize| {
            [
                0.0, 0.0, 0.0, 1.0, 1.0, 1.0, 0.0, 0.0, 0.5, 1.0, 1.0, 0.5, 0.5,
            ][k]
        };
        let nodes: Vec<[f64; 2]> = (0..13).map(|k| [x(k), y(k)]).collect();
        let elements = [[0, 1, 4, 3, 6, 12, 9, 11], [1, 2, 5, 4, 7, 8, 10, 12]];
        let surfaces = PerSurface {
            outer: vec![3, 9, 4, 10, 5, 12, 1],
            bore: vec![0, 6, 1, 7, 2],
        };
        let mut out = Vec::new();
        write(&nodes, &elements, &surfaces, &mut out).unwrap();
        let text = String::from_utf8(out).unwrap();
        let (_, listed) = text.split_once("$Elements\n6\n").unwrap();
        let lines: Vec<&str> = listed.lines().collect();
        assert_eq!(
            lines,
            [
                "1 8 2 1 1 5 4 10",
                "2 8 2 1 1 6 5 11",
                "3 8 2 2 2 1 2 7",
                "4 8 2 2 2 2 3 8",
                "5 16 2 3 3 1 2 5 4 7 13 10 12",
                "6 16 2 3 3 2 3 6 5 8 9 11 13",
                "$EndElements"
            ]
        );
        assert!(text.starts_with("$MeshFormat\n2.2 0 8\n$EndMeshFormat\n"));
        assert!(text.contains("\n1 1 \"outer\"\n1 2 \"bore\"\n2 3 \"part\"\n"));
    }
}
