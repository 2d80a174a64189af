//! A thin ring in three jaws, bored and released, without a case file: `cargo run --release -p ringwright-plugins --example thin_ring`.
// what a program finds goes to its screen
#![allow(clippy::print_stdout)]

use std::error::Error;

use ringwright_plugins::registry;
use ringwright_solver::case::{CaseBuilder, Member, Step};
use ringwright_solver::geometry::Surface;
use ringwright_solver::judge::judge;
use ringwright_solver::process::{Options, run};

fn main() -> Result<(), Box<dyn Error>> {
    let jaws = Member::of("jaws")
        .with("count", 3)
        .with("force", 600.0)
        .with("width", 12.0);
    let case = CaseBuilder::ring(110.0, 100.0, 20.0, "aluminium 6061-T6")
        .hold("chuck", [jaws])
        .step(Step::held_by("chuck").cut(Surface::Bore, 101.0))
        .roundness(0.02)
        .build(&registry())?;
    let outcome = run(&case, &Options::default())?;
    for limit in judge(&case, &outcome)?.limits {
        println!(
            "{}: {:.4} mm of {} mm",
            limit.kind.name(),
            limit.found[1],
            limit.allowed[1]
        );
    }
    for caution in &outcome.cautions {
        println!("{caution}");
    }
    Ok(())
}
