//! The program as a process: how it ended, how long it took, how much memory.

use std::fs::{self, File};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::thread;
use std::time::{Duration, Instant};

use crate::judge;

/// The most memory that any input may take, bytes.
pub(crate) const MOST_MEMORY: u64 = 2_000_000_000;
/// A process that takes this much is ended before the machine is in trouble.
const TOO_MUCH: u64 = 4_000_000_000;
/// How many times as long as its processor time a process may take on a machine that has others to serve.
const BUSY: u32 = 6;
/// How often a process is looked at.
const LOOK: Duration = Duration::from_millis(5);

/// How a process ended.
pub(crate) struct Ended {
    /// Exit status; none if a signal ended it.
    pub(crate) exit: Option<i32>,
    pub(crate) out: Vec<u8>,
    pub(crate) err: String,
    /// Processor time where the system tells, else time on the clock.
    pub(crate) time: Duration,
    /// The most memory that it held at once, bytes, where the system tells.
    pub(crate) memory: Option<u64>,
    /// Why it was ended from here.
    pub(crate) stopped: Option<&'static str>,
}

/// Calls `ringwright` in a folder, for so long at most, in processor time: other tests may be at work beside it.
pub(crate) fn call(folder: &Path, args: &[&str], within: Duration) -> Ended {
    // files, not pipes: nobody has to empty them meanwhile
    let [out, err] = ["call.out", "call.err"].map(|name| folder.join(name));
    let mut child = Command::new(env!("CARGO_BIN_EXE_ringwright-tested"))
        .args(args)
        .current_dir(folder)
        .env("XDG_CONFIG_HOME", folder)
        .stdin(Stdio::null())
        .stdout(File::create(&out).unwrap())
        .stderr(File::create(&err).unwrap())
        .spawn()
        .unwrap();
    let start = Instant::now();
    let (mut memory, mut stopped, mut spent) = (None, None, None);
    let status = loop {
        memory = peak(&child).or(memory);
        spent = processor_time(&child).or(spent);
        if let Some(status) = child.try_wait().unwrap() {
            break status;
        }
        let time = spent.unwrap_or(start.elapsed());
        if time > within || start.elapsed() > BUSY * within {
            stopped = Some("did not end");
        } else if memory.is_some_and(|m| m > TOO_MUCH) {
            stopped = Some("took too much memory");
        }
        if stopped.is_some() {
            let _ = child.kill();
        }
        thread::sleep(LOOK);
    };
    Ended {
        exit: status.code(),
        out: fs::read(out).unwrap(),
        err: String::from_utf8_lossy(&fs::read(err).unwrap()).into_owned(),
        time: spent.unwrap_or(start.elapsed()),
        memory,
        stopped,
    }
}

/// The most memory that a process has held so far. `getrusage` knows the largest child alone, not which.
#[cfg(target_os = "linux")]
fn peak(child: &Child) -> Option<u64> {
    let status = fs::read_to_string(format!("/proc/{}/status", child.id())).ok()?;
    let line = status.lines().find_map(|l| l.strip_prefix("VmHWM:"))?;
    let kilobytes: u64 = line.trim().trim_end_matches(" kB").parse().ok()?;
    Some(1024 * kilobytes)
}

/// What a process has had of the processors so far. Linux counts in hundredths of a second.
#[cfg(target_os = "linux")]
fn processor_time(child: &Child) -> Option<Duration> {
    let stat = fs::read_to_string(format!("/proc/{}/stat", child.id())).ok()?;
    // "PID (NAME) STATE ..."; own time and the system's are the 12th and 13th after the name
    let (_, after) = stat.rsplit_once(") ")?;
    let ticks = after.split(' ').skip(11).take(2).map(str::parse::<u64>);
    let ticks: u64 = ticks.sum::<Result<u64, _>>().ok()?;
    // a process that has ended counts nothing any more
    (ticks > 0).then(|| Duration::from_millis(10 * ticks))
}

#[cfg(not(target_os = "linux"))]
fn processor_time(_child: &Child) -> Option<Duration> {
    None
}

#[cfg(not(target_os = "linux"))]
fn peak(_child: &Child) -> Option<u64> {
    None
}

impl Ended {
    /// What a script may rely on after `run --json` or `check --json`: the kind of error, or none.
    pub(crate) fn judged(&self, is_run: bool) -> Result<Option<String>, String> {
        if let Some(why) = self.stopped {
            return Err(format!(
                "{why}: {:.1} s, {:?} bytes",
                self.time.as_secs_f64(),
                self.memory
            ));
        }
        if self.err.contains("panicked") {
            return Err(format!("panicked: {}", self.err));
        }
        if let Some(memory) = self.memory.filter(|m| *m > MOST_MEMORY) {
            return Err(format!("took {memory} bytes of memory"));
        }
        match self.exit {
            None => Err(format!("ended by a signal: {}", self.err)),
            Some(0) if is_run => judge::result_document(&self.out).map(|()| None),
            Some(0) => serde_json::from_slice::<serde_json::Value>(&self.out)
                .map(|_| None)
                .map_err(|e| format!("exit 0, but no JSON: {e}")),
            Some(exit) => judge::error_document(exit, &self.out).map(Some),
        }
    }
}
