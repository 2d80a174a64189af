//! `mesh`: the mesh alone, for review.

use ringwright_solver::process;
use ringwright_solver::report::files::OneFile;
use ringwright_solver::report::vtk;
use ringwright_solver::scheme::Registry;

use super::{load, solve};
use crate::Exit;
use crate::args::{Common, MeshArgs};
use crate::failure::Outcome;
use crate::outputs;
use crate::render::json;
use crate::screen::Screen;

pub(crate) fn run(
    args: &MeshArgs,
    common: &Common,
    registry: &Registry,
    screen: &mut Screen,
) -> Outcome {
    let (case, source) = load(&args.case, registry)?;
    let file = OneFile::open(
        &args.out,
        &outputs::inputs(&args.case.file, &case),
        "<VTKFile",
    )?;
    let along = solve(common, &source, |watcher| {
        process::starting_meridian(&case, watcher)
    })?;
    if let Some(mesh) = along {
        file.write(|out| vtk::write_meridian(&mesh, out))?;
        if screen.json {
            screen.answer(&json::meridian(&args.out, &mesh));
        }
        screen.say(&format!(
            "{} elements in the plane through the axis (x is the radius, y the position along the part), {} nodes; point arrays boundary_outer and \
             boundary_bore name the surfaces\n{}\n",
            mesh.elements.len(),
            mesh.nodes.len(),
            args.out.display()
        ));
        return Ok(Exit::Done);
    }
    let mesh = solve(common, &source, |watcher| {
        process::starting_mesh(&case, watcher)
    })?;
    file.write(|out| vtk::write_mesh(&mesh, out))?;
    if screen.json {
        screen.answer(&json::mesh(&args.out, &mesh));
    }
    screen.say(&format!(
        "{} elements round by {} through, {} nodes; point arrays boundary_outer and boundary_bore name the surfaces\n{}\n",
        mesh.around(),
        mesh.through(),
        mesh.nodes(),
        args.out.display()
    ));
    Ok(Exit::Done)
}
