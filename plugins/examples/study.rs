//! What the force of the jaws does to a ring that is bored thin, and where a cut has no answer: a study tells a loose hold from a cut
//! through the wall by the reason, not by words. `cargo run --release -p ringwright-plugins --example study`.
// what a program finds goes to its screen
#![allow(clippy::print_stdout)]

use std::error::Error;

use ringwright_plugins::registry;
use ringwright_solver::case::{CaseBuilder, Member, Problems, Step};
use ringwright_solver::geometry::Surface;
use ringwright_solver::judge::judge;
use ringwright_solver::process::{Options, Reason, run};
use ringwright_solver::scheme::Registry;

/// Roundness of the bore, mm, or why there is none.
fn roundness(force: f64, bore: f64, registry: &Registry) -> Result<String, Box<dyn Error>> {
    let jaws = Member::of("jaws")
        .with("count", 3)
        .with("force", force)
        .with("arc", 20.0)
        .with("bored_diameter", 110.0);
    let case = CaseBuilder::ring(110.0, 100.0, 20.0, "bronze C93200")
        .hold("chuck", [jaws])
        .step(Step::held_by("chuck").cut(Surface::Bore, bore))
        .roundness(0.02)
        .build(registry);
    let case = match case {
        Ok(case) => case,
        Err(Problems(all)) => return Ok(format!("{:?}", all.first().map(|p| p.kind))),
    };
    let outcome = match run(&case, &Options::default()) {
        Ok(outcome) => outcome,
        Err(error) => {
            return Ok(match error.reason {
                Reason::Loose(why) => format!("loose ({why:?})"),
                Reason::CutThrough { wall, .. } => format!("cut through, wall {wall:.3} mm"),
                Reason::NotConverged(_) => "no trustworthy answer".to_owned(),
                _ => error.to_string(),
            });
        }
    };
    let judgement = judge(&case, &outcome)?;
    let found = judgement.limits.first().map(|limit| limit.found[1]);
    Ok(found.map_or("not judged".to_owned(), |mm| format!("{mm:.4} mm")))
}

fn main() -> Result<(), Box<dyn Error>> {
    let registry = registry();
    for force in [0.0, 200.0, 400.0, 800.0] {
        for bore in [102.0, 108.0, 109.99, 111.0] {
            let found = roundness(force, bore, &registry)?;
            println!("{force:6.0} N a jaw, bored to {bore:6.2} mm: {found}");
        }
    }
    Ok(())
}
