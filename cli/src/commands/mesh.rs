//! `mesh`: the mesh alone, for review.

use std::path::Path;

use ringwright_solver::process;
use ringwright_solver::report::files::OneFile;
use ringwright_solver::report::{msh, vtk};
use ringwright_solver::scheme::Registry;

use super::{load, solve};
use crate::Exit;
use crate::args::{Common, MeshArgs};
use crate::failure::Outcome;
use crate::outputs;
use crate::render::json;
use crate::screen::Screen;

/// What is written, by the ending of the file's name.
#[derive(Clone, Copy)]
enum Format {
    Vtk,
    Msh,
}

impl Format {
    fn of(file: &Path) -> Self {
        match file
            .extension()
            .is_some_and(|e| e.eq_ignore_ascii_case("msh"))
        {
            true => Self::Msh,
            false => Self::Vtk,
        }
    }

    /// What tells a file of the format.
    const fn mark(self) -> &'static str {
        match self {
            Self::Vtk => "<VTKFile",
            Self::Msh => "$MeshFormat",
        }
    }

    /// How it names the surfaces.
    const fn names(self) -> &'static str {
        match self {
            Self::Vtk => "point arrays boundary_outer and boundary_bore name the surfaces",
            Self::Msh => "physical groups outer and bore are the surfaces, part the elements",
        }
    }
}

pub(crate) fn run(
    args: &MeshArgs,
    common: &Common,
    registry: &Registry,
    screen: &mut Screen,
) -> Outcome {
    let (case, source) = load(&args.case, registry)?;
    let format = Format::of(&args.out);
    let inputs = outputs::inputs(&args.case.file, &case);
    let file = OneFile::open(&args.out, &inputs, format.mark())?;
    let along = solve(common, &source, |watcher| {
        process::starting_meridian(&case, watcher)
    })?;
    if let Some(mesh) = along {
        file.write(|out| match format {
            Format::Vtk => vtk::write_meridian(&mesh, out),
            Format::Msh => msh::write_meridian(&mesh, out),
        })?;
        if screen.json {
            screen.answer(&json::meridian(&args.out, &mesh));
        }
        screen.say(&format!(
            "{} elements in the plane through the axis (x is the radius, y the position along the part), {} nodes; {}\n{}\n",
            mesh.elements.len(),
            mesh.nodes.len(),
            format.names(),
            args.out.display()
        ));
        return Ok(Exit::Done);
    }
    let mesh = solve(common, &source, |watcher| {
        process::starting_mesh(&case, watcher)
    })?;
    file.write(|out| match format {
        Format::Vtk => vtk::write_mesh(&mesh, out),
        Format::Msh => msh::write_mesh(&mesh, out),
    })?;
    if screen.json {
        screen.answer(&json::mesh(&args.out, &mesh));
    }
    screen.say(&format!(
        "{} elements round by {} through, {} nodes; {}\n{}\n",
        mesh.around(),
        mesh.through(),
        mesh.nodes(),
        format.names(),
        args.out.display()
    ));
    Ok(Exit::Done)
}
