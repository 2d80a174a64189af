//! Thousands of generated cases through `check` and `run`, each judged, counted by exit and kind; what offends is kept.

use std::collections::BTreeMap;
use std::fs;
use std::panic;
use std::path::PathBuf;
use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};

use ringwright_solver::scheme::Registry;
use ringwright_tests::generator::{self, Generated};

use crate::case_file;
use crate::program;

/// `--time-limit` of a run, s, and what a run may take beyond it.
const TIME_LIMIT: u64 = 10;
const GRACE: u64 = 10;
/// One in so many checks goes through the program; the others through the library.
const BY_PROGRAM: u64 = 20;
/// One in so many runs writes every field.
const WITH_FIELDS: u64 = 10;
/// Cases at work at once.
const WORKERS: usize = 2;

/// What came of the cases so far.
#[derive(Default)]
struct Tally {
    /// By what was called, exit status and kind.
    ends: BTreeMap<String, u64>,
    faults: u64,
    /// Time and seed.
    slowest: Vec<(Duration, u64)>,
    most_memory: u64,
}

struct Campaign {
    registry: Registry,
    tally: Mutex<Tally>,
}

impl Campaign {
    /// Puts the cases of these seeds to `work`.
    fn each(&self, seeds: std::ops::Range<u64>, work: impl Fn(u64) + Sync) {
        let next = AtomicU64::new(seeds.start);
        std::thread::scope(|scope| {
            for _ in 0..WORKERS {
                scope.spawn(|| {
                    loop {
                        let seed = next.fetch_add(1, Ordering::Relaxed);
                        if seed >= seeds.end {
                            break;
                        }
                        work(seed);
                    }
                });
            }
        });
    }

    fn note(&self, what: &str, seed: u64, case: &Generated, end: Result<String, String>) {
        let mut tally = self.tally.lock().unwrap();
        let end = end.unwrap_or_else(|fault| {
            println!("{what} of seed {seed}: {fault}");
            keep(what, seed, case, &fault);
            tally.faults += 1;
            let exit = fault.split(": ").next().filter(|e| e.starts_with("exit"));
            format!("FAULT {}", exit.unwrap_or_default())
        });
        *tally.ends.entry(format!("{what} {end}")).or_default() += 1;
    }

    fn check(&self, seed: u64) {
        let case = generator::case(seed, &self.registry);
        let folder = tempfile::tempdir().unwrap();
        case.write(folder.path(), "case.toml").unwrap();
        let taken = |taken| if taken { "0" } else { "3 input" }.to_owned();
        let read = panic::catch_unwind(|| case_file::reads(&case.bytes, folder.path()));
        let read = read
            .unwrap_or_else(|_| Err("panicked".to_owned()))
            .map(taken);
        let read = match read {
            Ok(end) if !case.spoilt && end != "0" => Err("a sound case is refused".to_owned()),
            read => read,
        };
        self.note("check, library,", seed, &case, read);
        if seed.is_multiple_of(BY_PROGRAM) {
            self.call(
                "check, program,",
                seed,
                &case,
                &["check", "case.toml", "--json"],
            );
        }
    }

    fn run(&self, seed: u64) {
        let case = generator::case(seed, &self.registry);
        let fields = if seed.is_multiple_of(WITH_FIELDS) {
            "all"
        } else {
            "none"
        };
        let limit = TIME_LIMIT.to_string();
        let run = ["run", "case.toml", "--json", "--fields", fields];
        let args = [&run[..], &["--time-limit", &limit]].concat();
        self.call("run", seed, &case, &args);
    }

    fn call(&self, what: &str, seed: u64, case: &Generated, args: &[&str]) {
        let folder = tempfile::tempdir().unwrap();
        case.write(folder.path(), "case.toml").unwrap();
        let ended = program::call(folder.path(), args, Duration::from_secs(TIME_LIMIT + GRACE));
        {
            let mut tally = self.tally.lock().unwrap();
            tally.most_memory = tally.most_memory.max(ended.memory.unwrap_or(0));
            tally.slowest.push((ended.time, seed));
            tally.slowest.sort_by(|a, b| b.cmp(a));
            tally.slowest.truncate(20);
        }
        let exit = ended.exit.map_or("signal".to_owned(), |e| e.to_string());
        let end = ended.judged(args[0] == "run").map(|kind| match kind {
            Some(kind) => format!("{exit} {kind}"),
            None => exit.clone(),
        });
        self.note(
            what,
            seed,
            case,
            end.map_err(|fault| format!("exit {exit}: {fault}")),
        );
    }

    fn report(&self, start: Instant) {
        let tally = self.tally.lock().unwrap();
        println!("\n{:.0} s", start.elapsed().as_secs_f64());
        for (end, count) in &tally.ends {
            println!("{count:>7} {end}");
        }
        println!(
            "most memory {} MB; slowest (s, seed):",
            tally.most_memory / 1_000_000
        );
        for (time, seed) in &tally.slowest {
            println!("{:>8.1} {seed}", time.as_secs_f64());
        }
        println!("{} faults, kept in {}", tally.faults, kept().display());
    }
}

fn kept() -> PathBuf {
    PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("campaign")
}

/// Keeps an offending case, what it names, and what went wrong.
fn keep(what: &str, seed: u64, case: &Generated, fault: &str) {
    let command = what.split(',').next().unwrap_or(what);
    let folder = kept().join(format!("{command}-{seed}"));
    fs::create_dir_all(&folder).unwrap();
    case.write(&folder, "case.toml").unwrap();
    fs::write(folder.join("fault.txt"), format!("{what}: {fault}\n")).unwrap();
}

/// `RINGWRIGHT_CAMPAIGN="CHECKS RUNS FIRST_SEED"`, 20,000 and 2,000 from seed 0 if it is not given. What is kept of the last one goes.
#[test]
#[ignore = "takes an hour; see the top of the target"]
fn campaign() {
    let given = std::env::var("RINGWRIGHT_CAMPAIGN").unwrap_or_default();
    let given: Vec<u64> = given
        .split_whitespace()
        .map(|n| n.parse().unwrap())
        .collect();
    let get = |k: usize, default| given.get(k).copied().unwrap_or(default);
    let (checks, runs, first) = (get(0, 20_000), get(1, 2_000), get(2, 0));
    let _ = fs::remove_dir_all(kept());
    let campaign = Campaign {
        registry: ringwright_plugins::registry(),
        tally: Mutex::default(),
    };
    let start = Instant::now();
    campaign.each(first..first + checks, |seed| campaign.check(seed));
    campaign.each(first..first + runs, |seed| campaign.run(seed));
    campaign.report(start);
    assert_eq!(campaign.tally.lock().unwrap().faults, 0);
}
