//! The folder of a run: tried and locked before solving, filled in one step after.

use std::fs::{self, File};
use std::io::{self, ErrorKind, Write};
use std::path::{Component, Path, PathBuf};

use super::super::document::ResultDocument;
use super::super::{ReportError, csv, svg, vtk};
use super::commit::Commit;
use super::disk::{self, Disk, Real, is_same, leads_nowhere, may_write};
use super::live::{self, Begun, Unfinished};
use super::lock::{self, NotLocked};
use super::names::{self, DOCUMENT, STAGES};
use super::work::{Work, take_away};
use crate::case::Case;
use crate::process::{Outcome, Stage, TubeOutcome, TubeState};

/// A folder that is ready to take the files of a run, locked against other runs. Until [`Folder::write`] has succeeded it is as it was,
/// and dropping this leaves it so.
pub struct Folder {
    disk: &'static dyn Disk,
    /// As it was named, for messages.
    dir: PathBuf,
    /// Where that is, links followed.
    target: PathBuf,
    work: Work,
    /// Folders made on the way to the target, outermost first.
    made: Vec<PathBuf>,
    _begun: Begun,
    /// Locked as long as this is open.
    _lock: File,
}

impl std::fmt::Debug for Folder {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_tuple("Folder").field(&self.dir).finish()
    }
}

impl Folder {
    /// Readies `dir` for a run, before it solves: sees that it can be written, locks it against other runs, finishes what a run that was
    /// killed has begun there, and sweeps what it left. `inputs` are the files that the run reads; `holder` says to a run that finds the
    /// lock taken who has it (the process number stands before it).
    ///
    /// # Errors
    /// [`ReportError::Write`] if it cannot be made or written; [`ReportError::IsInput`] if a run would replace one of its inputs, links
    /// followed; [`ReportError::Foreign`] if it would replace a file that no run wrote; [`ReportError::InUse`] while another run has the
    /// folder (nobody waits here: call again); [`ReportError::Interrupted`] after [`super::sweep_all`].
    pub fn open(dir: &Path, inputs: &[PathBuf], holder: &str) -> Result<Self, ReportError> {
        Self::open_on(&Real, dir, inputs, holder)
    }

    pub(super) fn open_on(
        disk: &'static dyn Disk,
        dir: &Path,
        inputs: &[PathBuf],
        holder: &str,
    ) -> Result<Self, ReportError> {
        let fail = |source| ReportError::write(dir, source);
        let inside = live::enter()?;
        let (target, missing) = place(dir).map_err(fail)?;
        let work = work_of(disk, &target).map_err(fail)?;
        let works = [Work::beside(&target), Some(Work::inside(&target))];
        let works = works.iter().flatten().map(|w| &w.folder);
        if let Some(input) = works.filter_map(|w| input_in(w, inputs)).next() {
            return Err(ReportError::is_input(dir, input));
        }
        let made = make(disk, &missing).map_err(fail)?;
        let lock = lock::take(disk, &work.folder, holder).map_err(|why| {
            unmake(disk, &made);
            not_locked(why, dir)
        })?;
        let folder = Self {
            disk,
            dir: dir.to_owned(),
            _begun: inside.begun(Unfinished::Work(work.clone(), made.clone())),
            target,
            work,
            made,
            _lock: lock,
        };
        folder.ready(inputs)?;
        Ok(folder)
    }

    fn commit<'a>(&'a self, work: &'a Work) -> Commit<'a> {
        Commit {
            disk: self.disk,
            work,
            target: &self.target,
        }
    }

    /// Finishes and sweeps what dead runs left, then looks at what a run would replace.
    fn ready(&self, inputs: &[PathBuf]) -> Result<(), ReportError> {
        let fail = |source| ReportError::write(&self.dir, source);
        self.sweep_other_place()?;
        self.commit(&self.work).resume().map_err(fail)?;
        self.work.clear(self.disk).map_err(fail)?;
        if self.target.exists() {
            let ours = names::ours_in(&self.target).map_err(fail)?;
            for path in ours.iter().map(|name| self.target.join(name)) {
                if let Some(input) = inputs.iter().find(|input| is_same(&path, input)) {
                    return Err(ReportError::is_input(&self.named(&path), input));
                }
            }
            if let Some(path) = names::foreign_in(&self.target, &ours).map_err(fail)? {
                let path = self.named(&path);
                return Err(ReportError::Foreign { path });
            }
        }
        self.disk.create_dir(&self.work.new).map_err(fail)
    }

    /// A run under other rights may work in the other place: beside instead of inside, or the reverse.
    fn sweep_other_place(&self) -> Result<(), ReportError> {
        let other = if self.work.beside {
            Some(Work::inside(&self.target))
        } else {
            Work::beside(&self.target)
        };
        let Some(other) = other.filter(|o| o.folder.is_dir()) else {
            return Ok(());
        };
        if let Some(holder) = lock::held(&other.folder) {
            return Err(not_locked(NotLocked::Held(holder), &self.dir));
        }
        // where we may not lock we may not sweep either
        if let Ok(lock) = lock::take(self.disk, &other.folder, "") {
            let resumed = self.commit(&other).resume();
            take_away(self.disk, &other, &[]);
            drop(lock);
            resumed.map_err(|source| ReportError::write(&self.dir, source))?;
        }
        Ok(())
    }

    /// A file of the target as the user would name it.
    fn named(&self, path: &Path) -> PathBuf {
        self.dir.join(path.file_name().unwrap_or_default())
    }

    /// Writes every output of a run and lets them appear together in place of those of an earlier run; other files stay untouched.
    /// Returns the files written, `result.json` last.
    ///
    /// # Errors
    /// [`ReportError::Write`] naming the file or folder, [`ReportError::Interrupted`] after [`super::sweep_all`], other variants if an
    /// output cannot be made from the outcome. The folder is then as it was.
    pub fn write(
        self,
        case: &Case,
        outcome: &Outcome,
        document: &ResultDocument,
    ) -> Result<Vec<PathBuf>, ReportError> {
        let names = self.make_all(case, outcome, document)?;
        self.appear(names)
    }

    /// Lets the files made, of these names, the document last, appear together.
    pub(super) fn appear(mut self, names: Vec<String>) -> Result<Vec<PathBuf>, ReportError> {
        let files = names.iter().map(|name| self.dir.join(name)).collect();
        let inside = live::enter()?;
        let commit = self.commit(&self.work);
        commit.run(names).map_err(|(path, source)| {
            let path = match path == self.target {
                true => self.dir.clone(),
                false => self.named(&path),
            };
            ReportError::write(&path, source)
        })?;
        // they are not made for nothing
        self.made.clear();
        drop(inside);
        Ok(files)
    }

    /// Writes every file out of sight; returns their names, the document last.
    fn make_all(
        &self,
        case: &Case,
        outcome: &Outcome,
        document: &ResultDocument,
    ) -> Result<Vec<String>, ReportError> {
        let mut names = Vec::new();
        let mut surfaces = Vec::new();
        for (n, step) in outcome.steps.iter().enumerate() {
            for state in &step.fields {
                let name = state_name(n, state.stage);
                let deviation = vtk::deviation(state);
                self.put(&name, |out| vtk::write_state(state, &deviation, out))?;
                names.push(name);
            }
            if let Some(tube) = &step.tube {
                self.put_tube(n, tube, [&mut names, &mut surfaces])?;
            }
        }
        let mut texts = Vec::new();
        if !names.is_empty() {
            texts.push((STAGES, vtk::collection(&names).into_bytes()));
        }
        if !surfaces.is_empty() {
            texts.push((names::TUBE_STAGES, vtk::collection(&surfaces).into_bytes()));
        }
        names.append(&mut surfaces);
        texts.push((names::PROFILES, csv::profiles(outcome)?));
        texts.extend(csv::stations(outcome)?.map(|table| (names::STATIONS, table)));
        texts.push((
            names::SHAPE,
            svg::shape(case, outcome, document)?.into_bytes(),
        ));
        texts.push((DOCUMENT, document.to_json()?.into_bytes()));
        for (name, bytes) in texts {
            self.put(name, |out| out.write_all(&bytes))?;
            names.push(name.to_owned());
        }
        Ok(names)
    }

    /// The states of a tube in a step (from 0): in the plane through the axis, and its surfaces wherever such a state was kept. Adds the names
    /// of both to their lists.
    fn put_tube(
        &self,
        n: usize,
        tube: &TubeOutcome,
        [planes, surfaces]: [&mut Vec<String>; 2],
    ) -> Result<(), ReportError> {
        let mut kept: Vec<Stage> = Vec::new();
        for field in &tube.fields {
            // one plane a state: the first
            if kept.contains(&field.stage) {
                continue;
            }
            kept.push(field.stage);
            let name = state_name(n, field.stage);
            self.put(&name, |out| vtk::write_meridian(field, out))?;
            planes.push(name);
        }
        let drawn = |s: &&TubeState| kept.contains(&s.stage) && s.z.len() > 1 && s.angles > 2;
        for state in tube.states.iter().filter(drawn) {
            let name = format!("{}{}", names::TUBE, state_name(n, state.stage));
            self.put(&name, |out| vtk::write_tube(state, out))?;
            surfaces.push(name);
        }
        Ok(())
    }

    /// Makes a file out of sight.
    pub(super) fn put(
        &self,
        name: &str,
        fill: impl FnOnce(&mut dyn Write) -> io::Result<()>,
    ) -> Result<(), ReportError> {
        let fail = |source| ReportError::write(&self.dir.join(name), source);
        let made = {
            let _inside = live::enter()?;
            self.disk.create_new(&self.work.new.join(name))
        };
        disk::fill(self.disk, &mut made.map_err(fail)?, fill).map_err(fail)
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        take_away(self.disk, &self.work, &self.made);
    }
}

/// Name of the file of a state of a step, which counts from 0.
fn state_name(n: usize, stage: Stage) -> String {
    format!("step-{}-{}.vtu", n + 1, stage.name())
}

/// Where a folder is or would be, links followed, and the folders that have to be made above it, outermost first.
fn place(dir: &Path) -> io::Result<(PathBuf, Vec<PathBuf>)> {
    let is_folder = |path: PathBuf| match fs::metadata(&path)?.is_dir() {
        true => Ok(path),
        false => Err(io::Error::from(ErrorKind::NotADirectory)),
    };
    let mut missing = Vec::new();
    let mut at = dir;
    let mut found = loop {
        match fs::canonicalize(at) {
            Ok(found) => break is_folder(found)?,
            Err(e) if e.kind() != ErrorKind::NotFound => return Err(e),
            // what it leads to is not to be made in passing
            Err(_) if fs::symlink_metadata(at).is_ok() => return Err(leads_nowhere()),
            Err(e) => match at.components().next_back() {
                Some(Component::Normal(name)) => {
                    missing.push(name);
                    let above = at.parent().filter(|above| *above != Path::new(""));
                    at = above.unwrap_or(Path::new("."));
                }
                _ => return Err(e),
            },
        }
    };
    let mut folders = Vec::new();
    for name in missing.into_iter().rev() {
        found.push(name);
        folders.push(found.clone());
    }
    folders.pop();
    Ok((found, folders))
}

/// Where the work folder of a target is to be.
fn work_of(disk: &dyn Disk, target: &Path) -> io::Result<Work> {
    let beside = Work::beside(target);
    if !target.exists() {
        return beside.ok_or_else(|| ErrorKind::InvalidInput.into());
    }
    may_write(target)?;
    let beside = beside.filter(|_| disk.works_beside(target));
    Ok(beside.unwrap_or_else(|| Work::inside(target)))
}

/// The first input that lies in this folder.
fn input_in<'a>(folder: &Path, inputs: &'a [PathBuf]) -> Option<&'a Path> {
    let lies =
        |input: &&PathBuf| fs::canonicalize(input).is_ok_and(|path| path.starts_with(folder));
    inputs.iter().find(lies).map(PathBuf::as_path)
}

fn make(disk: &dyn Disk, folders: &[PathBuf]) -> io::Result<Vec<PathBuf>> {
    let mut made = Vec::new();
    for folder in folders {
        match disk.create_dir(folder) {
            Ok(()) => made.push(folder.clone()),
            Err(e) if e.kind() == ErrorKind::AlreadyExists => {}
            Err(e) => {
                unmake(disk, &made);
                return Err(e);
            }
        }
    }
    Ok(made)
}

fn unmake(disk: &dyn Disk, made: &[PathBuf]) {
    for folder in made.iter().rev() {
        let _ = disk.remove_dir(folder);
    }
}

fn not_locked(why: NotLocked, dir: &Path) -> ReportError {
    match why {
        NotLocked::Failed(source) => ReportError::write(dir, source),
        NotLocked::Held(holder) => ReportError::InUse {
            path: dir.to_owned(),
            holder,
        },
    }
}
