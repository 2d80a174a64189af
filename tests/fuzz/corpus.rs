//! Inputs that once were trouble, or are odd in a way of their own, kept small and tried in every run of the tests.
//!
//! `case` and `readings` are read; what stands in `replies` is said by a scheme's program. `run` is run whole: each of these cases ended late
//! or not at all, and must end by itself within 20 s and 2 GB, with an exit status and a document that scripts can rely on. `limited` are
//! large ones that may need longer: with a time limit they must end, one way or the other, soon after it.

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::Mutex;
use std::time::Duration;

use ringwright_solver::metrology::readings::{Format, ReadingKind};

use crate::program;
use crate::{case_file, gauge_document, readings};

/// The longest that any case of the corpus may take.
const WITHIN: Duration = Duration::from_secs(20);
/// The corpus stays small, bytes.
const MOST_BYTES: u64 = 300_000;

fn files(kind: &str) -> Vec<PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("fuzz/corpus")
        .join(kind);
    let mut files: Vec<PathBuf> = fs::read_dir(folder)
        .unwrap()
        .map(|f| f.unwrap().path())
        .collect();
    files.sort();
    assert!(!files.is_empty());
    files
}

/// Tries every file of a kind and tells of all that fail.
fn each(kind: &str, test: impl Fn(&Path, &[u8]) -> Result<(), String>) {
    let faults: Vec<String> = files(kind)
        .iter()
        .filter_map(|file| {
            let fault = test(file, &fs::read(file).unwrap()).err()?;
            Some(format!("{}: {fault}", file.display()))
        })
        .collect();
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}

#[test]
fn kept_case_files_end_in_a_case_or_in_problems() {
    let folder = tempfile::tempdir().unwrap();
    each("case", |_, bytes| {
        case_file::reads(bytes, folder.path()).map(drop)
    });
}

#[test]
fn kept_readings_end_in_figures_or_in_what_is_wrong() {
    let folder = tempfile::tempdir().unwrap();
    each("readings", |_, bytes| {
        for kind in [
            ReadingKind::Radii,
            ReadingKind::Deviations,
            ReadingKind::Diameters,
        ] {
            let format = Format {
                kind,
                ..Format::default()
            };
            readings::reads(bytes, &format)?;
        }
        gauge_document::gauges(bytes, &[], folder.path())?;
        gauge_document::gauges(bytes, &["--radius", "60", "--keep-jumps"], folder.path())
    });
}

#[cfg(unix)]
#[test]
fn kept_replies_are_holds_or_failures_of_their_program() {
    let folder = tempfile::tempdir().unwrap();
    each("replies", |_, said| {
        crate::replies::says(said, folder.path()).map(drop)
    });
}

/// Runs every case of a kind, two at a time, and gives what is wrong.
fn each_ends(kind: &str, options: &[&str]) -> Vec<String> {
    let left = Mutex::new(files(kind));
    let faults = Mutex::new(Vec::new());
    let work = || {
        loop {
            let Some(file) = left.lock().unwrap().pop() else {
                break;
            };
            if let Err(fault) = ends(&file, options) {
                let fault = format!("{}: {fault}", file.display());
                faults.lock().unwrap().push(fault);
            }
        }
    };
    std::thread::scope(|scope| {
        scope.spawn(work);
        scope.spawn(work);
    });
    faults.into_inner().unwrap()
}

fn ends(case: &Path, options: &[&str]) -> Result<(), String> {
    let folder = tempfile::tempdir().unwrap();
    let mut args = vec!["run", case.to_str().unwrap(), "--json", "--fields", "none"];
    args.extend(options);
    program::call(folder.path(), &args, WITHIN)
        .judged(true)
        .map(drop)
}

/// One after the other: together they would take the machine's time from each other.
#[test]
fn kept_cases_end_in_time() {
    let mut faults = each_ends("run", &[]);
    faults.extend(each_ends("limited", &["--time-limit", "3"]));
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}

#[test]
fn the_corpus_stays_small() {
    let bytes: u64 = ["case", "run", "limited", "readings", "replies"]
        .iter()
        .flat_map(|kind| files(kind))
        .map(|file| fs::metadata(file).unwrap().len())
        .sum();
    assert!(bytes < MOST_BYTES, "{bytes}");
}
