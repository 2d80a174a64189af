//! Inside the process: one row a code path, through the public interface of the solver. Wall time, which on a busy machine is more
//! than CPU time.

use std::fmt::Display;
use std::hint::black_box;
use std::io::{self, Error, Write};
use std::sync::Arc;
use std::time::Instant;

use ringwright_benches::{Job, LIBRARY_WORK_SECONDS, SIZES, Size};
use ringwright_plugins::outside::{Limits, Programs};
use ringwright_solver::case::{self, Case};
use ringwright_solver::contact::{Clamp, unwatched};
use ringwright_solver::element::PlaneStress;
use ringwright_solver::geometry::Surface;
use ringwright_solver::linear::{Analysis, Cholesky, Factor, Stiffness, Substructured};
use ringwright_solver::mesh::Mesh;
use ringwright_solver::process::{self, KeepFields, Options};
use ringwright_solver::watch::Unwatched;

use crate::whole::{REPEATS, median};

/// Median seconds of some work, and what it made last.
pub fn time<T, E: Display>(mut work: impl FnMut() -> Result<T, E>) -> io::Result<(f64, T)> {
    let mut seconds = Vec::new();
    loop {
        let start = Instant::now();
        let made = black_box(work()).map_err(|e| Error::other(e.to_string()))?;
        seconds.push(start.elapsed().as_secs_f64());
        if seconds.len() == REPEATS {
            return Ok((median(seconds), made));
        }
    }
}

fn read(job: Job, size: Size) -> io::Result<Case> {
    case::read(&job.case(Some(size)), &ringwright_plugins::registry())
        .map_err(|problems| Error::other(format!("{problems:?}")))
}

/// Three unknowns that fix a ring: a node of the bore, and across of it one direction.
fn constraints(mesh: &Mesh) -> [[usize; 2]; 3] {
    let bore = mesh.boundary(Surface::Bore);
    let across = bore[bore.len() / 2];
    [[bore[0], 0], [bore[0], 1], [across, 1]]
}

/// Holds the part of a case on a mesh; gives the force of the first body.
fn clamp(case: &Case, mesh: &Mesh, factor: &dyn Factor) -> Result<f64, String> {
    let section = case.part.section();
    let supports = case.holds[0]
        .members
        .iter()
        .map(|m| m.scheme.supports(&section, &m.values))
        .collect::<Result<Vec<_>, _>>()
        .map_err(|e| e.to_string())?;
    let outlines = case.part.outlines();
    let surface = |s: Surface, t: f64| outlines.get(s).radius(t);
    let hold = Clamp::new(&supports, 1.0, section, &surface).map_err(|e| e.to_string())?;
    let held = hold
        .clamp(factor, mesh, &surface, None, None, &unwatched)
        .map_err(|e| e.to_string())?;
    Ok(held.force(0))
}

/// How often a scheme is asked in one timing; once is too short for the clock.
const ASKED: usize = 1000;

/// Microseconds that each built-in scheme takes to say what it puts against the part of its own example.
fn supports(out: &mut dyn Write) -> io::Result<()> {
    writeln!(
        out,
        "\n## What a scheme costs\n\nMicroseconds to say its bodies and loads (wanted: a few).\n\n| scheme | |\n| --- | --- |"
    )?;
    for scheme in ringwright_plugins::built_in() {
        let case = case::read(scheme.example(), &ringwright_plugins::registry())
            .map_err(|problems| Error::other(format!("{problems:?}")))?;
        let section = case.part.section();
        let members = case.holds.iter().flat_map(|h| &h.members);
        for member in members.filter(|m| m.scheme.name() == scheme.name()) {
            let (seconds, ()) = time(|| {
                (0..ASKED).try_for_each(|_| {
                    let values = black_box(&member.values);
                    scheme
                        .supports(&section, values)
                        .map(|s| drop(black_box(s)))
                })
            })?;
            let each = 1e6 * seconds / ASKED as f64;
            writeln!(out, "| {} | {each:.2} |", scheme.name())?;
        }
    }
    outside(out)
}

/// Microseconds of a scheme by an outside program: its start, and one call. No two calls ask the same, which would be answered
/// from memory.
fn outside(out: &mut dyn Write) -> io::Result<()> {
    let file = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/../plugins/examples/outside/six_patches.py"
    );
    let commands = [format!("python3 '{file}'")];
    let limits = Limits::new(Arc::new(|_: &str| {}));
    let registry = ringwright_plugins::registry();
    let (start_s, programs) = time(|| Programs::start(&commands, &limits, &registry))?;
    let scheme = programs
        .schemes()
        .next()
        .ok_or_else(|| Error::other("the program has no scheme"))?;
    let case = case::read(scheme.example(), &registry.add(Arc::clone(&scheme)))
        .map_err(|problems| Error::other(format!("{problems:?}")))?;
    let values = &case.holds[0].members[0].values;
    let mut section = case.part.section();
    let (calls_s, ()) = time(|| {
        (0..ASKED).try_for_each(|_| {
            section.length += 1e-3;
            scheme
                .supports(&section, values)
                .map(|s| drop(black_box(s)))
        })
    })?;
    let (start, call) = (1e6 * start_s, 1e6 * calls_s / ASKED as f64);
    writeln!(
        out,
        "| a Python program, its start (once a run) | {start:.0} |\n| a Python program, one call (wanted: below 1000) | {call:.1} |"
    )
}

/// Writes the table of code paths.
pub fn table(sizes: &[Size], out: &mut dyn Write) -> io::Result<()> {
    let ms = |s: f64| format!("{:.2}", 1e3 * s);
    let mut rows: Vec<(&str, Vec<String>)> = [
        "mesh of J1, case checked",
        "analysis (order, pattern, symbolic factor)",
        "assemble",
        "factor, sparse, once analysed",
        "refactor, sparse",
        "factor, by substructuring (round rings)",
        "contact of J1b, substructuring",
        "contact of J1c, sparse",
        "whole of J1, in process",
        "whole of J1c, in process",
        "whole of J3, in process",
        "the library, assembly and solution of J1",
        "ratio of J1 (wanted: 4 at 360x4)",
    ]
    .into_iter()
    .map(|name| (name, Vec::new()))
    .collect();
    for &size in sizes {
        let j1 = read(Job::J1, size)?;
        let law = PlaneStress {
            young_modulus: j1.part.material.young_modulus,
            poisson_ratio: j1.part.material.poisson_ratio,
            thickness: j1.part.length,
        };
        let (mesh_s, mesh) = time(|| process::starting_mesh(&j1, &Unwatched))?;
        let stiffness = Stiffness {
            mesh: &mesh,
            law: &law,
        };
        let (analysis_s, analysis) = time(|| Ok::<_, Error>(Analysis::new(mesh.topology())))?;
        let analysis = Arc::new(analysis);
        let mut values = Vec::new();
        let (assemble_s, ()) = time(|| analysis.pattern().assemble(&stiffness, &mut values))?;
        let (factor_s, mut sparse) =
            time(|| Cholesky::factor(Arc::clone(&analysis), &stiffness, &constraints(&mesh)))?;
        let (refactor_s, ()) = time(|| sparse.refactor(&stiffness))?;
        drop(sparse);
        let (substructured_s, _) = time(|| Substructured::new(&mesh, &law))?;

        let j1b = read(Job::J1b, size)?;
        let mesh = process::starting_mesh(&j1b, &Unwatched).map_err(Error::other)?;
        let factor = Substructured::new(&mesh, &law).map_err(Error::other)?;
        let (round_s, _) = time(|| clamp(&j1b, &mesh, &factor))?;
        drop(factor);
        let j1c = read(Job::J1c, size)?;
        let mesh = process::starting_mesh(&j1c, &Unwatched).map_err(Error::other)?;
        let factor = Cholesky::new(&mesh, &law, &constraints(&mesh)).map_err(Error::other)?;
        let (general_s, _) = time(|| clamp(&j1c, &mesh, &factor))?;
        drop(factor);

        let options = Options {
            fields: KeepFields::None,
            estimate: false,
            ..Options::default()
        };
        let (whole_s, _) = time(|| process::run(&j1, &options))?;
        let (whole_c_s, _) = time(|| process::run(&j1c, &options))?;
        let j3 = read(Job::J3, size)?;
        let (cut_s, _) = time(|| process::run(&j3, &options))?;
        let library = SIZES
            .iter()
            .position(|s| *s == size)
            .map_or(f64::NAN, |k| LIBRARY_WORK_SECONDS[k]);
        let column = [
            ms(mesh_s),
            ms(analysis_s),
            ms(assemble_s),
            ms(factor_s),
            ms(refactor_s),
            ms(substructured_s),
            ms(round_s),
            ms(general_s),
            ms(whole_s),
            ms(whole_c_s),
            ms(cut_s),
            ms(library),
            format!("{:.1}", library / whole_s),
        ];
        for (row, cell) in rows.iter_mut().zip(column) {
            row.1.push(cell);
        }
    }
    let heads: Vec<String> = sizes.iter().map(Size::to_string).collect();
    writeln!(
        out,
        "## Inside the process, by code path\n\nMilliseconds of wall time.\n\n| | {} |\n| --- |{}",
        heads.join(" | "),
        " --- |".repeat(sizes.len())
    )?;
    for (name, cells) in rows {
        writeln!(out, "| {name} | {} |", cells.join(" | "))?;
    }
    supports(out)
}
