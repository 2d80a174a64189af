//! Signals: a command that is told to end sweeps up, says so and ends with 128 plus the signal's number.
//!
//! The solver is asked to end at its next round; what does not get there in a moment (a read that waits, a long factorisation)
//! is ended from here. Nothing of a run is under its final name until all of it is, so nothing half done is left either way.

use std::sync::atomic::{AtomicBool, AtomicI32, Ordering};

use ringwright_plugins::outside;

use crate::failure::{Failure, FailureKind};

/// The signal that came, 0 for none.
static SIGNAL: AtomicI32 = AtomicI32::new(0);

/// Whether a program is reading standard output.
static JSON: AtomicBool = AtomicBool::new(false);

/// Whether the command is to end.
pub(crate) fn came() -> bool {
    SIGNAL.load(Ordering::SeqCst) != 0
}

/// Ends a command on which a signal has come, before it writes anything.
pub(crate) fn check() -> Result<(), Failure> {
    if came() { Err(failure()) } else { Ok(()) }
}

/// What to say of a command that a signal has ended.
pub(crate) fn failure() -> Failure {
    Failure::new(FailureKind::Interrupted, "interrupted; nothing was written")
}

/// Exit status of an interrupted command: 128 and the signal, 130 for an interrupt from the keyboard.
pub(crate) fn status() -> u8 {
    match SIGNAL.load(Ordering::SeqCst) {
        0 => 130,
        signal => 128 + u8::try_from(signal).unwrap_or(2),
    }
}

/// Whether whoever is told of an interrupt reads JSON.
pub(crate) fn answers_in_json(json: bool) {
    JSON.store(json, Ordering::SeqCst);
}

/// Stops whatever a signal must not leave behind: programs stand in groups of their own, which an interrupt from the keyboard
/// does not reach.
fn stop_all(signal: i32) {
    // first, for the command may see its program die and end before this thread gets any further
    let _ = SIGNAL.compare_exchange(0, signal, Ordering::SeqCst, Ordering::SeqCst);
    outside::stop_all();
}

#[cfg(unix)]
mod system {
    use std::io::Write;
    use std::os::fd::AsFd;
    use std::sync::atomic::Ordering;
    use std::sync::mpsc::Receiver;
    use std::sync::{Arc, Once};
    use std::thread;
    use std::time::Duration;

    use signal_hook::consts::{SIGHUP, SIGINT, SIGQUIT, SIGTERM, SIGXFSZ};
    use signal_hook::iterator::Signals;

    /// What a command gets to end by itself.
    const GRACE: Duration = Duration::from_millis(500);

    /// What sweeping up gets.
    const MOST_SWEEP: Duration = Duration::from_secs(5);

    /// Listens for the signals that ask a program to end, from now on and for the life of the process.
    pub(crate) fn listen() {
        static ONCE: Once = Once::new();
        ONCE.call_once(|| {
            let mut wanted = vec![SIGINT, SIGTERM, SIGQUIT];
            // who starts a program with `nohup` wants it to outlive the terminal
            if !is_ignored(SIGHUP) {
                wanted.push(SIGHUP);
            }
            // a limit on the size of files is to be an error of the write, not the end of the process
            let _ = signal_hook::flag::register(SIGXFSZ, Arc::default());
            // a process that cannot have a handler is ended by the system, as before
            if let Ok(mut signals) = Signals::new(wanted) {
                thread::spawn(move || {
                    let mut all = signals.forever();
                    if let Some(signal) = all.next() {
                        super::stop_all(signal);
                        thread::spawn(end_after_grace);
                    }
                    // whoever asks twice does not want to wait
                    if all.next().is_some() {
                        end();
                    }
                });
            }
        });
    }

    fn end_after_grace() {
        // at once, so that no more files are made; those that have begun to appear do
        let _ = sweep();
        thread::sleep(GRACE);
        end();
    }

    /// Sweeps up beside the caller: a write that waits for its disk would keep it waiting. What it leaves is swept by the next run.
    fn sweep() -> Receiver<()> {
        let (done, swept) = std::sync::mpsc::channel();
        thread::spawn(move || {
            ringwright_solver::report::files::sweep_all();
            let _ = done.send(());
        });
        swept
    }

    /// Ends the process from beside the command, which is busy and may hold the locks of the streams: past them.
    fn end() {
        let _ = sweep().recv_timeout(MOST_SWEEP);
        let failure = super::failure();
        let _ = write(std::io::stderr(), &format!("{}\n", failure.words));
        if super::JSON.load(Ordering::SeqCst) {
            let _ = write(std::io::stdout(), &failure.document());
        }
        std::process::exit(i32::from(super::status()));
    }

    fn write(stream: impl AsFd, text: &str) -> std::io::Result<()> {
        let stream = stream.as_fd().try_clone_to_owned()?;
        std::fs::File::from(stream).write_all(text.as_bytes())
    }

    /// Whether the process was started with a signal ignored, where the system tells.
    fn is_ignored(signal: i32) -> bool {
        let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
        let mask = status
            .lines()
            .find_map(|line| line.strip_prefix("SigIgn:"))
            .and_then(|mask| u64::from_str_radix(mask.trim(), 16).ok());
        mask.is_some_and(|mask| mask >> (signal - 1) & 1 == 1)
    }
}

#[cfg(not(unix))]
mod system {
    /// Signals are a matter of Unix: elsewhere the system ends the process, and the next run sweeps up after it.
    pub(crate) fn listen() {}
}

pub(crate) use system::listen;
