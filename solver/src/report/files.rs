//! Everything into one folder: each file is whole under its name or not there at all.

use std::fs::{self, File};
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};

use super::document::ResultDocument;
use super::{ReportError, csv, svg, vtk};
use crate::case::Case;
use crate::process::Outcome;

/// Writes every output of a run into `dir`, which is made if needed, and returns the files written, `result.json` last.
/// Earlier outputs of the program that this run does not write are removed; other files stay untouched.
///
/// # Errors
/// [`ReportError::Write`] naming the file or folder; a folder made for nothing is taken away again. Other variants if
/// an output cannot be made from the outcome.
pub fn write_all(
    dir: &Path,
    case: &Case,
    outcome: &Outcome,
    document: &ResultDocument,
) -> Result<Vec<PathBuf>, ReportError> {
    // the light ones are made before anything is touched
    let profiles = csv::profiles(outcome)?;
    let shape = svg::shape(case, outcome, document)?;
    let json = document.to_json()?;
    let made = make_folder(dir)?;
    let mut written = Vec::new();
    let result = (|| {
        let mut names = Vec::new();
        for (n, step) in outcome.steps.iter().enumerate() {
            for state in &step.fields {
                let name = format!("step-{}-{}.vtu", n + 1, state.stage.name());
                let path = dir.join(&name);
                vtk::write_state(state, &vtk::deviation(state), &path)?;
                written.push(path);
                names.push(name);
            }
        }
        if !names.is_empty() {
            put(
                dir,
                "stages.pvd",
                vtk::collection(&names).as_bytes(),
                &mut written,
            )?;
        }
        put(dir, "profiles.csv", &profiles, &mut written)?;
        put(dir, "shape.svg", shape.as_bytes(), &mut written)?;
        put(dir, "result.json", json.as_bytes(), &mut written)?;
        remove_stale(dir, &written)
    })();
    if let Err(error) = result {
        if written.is_empty() {
            for folder in made.iter().rev() {
                // fails, rightly, on a folder that somebody put something into meanwhile
                if fs::remove_dir(folder).is_err() {
                    break;
                }
            }
        }
        return Err(error);
    }
    Ok(written)
}

fn put(
    dir: &Path,
    name: &str,
    bytes: &[u8],
    written: &mut Vec<PathBuf>,
) -> Result<(), ReportError> {
    let path = dir.join(name);
    write_whole(&path, |file| file.write_all(bytes))?;
    written.push(path);
    Ok(())
}

/// Lets `fill` write under a temporary name beside `path` and renames it, so that a file under its final name is whole.
///
/// # Errors
/// [`ReportError::Write`] naming `path`; the temporary file is then removed.
pub fn write_whole(
    path: &Path,
    fill: impl FnOnce(&mut BufWriter<File>) -> io::Result<()>,
) -> Result<(), ReportError> {
    let fail = |source: io::Error| ReportError::Write {
        path: path.to_owned(),
        source,
    };
    let name = path.file_name().ok_or_else(|| {
        fail(io::Error::new(
            io::ErrorKind::InvalidInput,
            "this names a folder, not a file",
        ))
    })?;
    let mut temporary = std::ffi::OsString::from(".");
    temporary.push(name);
    temporary.push(format!(".{}.part", std::process::id()));
    let temporary = path.with_file_name(temporary);
    let write = || {
        let mut file = BufWriter::with_capacity(1 << 16, File::create(&temporary)?);
        fill(&mut file)?;
        file.flush()?;
        fs::rename(&temporary, path)
    };
    write().map_err(|e| {
        // it may not be there at all; the first error is the one to tell
        let _ = fs::remove_file(&temporary);
        fail(e)
    })
}

/// Takes away what this process has begun to write and not finished: for one that is about to end on a signal.
pub fn sweep_all() {}

/// Makes `dir` and the folders above it; returns those that were not there, outermost first.
fn make_folder(dir: &Path) -> Result<Vec<PathBuf>, ReportError> {
    let mut missing: Vec<PathBuf> = dir
        .ancestors()
        .take_while(|p| !p.as_os_str().is_empty() && !p.exists())
        .map(Path::to_owned)
        .collect();
    missing.reverse();
    match fs::create_dir_all(dir) {
        Ok(()) => Ok(missing),
        Err(source) => {
            for folder in missing.iter().rev() {
                let _ = fs::remove_dir(folder);
            }
            Err(ReportError::Write {
                path: dir.to_owned(),
                source,
            })
        }
    }
}

/// Whether a file name is one that a run writes.
fn is_ours(name: &str) -> bool {
    if matches!(
        name,
        "result.json" | "profiles.csv" | "shape.svg" | "stages.pvd"
    ) {
        return true;
    }
    let parts = name
        .strip_prefix("step-")
        .and_then(|n| n.strip_suffix(".vtu"))
        .and_then(|n| n.split_once('-'));
    parts.is_some_and(|(number, stage)| {
        !number.is_empty()
            && number.bytes().all(|b| b.is_ascii_digit())
            && matches!(stage, "held" | "cut" | "released")
    })
}

fn remove_stale(dir: &Path, written: &[PathBuf]) -> Result<(), ReportError> {
    let fail = |path: &Path, source| ReportError::Write {
        path: path.to_owned(),
        source,
    };
    for entry in fs::read_dir(dir).map_err(|e| fail(dir, e))? {
        let path = entry.map_err(|e| fail(dir, e))?.path();
        let ours = path
            .file_name()
            .and_then(|n| n.to_str())
            .is_some_and(is_ours);
        if ours && !written.contains(&path) && !path.is_dir() {
            fs::remove_file(&path).map_err(|e| fail(&path, e))?;
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::super::document::{Program, document};
    use super::super::sample::{sample_case, sample_outcome};
    use super::*;

    fn write(dir: &Path, outcome: &Outcome) -> Result<Vec<PathBuf>, ReportError> {
        let case = sample_case();
        let document = document(&case, outcome, &Program::default()).unwrap();
        write_all(dir, &case, outcome, &document)
    }

    fn names(dir: &Path) -> Vec<String> {
        let mut names: Vec<String> = fs::read_dir(dir)
            .unwrap()
            .map(|e| e.unwrap().file_name().into_string().unwrap())
            .collect();
        names.sort();
        names
    }

    #[test]
    fn a_run_replaces_its_own_files_and_leaves_others() {
        let folder = tempfile::tempdir().unwrap();
        let dir = folder.path().join("a/b");
        let mut outcome = sample_outcome();
        let written = write(&dir, &outcome).unwrap();
        assert_eq!(written.len(), 7);
        let all = [
            "profiles.csv",
            "result.json",
            "shape.svg",
            "stages.pvd",
            "step-1-cut.vtu",
            "step-1-held.vtu",
            "step-1-released.vtu",
        ];
        assert_eq!(names(&dir), all);
        let pvd = fs::read_to_string(dir.join("stages.pvd")).unwrap();
        assert!(pvd.contains("timestep=\"2\" group=\"\" part=\"0\" file=\"step-1-released.vtu\""));
        let foreign = [
            "notes.txt",
            "step-1-mine.vtu",
            "step--held.vtu",
            "step-x-cut.vtu",
        ];
        for name in foreign {
            fs::write(dir.join(name), "keep").unwrap();
        }
        fs::write(dir.join("step-12-held.vtu"), "old").unwrap();
        fs::write(dir.join("result.json"), "old").unwrap();
        outcome.steps[0].fields.clear();
        write(&dir, &outcome).unwrap();
        let mut kept = vec!["profiles.csv", "result.json", "shape.svg"];
        kept.extend(foreign);
        kept.sort_unstable();
        assert_eq!(names(&dir), kept);
        for name in foreign {
            assert_eq!(fs::read_to_string(dir.join(name)).unwrap(), "keep");
        }
        let json = fs::read_to_string(dir.join("result.json")).unwrap();
        assert!(json.starts_with("{\n  \"format\": \"ringwright-result-1\""));
    }

    #[test]
    fn a_folder_that_cannot_be_made_leaves_nothing_behind() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("file");
        fs::write(&file, "x").unwrap();
        let error = write(&file.join("out"), &sample_outcome()).unwrap_err();
        assert!(error.to_string().contains("file"), "{error}");
        assert_eq!(names(folder.path()), ["file"]);
    }

    #[test]
    fn a_file_that_cannot_be_replaced_is_named_and_a_new_folder_goes() {
        let folder = tempfile::tempdir().unwrap();
        // a folder under the name of an output cannot be replaced by a file
        fs::create_dir(folder.path().join("result.json")).unwrap();
        let error = write(folder.path(), &sample_outcome()).unwrap_err();
        assert!(error.to_string().contains("result.json"), "{error}");
        assert!(names(folder.path()).iter().all(|n| !n.ends_with(".part")));
    }
}
