//! The whole process: cost, answer, memory, and what a user may leave out.

use std::io::{self, Write};

use ringwright_benches::{EVERYDAY, JOBS, Job, SIZES, Size};
use serde_json::Value;

use crate::child::Program;

/// Runs of each case. The median of five stands up to two disturbed runs.
pub const REPEATS: usize = 5;

/// Largest accepted relative difference from a known answer.
const AGREE: f64 = 1e-3;

/// The middle of some numbers.
pub fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values[values.len() / 2]
}

/// Flags of the runs that are set against the library: it writes no fields and judges no mesh.
const BARE: [&str; 3] = ["--fields", "none", "--no-estimate"];

struct Timed {
    seconds: f64,
    answer: f64,
    error: Option<f64>,
}

fn timed(program: &Program, job: Option<Job>, case: &str, flags: &[&str]) -> io::Result<Timed> {
    let mut seconds = Vec::new();
    let mut result = Value::Null;
    for _ in 0..REPEATS {
        let run = program.run(case, flags)?;
        seconds.push(run.cpu_seconds);
        result = run.result;
    }
    Ok(Timed {
        seconds: median(seconds),
        answer: roundness(job, &result)?,
        error: result["steps"][0]["estimate"]["relative_error"].as_f64(),
    })
}

/// Out-of-roundness of the surface that a case is about, mm.
fn roundness(job: Option<Job>, result: &Value) -> io::Result<f64> {
    let step = &result["steps"][0];
    let shape = match job {
        Some(Job::J3) => &step["released"]["outer"],
        Some(_) => &step["held"]["outer"],
        None => &step["released"]["bore"],
    };
    shape["roundness_least_squares"]
        .as_f64()
        .ok_or_else(|| io::Error::other("the result has no roundness"))
}

/// Writes the tables of whole runs; says whether every answer was right.
pub fn tables(program: &Program, sizes: &[Size], out: &mut dyn Write) -> io::Result<bool> {
    let mut all_right = true;
    let mut costs: Vec<(Job, Vec<(Size, f64)>)> = Vec::new();
    writeln!(
        out,
        "## Whole process against a general-purpose library\n\n\
         CPU seconds, one thread, `--fields none --no-estimate`. The library's seconds are fixed numbers from a quiet machine. \
         Off: from the known out-of-roundness; J1c from our own refined answer.\n\n\
         | case | mesh | s | library s | ratio | wanted | out-of-roundness mm | off |\n\
         | --- | --- | --- | --- | --- | --- | --- | --- |"
    )?;
    for job in JOBS {
        let known = match job.known() {
            Some(known) => known,
            None => {
                let refined = program.run(&job.case(None), &BARE[..2])?;
                [roundness(Some(job), &refined.result)?; 2]
            }
        };
        let mut cost = Vec::new();
        for &size in sizes {
            let run = timed(program, Some(job), &job.case(Some(size)), &BARE)?;
            let nearest = run.answer.clamp(known[0], known[1]);
            let off = (run.answer - nearest).abs() / nearest;
            let right = off <= AGREE;
            all_right &= right;
            cost.push((size, run.seconds));
            let against = match (job.library_seconds(size), job.wanted_ratio(size)) {
                (Some(_), Some(wanted)) if !right => format!("- | wrong | {wanted}"),
                (Some(library), Some(wanted)) => {
                    format!("{library} | {:.1} | {wanted}", library / run.seconds)
                }
                _ => "- | - | -".to_owned(),
            };
            writeln!(
                out,
                "| {} | {size} | {:.4} | {against} | {:.6} | {:.1e} |",
                job.name(),
                run.seconds,
                run.answer,
                off
            )?;
        }
        costs.push((job, cost));
    }

    writeln!(
        out,
        "\nCost grows as (elements)^p between neighbouring sizes:\n\n| case | p |\n| --- | --- |"
    )?;
    for (job, cost) in &costs {
        let exponents: Vec<String> = cost
            .windows(2)
            .map(|w| {
                let p = (w[1].1 / w[0].1).ln()
                    / (w[1].0.elements() as f64 / w[0].0.elements() as f64).ln();
                format!("{p:.2}")
            })
            .collect();
        writeln!(out, "| {} | {} |", job.name(), exponents.join(", "))?;
    }

    extras(program, &costs, out)?;

    start_up(program, out)?;
    everyday(program, out)?;

    let example = include_str!("../../cli/examples/ring.toml");
    let bare = timed(program, None, example, &["--fields", "none"])?;
    let full = timed(program, None, example, &[])?;
    writeln!(
        out,
        "\n## The shipped example, at its default accuracy\n\n\
         {:.3} s of CPU with every output ({:.3} s without fields; wanted: below 0.3 s). Estimated mesh error {:.1e}, peak {:.0} MB.\n",
        full.seconds,
        bare.seconds,
        full.error.unwrap_or(f64::NAN),
        program.peak_megabytes(example, &[])?,
    )?;
    Ok(all_right)
}

/// What a call costs that solves nothing, and the smallest job: little of that is mechanics.
fn start_up(program: &Program, out: &mut dyn Write) -> io::Result<()> {
    // a few milliseconds: more of them, and the median is steady
    const CALLS: usize = 25;
    writeln!(
        out,
        "\n## Start and end of a process\n\nCPU milliseconds, median of {CALLS} calls.\n\n| call | ms | wanted |\n| --- | --- | --- |"
    )?;
    let case = Job::J1.case(Some(SIZES[0]));
    let run = "run case.toml --quiet --threads 1 --fields none --no-estimate";
    for (name, call, wanted) in [
        ("--help", "--help", 5.0),
        ("check of J1", "check case.toml", 5.0),
        ("whole J1 at 360x4", run, 10.0),
    ] {
        let arguments: Vec<&str> = call.split(' ').collect();
        let costs = (0..CALLS)
            .map(|_| program.cost(&case, &arguments))
            .collect::<io::Result<Vec<f64>>>()?;
        writeln!(out, "| {name} | {:.2} | {wanted} |", 1e3 * median(costs))?;
    }
    Ok(())
}

/// The everyday jobs at default accuracy, each once: their sum is steadier than any of them.
fn everyday(program: &Program, out: &mut dyn Write) -> io::Result<()> {
    writeln!(
        out,
        "\n## Everyday jobs\n\nCPU seconds at default accuracy, one thread, `--fields none`; estimated error of the last step.\n\n\
         | job | s | estimate |\n| --- | --- | --- |"
    )?;
    let mut costs = Vec::new();
    for (name, case) in EVERYDAY {
        let run = program.run(case, &["--fields", "none"])?;
        let last = run.result["steps"].as_array().and_then(|s| s.last());
        let error = last.and_then(|s| s["estimate"]["relative_error"].as_f64());
        writeln!(
            out,
            "| {name} | {:.3} | {:.1e} |",
            run.cpu_seconds,
            error.unwrap_or(f64::NAN)
        )?;
        costs.push(run.cpu_seconds);
    }
    let sum: f64 = costs.iter().sum();
    let most = costs.iter().copied().fold(0.0, f64::max);
    writeln!(
        out,
        "\nMedian {:.3} s, largest {most:.3} s, sum {sum:.2} s.",
        median(costs)
    )
}

/// Memory, and what the second mesh and the fields cost.
fn extras(
    program: &Program,
    costs: &[(Job, Vec<(Size, f64)>)],
    out: &mut dyn Write,
) -> io::Result<()> {
    writeln!(
        out,
        "\n## Memory, the second mesh, the fields\n\n\
         Peak resident memory of the bare run (wanted: below 1000 MB at {}); CPU seconds added by the error estimate's second mesh and by \
         `--fields all`.\n\n\
         | case | mesh | peak MB | estimate +s | fields +s | estimated error |\n| --- | --- | --- | --- | --- | --- |",
        SIZES[2]
    )?;
    for &(job, ref cost) in costs {
        for &(size, bare) in cost {
            let case = job.case(Some(size));
            let judged = timed(program, Some(job), &case, &["--fields", "none"])?;
            let fields = timed(program, Some(job), &case, &["--no-estimate"])?;
            writeln!(
                out,
                "| {} | {size} | {:.0} | {:.4} | {:.4} | {:.1e} |",
                job.name(),
                program.peak_megabytes(&case, &BARE)?,
                judged.seconds - bare,
                fields.seconds - bare,
                judged.error.unwrap_or(f64::NAN),
            )?;
        }
    }
    Ok(())
}
