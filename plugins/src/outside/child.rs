//! The process of an outside program: started in a group of its own, asked line by line, stopped with all it started.
//!
//! The group is led by a shell that waits for the end of its input, of which this process holds the other end, and then kills the
//! group. So the program ends whatever ends this process, even a kill that cannot be caught. Where there is no `sh` (Windows, a
//! container without one) the program is told by the end of its own input alone, and one that ignores that stays; a program that
//! leaves its group is not followed anywhere.

use std::io::{BufRead, BufReader, Read, Write};
use std::process::{ChildStdin, Command, ExitStatus, Stdio};
use std::sync::mpsc::{Receiver, RecvTimeoutError, SyncSender, sync_channel};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread;
use std::time::{Duration, Instant};

use super::{Limits, Listener};

/// What a program that is told to end (its input closes) gets before it is killed.
const GRACE: Duration = Duration::from_millis(500);

/// How often a program that has not answered is looked at.
const LOOK: Duration = Duration::from_millis(20);

/// How long the last words of a dead program are waited for.
const LAST_WORDS: Duration = Duration::from_millis(200);

/// Longest line shown of a program's standard error, and most of it in all, bytes.
const LINE_SHOWN: u64 = 4096;
const MOST_SHOWN: u64 = 1 << 20;

/// Groups that are alive, for [`stop_all`].
static LIVE: Mutex<Vec<u32>> = Mutex::new(Vec::new());

fn live() -> std::sync::MutexGuard<'static, Vec<u32>> {
    LIVE.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Kills every program at once, with all it started: for a caller that is about to exit on a signal, when nothing is dropped.
pub fn stop_all() {
    for group in live().drain(..) {
        kill_group(group);
    }
}

#[cfg(unix)]
fn kill_group(group: u32) {
    use nix::sys::signal::{Signal, killpg};
    use nix::unistd::Pid;
    if let Ok(group) = i32::try_from(group) {
        // an empty group is what this is for
        let _ = killpg(Pid::from_raw(group), Signal::SIGKILL);
    }
}

#[cfg(not(unix))]
fn kill_group(_group: u32) {}

/// Starts the shell that leads a group and kills it once nobody holds the other end of the shell's input. `None` where there is no
/// shell.
#[cfg(unix)]
fn watch() -> Option<std::process::Child> {
    let mut shell = Command::new("sh");
    std::os::unix::process::CommandExt::process_group(&mut shell, 0);
    shell
        .args(["-c", "read -r never; kill -9 0"])
        .stdin(Stdio::piped())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .ok()
}

#[cfg(not(unix))]
fn watch() -> Option<std::process::Child> {
    None
}

/// A program, what watches over it, and the number of their group.
type Started = (std::process::Child, Option<std::process::Child>, u32);

/// Starts a program in a group that something watches over. The watch is there before the program, so there is no moment at which
/// the program would be left if this process were killed.
fn in_a_group(call: &mut Command) -> Result<Started, String> {
    // the list stays locked until the new group is on it, so that `stop_all` cannot miss it
    let mut live = live();
    let mut watch = watch();
    #[cfg(unix)]
    {
        let leader = watch.as_ref().map(std::process::Child::id);
        let leader = leader.and_then(|id| i32::try_from(id).ok()).unwrap_or(0);
        std::os::unix::process::CommandExt::process_group(call, leader);
    }
    match call.spawn() {
        Ok(process) => {
            let group = watch.as_ref().unwrap_or(&process).id();
            live.push(group);
            Ok((process, watch, group))
        }
        Err(e) => {
            if let Some(watch) = &mut watch {
                let _ = watch.kill();
                let _ = watch.wait();
            }
            Err(format!("cannot be started: {e}"))
        }
    }
}

/// A line of the program's standard output, or why there is none.
enum Heard {
    Line(String),
    NotText,
    TooLong,
}

pub(super) struct Child {
    process: std::process::Child,
    /// Leads the group and kills it when this process is gone.
    watch: Option<std::process::Child>,
    group: u32,
    input: Option<ChildStdin>,
    answers: Receiver<Heard>,
    chatter: Receiver<()>,
    name: Arc<Mutex<String>>,
    time: Duration,
    line: usize,
}

impl Child {
    /// Starts the program of a command line. An error says what the program did.
    pub(super) fn start(command: &str, limits: &Limits) -> Result<Self, String> {
        let words = shell_words::split(command)
            .map_err(|e| format!("cannot be started: its command line is not whole: {e}"))?;
        let (first, rest) = words
            .split_first()
            .ok_or_else(|| "cannot be started: its command line is empty".to_owned())?;
        let mut call = Command::new(first);
        call.args(rest)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped());
        let (mut process, watch, group) = in_a_group(&mut call)?;
        let name = Arc::new(Mutex::new(first.clone()));
        // two answers may wait: a program that talks without being asked stands still
        let (to_answers, answers) = sync_channel(2);
        let (ended, chatter) = sync_channel(1);
        if let Some(stdout) = process.stdout.take() {
            let most = limits.line;
            thread::spawn(move || listen(BufReader::new(stdout), most, &to_answers));
        }
        if let Some(stderr) = process.stderr.take() {
            let (name, listener) = (Arc::clone(&name), Arc::clone(&limits.listener));
            thread::spawn(move || {
                pass_on(BufReader::new(stderr), &name, &listener);
                let _ = ended.send(());
            });
        }
        Ok(Self {
            input: process.stdin.take(),
            process,
            watch,
            group,
            answers,
            chatter,
            name,
            time: limits.time,
            line: limits.line,
        })
    }

    /// The name that its standard error goes under from now on.
    pub(super) fn rename(&mut self, name: &str) {
        name.clone_into(&mut self.name.lock().unwrap_or_else(PoisonError::into_inner));
    }

    /// Puts a question (one line) and waits for the line that answers. An error says what the program did instead.
    ///
    /// A question is a few kilobytes at most, less than a pipe takes: writing it cannot hang on a program that does not read.
    pub(super) fn ask(&mut self, question: &str) -> Result<String, String> {
        let sent = self.input.as_mut().is_some_and(|input| {
            input
                .write_all(format!("{question}\n").as_bytes())
                .and_then(|()| input.flush())
                .is_ok()
        });
        // a program that closed its input may still have said why
        let wait = if sent { self.time } else { LAST_WORDS };
        match self.hear(wait) {
            Ok(Heard::Line(line)) => Ok(line),
            Ok(Heard::NotText) => Err("answered with a line that is not UTF-8 text".to_owned()),
            Ok(Heard::TooLong) => Err(format!(
                "flooded its output: more than {} bytes without an end of line",
                self.line
            )),
            Err(RecvTimeoutError::Timeout) if sent => {
                Err(format!("gave no answer in {} s", self.time.as_secs_f64()))
            }
            Err(_) => Err(self.how_it_ended()),
        }
    }

    /// The next line. A program that has ended is not waited for, though something it started may hold its output open.
    fn hear(&mut self, wait: Duration) -> Result<Heard, RecvTimeoutError> {
        let start = Instant::now();
        loop {
            let left = wait.saturating_sub(start.elapsed());
            match self.answers.recv_timeout(left.min(LOOK)) {
                Err(RecvTimeoutError::Timeout) if left > LOOK => {
                    if self.exit_within(Duration::ZERO).is_some() {
                        let last = self.answers.recv_timeout(LAST_WORDS);
                        return last.map_err(|_| RecvTimeoutError::Disconnected);
                    }
                }
                heard => return heard,
            }
        }
    }

    /// What to say of a program that closed its output without an answer.
    fn how_it_ended(&mut self) -> String {
        match self.exit_within(GRACE) {
            None => "closed its output without an answer".to_owned(),
            Some(status) => format!("ended without an answer ({})", in_words(status)),
        }
    }

    fn exit_within(&mut self, time: Duration) -> Option<ExitStatus> {
        let start = Instant::now();
        loop {
            match self.process.try_wait() {
                Ok(Some(status)) => return Some(status),
                Ok(None) if start.elapsed() < time => thread::sleep(Duration::from_millis(1)),
                _ => return None,
            }
        }
    }

    /// Ends the program: its input closes, it gets a moment, then it is killed with all it started.
    pub(super) fn end(&mut self) {
        self.input = None;
        self.exit_within(GRACE);
        self.kill();
    }

    /// Kills the group, and waits a moment for its last words. The number of a group stays taken while any of its processes lives, and a
    /// leader that ended and is not waited for yet has not had its number given away.
    pub(super) fn kill(&mut self) {
        let group = self.group;
        let mut live = live();
        let Some(at) = live.iter().position(|g| *g == group) else {
            return; // killed before: the number may be another's by now
        };
        live.remove(at);
        kill_group(group);
        drop(live);
        self.input = None;
        let both = [Some(&mut self.process), self.watch.as_mut()];
        for process in both.into_iter().flatten() {
            let _ = process.kill();
            let _ = process.wait();
        }
        let _ = self.chatter.recv_timeout(LAST_WORDS);
    }
}

impl Drop for Child {
    fn drop(&mut self) {
        self.kill();
    }
}

#[cfg(unix)]
fn in_words(status: ExitStatus) -> String {
    use std::os::unix::process::ExitStatusExt;
    match status.signal() {
        Some(signal) => match nix::sys::signal::Signal::try_from(signal) {
            Ok(name) => format!("killed by signal {signal}, {name}"),
            Err(_) => format!("killed by signal {signal}"),
        },
        None => status.to_string(),
    }
}

#[cfg(not(unix))]
fn in_words(status: ExitStatus) -> String {
    status.to_string()
}

/// Reads a line of at most `most` bytes without its end; `None` at the end of the stream.
fn line(reader: &mut impl BufRead, most: u64) -> Option<Vec<u8>> {
    let mut bytes = Vec::new();
    match reader.take(most).read_until(b'\n', &mut bytes) {
        Ok(0) | Err(_) => None,
        Ok(_) => Some(bytes),
    }
}

/// Reads answers until the program ends, floods or nobody listens.
fn listen(mut reader: impl BufRead, most: usize, to: &SyncSender<Heard>) {
    while let Some(bytes) = line(&mut reader, most as u64 + 1) {
        let heard = if bytes.len() > most {
            Heard::TooLong
        } else {
            String::from_utf8(bytes).map_or(Heard::NotText, Heard::Line)
        };
        let last = !matches!(heard, Heard::Line(_));
        if to.send(heard).is_err() || last {
            return;
        }
    }
}

/// Passes on standard error, line by line, under the program's name. What is too much is read and dropped, so that the program
/// does not stand still.
fn pass_on(mut reader: impl BufRead, name: &Mutex<String>, listener: &Listener) {
    let mut shown = 0;
    while let Some(bytes) = line(&mut reader, LINE_SHOWN) {
        if shown > MOST_SHOWN {
            continue;
        }
        shown += bytes.len() as u64;
        // control characters could steer the terminal
        let text: String = String::from_utf8_lossy(&bytes)
            .trim_end()
            .chars()
            .map(|c| if c.is_control() && c != '\t' { ' ' } else { c })
            .collect();
        let name = name.lock().unwrap_or_else(PoisonError::into_inner).clone();
        listener(&format!("{name}: {text}"));
        if shown > MOST_SHOWN {
            listener(&format!("{name}: (too much; no more of it is shown)"));
        }
    }
}
