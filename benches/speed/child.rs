//! The program as a process of its own: what it costs and what it answers.

use std::fs;
use std::io::{self, Error};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use nix::sys::resource::{UsageWho, getrusage};
use serde_json::Value;

/// The release build of the program.
pub struct Program {
    path: PathBuf,
}

/// One run.
pub struct Run {
    /// User and system time of the process, s.
    pub cpu_seconds: f64,
    /// `result.json`.
    pub result: Value,
}

/// One study.
pub struct Studied {
    /// User and system time of the process, and time on the clock, s.
    pub cpu_seconds: f64,
    pub wall_seconds: f64,
    /// Relative error that each row with an answer states.
    pub errors: Vec<f64>,
}

impl Program {
    /// Builds the program as users do.
    pub fn build() -> io::Result<Self> {
        let status = Command::new(env!("CARGO"))
            .args(["build", "--release", "--quiet"])
            .current_dir(Path::new(env!("CARGO_MANIFEST_DIR")).join(".."))
            .status()?;
        // the bench lies in `release/deps`
        let path = std::env::current_exe()?
            .ancestors()
            .nth(2)
            .map(|p| p.join("ringwright"))
            .filter(|p| status.success() && p.is_file())
            .ok_or_else(|| Error::other("the program could not be built"))?;
        Ok(Self { path })
    }

    fn command(&self, folder: &Path, case: &str, flags: &[&str]) -> io::Result<Command> {
        fs::write(folder.join("case.toml"), case)?;
        let mut command = Command::new(&self.path);
        command
            .current_dir(folder)
            .args([
                "run",
                "case.toml",
                "--out",
                "out",
                "--quiet",
                "--threads",
                "1",
            ])
            .args(flags)
            .stdin(Stdio::null());
        Ok(command)
    }

    /// User and system time of the program with these arguments, in a folder where a case lies as `case.toml`, s.
    pub fn cost(&self, case: &str, arguments: &[&str]) -> io::Result<f64> {
        let folder = tempfile::tempdir()?;
        fs::write(folder.path().join("case.toml"), case)?;
        let mut command = Command::new(&self.path);
        command
            .current_dir(folder.path())
            .args(arguments)
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(Stdio::null());
        let before = children_seconds()?;
        let status = command.status()?;
        let cost = children_seconds()? - before;
        if !status.success() {
            return Err(Error::other(format!("the program ended with {status}")));
        }
        Ok(cost)
    }

    /// Runs a case once.
    pub fn run(&self, case: &str, flags: &[&str]) -> io::Result<Run> {
        let folder = tempfile::tempdir()?;
        let mut command = self.command(folder.path(), case, flags)?;
        let before = children_seconds()?;
        let status = command.status()?;
        let cpu_seconds = children_seconds()? - before;
        if !status.success() {
            return Err(Error::other(format!("the program ended with {status}")));
        }
        let json = fs::read_to_string(folder.path().join("out/result.json"))?;
        Ok(Run {
            cpu_seconds,
            result: serde_json::from_str(&json)?,
        })
    }

    /// Works out a study of a case that lies as `case.toml` beside it.
    pub fn study(&self, case: &str, study: &str) -> io::Result<Studied> {
        let folder = tempfile::tempdir()?;
        fs::write(folder.path().join("case.toml"), case)?;
        fs::write(folder.path().join("study.toml"), study)?;
        let mut command = Command::new(&self.path);
        command
            .current_dir(folder.path())
            .args(["study", "study.toml", "--out", "out", "--quiet"])
            .stdin(Stdio::null());
        let (before, start) = (children_seconds()?, Instant::now());
        let status = command.status()?;
        let wall_seconds = start.elapsed().as_secs_f64();
        let cpu_seconds = children_seconds()? - before;
        if !status.success() {
            return Err(Error::other(format!("the program ended with {status}")));
        }
        let table = fs::read_to_string(folder.path().join("out/results.csv"))?;
        let mut lines = table.lines();
        let names = lines.next().unwrap_or_default().split(',');
        let column = names
            .enumerate()
            .find(|(_, name)| *name == "estimate_relative_error");
        let column = column.map_or(usize::MAX, |(k, _)| k);
        let error = |line: &str| line.split(',').nth(column)?.parse().ok();
        Ok(Studied {
            cpu_seconds,
            wall_seconds,
            errors: lines.filter_map(error).collect(),
        })
    }

    /// Largest resident memory of a run, MB (10^6 bytes): the mark that the kernel keeps, read until the process ends.
    pub fn peak_megabytes(&self, case: &str, flags: &[&str]) -> io::Result<f64> {
        let folder = tempfile::tempdir()?;
        let mut child = self.command(folder.path(), case, flags)?.spawn()?;
        let status_file = format!("/proc/{}/status", child.id());
        let mut peak = 0.0_f64;
        while child.try_wait()?.is_none() {
            let kilobytes = fs::read_to_string(&status_file)
                .unwrap_or_default()
                .lines()
                .find_map(|l| {
                    let words = l.strip_prefix("VmHWM:")?;
                    words.trim().strip_suffix(" kB")?.parse::<f64>().ok()
                });
            peak = peak.max(kilobytes.unwrap_or(0.0));
            std::thread::sleep(Duration::from_millis(1));
        }
        Ok(peak * 1024.0 / 1e6)
    }
}

/// CPU seconds of the children that have ended.
fn children_seconds() -> io::Result<f64> {
    let usage = getrusage(UsageWho::RUSAGE_CHILDREN)?;
    let seconds = |t: nix::sys::time::TimeVal| t.tv_sec() as f64 + 1e-6 * t.tv_usec() as f64;
    Ok(seconds(usage.user_time()) + seconds(usage.system_time()))
}
