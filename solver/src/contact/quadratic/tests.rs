//! The programme by itself, on bodies made up for it: against every set of active pressures, against an outside solver, on bodies of new
//! kinds, and with a kept Gram matrix of another body.
#![allow(clippy::unwrap_used)]

mod beam;
mod enumeration;
mod outside;
mod random;
mod spring;
mod stale;

use super::{DriveDof, Gram, Prescribed, Programme, Row, Solution, Unsolved};
use crate::contact::elastic::Elastic;
use crate::contact::unwatched;

/// A row of unit area that pushes along its body's axis.
fn row(body: usize, gap: f64) -> Row {
    Row {
        body,
        along: 1.0,
        area: 1.0,
        gap,
        dead: 0.0,
    }
}

/// A degree of freedom that moves one body, with a prescribed force (N).
fn pushed(body: usize, force: f64) -> DriveDof {
    DriveDof {
        shares: vec![(body, 1.0)],
        prescribed: Prescribed::Force(force),
    }
}

/// A degree of freedom that moves one body, with a prescribed displacement (mm).
fn placed(body: usize, at: f64) -> DriveDof {
    DriveDof {
        shares: vec![(body, 1.0)],
        prescribed: Prescribed::Displacement(at),
    }
}

/// Solves from nothing active, with compliances kept in `gram`.
fn solve_with(
    body: &mut dyn Elastic,
    gram: &mut Gram,
    rows: &[Row],
    drive_dofs: &[DriveDof],
    dead_resultant: &[f64],
) -> Result<Solution, Unsolved> {
    let programme = Programme::new(&*body, rows, drive_dofs, dead_resultant, &unwatched);
    programme.solve(body, gram, vec![false; rows.len()])
}

/// Solves from nothing active and nothing kept.
fn solve(
    body: &mut dyn Elastic,
    rows: &[Row],
    drive_dofs: &[DriveDof],
    dead_resultant: &[f64],
) -> Result<Solution, Unsolved> {
    solve_with(body, &mut Gram::default(), rows, drive_dofs, dead_resultant)
}
