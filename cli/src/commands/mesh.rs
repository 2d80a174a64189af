//! `mesh`: the mesh alone, for review.

use ringwright_solver::process;
use ringwright_solver::report::files::OneFile;
use ringwright_solver::report::vtk;
use ringwright_solver::scheme::Registry;

use super::{case_or_exit, not_written, refuse, with_threads};
use crate::Exit;
use crate::args::{Common, MeshArgs};
use crate::outputs;
use crate::render::json;
use crate::screen::Screen;

pub(crate) fn run(
    args: &MeshArgs,
    common: &Common,
    registry: &Registry,
    screen: &mut Screen,
) -> Exit {
    let (case, source) = match case_or_exit(&args.case, registry, screen) {
        Ok(loaded) => loaded,
        Err(exit) => return exit,
    };
    let file = match OneFile::open(&args.out, &outputs::inputs(&args.case, &case)) {
        Ok(file) => file,
        Err(error) => return not_written(&error, screen),
    };
    let mesh = match with_threads(common.threads, screen, || process::starting_mesh(&case)) {
        Ok(Ok(mesh)) => mesh,
        Ok(Err(error)) => return refuse(&error, &source, screen),
        Err(exit) => return exit,
    };
    if let Err(error) = file.write(|out| vtk::write_mesh(&mesh, out)) {
        return not_written(&error, screen);
    }
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
    Exit::Done
}
