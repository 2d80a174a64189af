//! Outputs of a command against its inputs, and waiting for a folder that another run has.

use std::path::{Path, PathBuf};
use std::thread::sleep;
use std::time::{Duration, Instant, SystemTime};

use ringwright_solver::case::Case;
use ringwright_solver::report::ReportError;
use ringwright_solver::report::files::Folder;

use crate::failure::Failure;
use crate::interrupt;
use crate::screen::Screen;

/// How long a run waits for another that has its folder.
const PATIENCE: Duration = Duration::from_secs(10);
/// How often it looks.
const BETWEEN: Duration = Duration::from_millis(100);

/// The files that a command reads for a case: its own, and those that it names.
pub(crate) fn inputs(path: &Path, case: &Case) -> Vec<PathBuf> {
    let named = case.files().map(Path::to_owned);
    std::iter::once(file_of(path)).chain(named).collect()
}

/// The file behind an argument; standard input may be a file too.
pub(crate) fn file_of(path: &Path) -> PathBuf {
    if path == Path::new("-") {
        PathBuf::from("/dev/stdin")
    } else {
        path.to_owned()
    }
}

/// Readies the folder of a run before it solves. If another run has it, that one is named and waited for, a little.
pub(crate) fn open(
    folder: &Path,
    path: &Path,
    case: &Case,
    screen: &mut Screen,
) -> Result<Folder, Failure> {
    let inputs = inputs(path, case);
    let holder = format!("{}, since {}", path.display(), utc(SystemTime::now()));
    let began = Instant::now();
    let mut told = false;
    loop {
        match Folder::open(folder, &inputs, &holder) {
            Err(ReportError::InUse { path, holder }) if began.elapsed() < PATIENCE => {
                if !told {
                    screen.note(&format!(
                        "ringwright: {} is being written by another run ({holder}); waiting for it, {} s at most",
                        path.display(),
                        PATIENCE.as_secs()
                    ));
                    told = true;
                }
                interrupt::check()?;
                sleep(BETWEEN);
            }
            other => return Ok(other?),
        }
    }
}

/// A moment as people write it.
fn utc(moment: SystemTime) -> String {
    let since = moment.duration_since(SystemTime::UNIX_EPOCH);
    let seconds = since.map_or(0, |d| d.as_secs());
    let [year, month, day] = date(seconds / 86_400);
    let (hour, minute, second) = (seconds / 3600 % 24, seconds / 60 % 60, seconds % 60);
    format!("{year}-{month:02}-{day:02} {hour:02}:{minute:02}:{second:02} UTC")
}

/// Year, month and day of a day counted from 1970-01-01.
fn date(mut day: u64) -> [u64; 3] {
    let is_leap = |y: u64| y.is_multiple_of(4) && (!y.is_multiple_of(100) || y.is_multiple_of(400));
    let mut year = 1970;
    while day >= 365 + u64::from(is_leap(year)) {
        day -= 365 + u64::from(is_leap(year));
        year += 1;
    }
    let february = 28 + u64::from(is_leap(year));
    let mut month = 1;
    for length in [31, february, 31, 30, 31, 30, 31, 31, 30, 31, 30] {
        if day < length {
            break;
        }
        day -= length;
        month += 1;
    }
    [year, month, day + 1]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_have_their_dates() {
        for (day, expected) in [
            (0, [1970, 1, 1]),
            (31 + 28, [1970, 3, 1]),
            (11_016, [2000, 2, 29]),
            (20_453, [2025, 12, 31]),
            (20_786, [2026, 11, 29]),
        ] {
            assert_eq!(date(day), expected, "{day}");
        }
    }
}
