//! Files that a person names: opened only if they are such as end, and read no farther than a case or readings can need.

use std::fs::{File, FileType};
use std::io::{self, Read};
use std::path::Path;

/// The largest case file that is read, bytes. The longest sensible one, a hundred thousand readings typed into it, has a little less.
pub const MOST_CASE_BYTES: usize = 1_000_000;

/// Opens a file to read: a regular one, or a pipe that the caller's shell handed over by number (`<(...)`, `/dev/stdin`).
///
/// A named pipe is refused, because opening one waits for as long as nobody writes to it, and so are devices, which may never
/// end; what comes through either can be given on standard input.
///
/// # Errors
/// Those of the system, and for what is not a file its kind and what to do instead.
pub fn open_input(path: &Path) -> io::Result<File> {
    let kind = std::fs::metadata(path)?.file_type();
    match is_not_read(path, kind) {
        None => File::open(path),
        Some(words) => Err(io::Error::new(io::ErrorKind::InvalidInput, words)),
    }
}

/// Why a thing of this kind is not read, if it is not.
fn is_not_read(path: &Path, kind: FileType) -> Option<&'static str> {
    const BY_NUMBER: [&str; 3] = ["/dev/stdin", "/dev/fd/", "/proc/self/fd/"];
    if kind.is_file() {
        return None;
    }
    if kind.is_dir() {
        return Some("it is a folder; name a file in it");
    }
    let path = path.to_string_lossy();
    if BY_NUMBER.iter().any(|start| path.starts_with(start)) {
        return None;
    }
    #[cfg(unix)]
    if std::os::unix::fs::FileTypeExt::is_fifo(&kind) {
        return Some(
            "it is a named pipe, which may never be written to; read it through standard input (`- < PIPE`)",
        );
    }
    Some("it is a device, not a file; what it gives can be read through standard input (`-`)")
}

/// Reads to the end, but no more than one byte beyond `most`: whoever gets more than `most` bytes has met too large a text.
///
/// # Errors
/// Those of the reader.
pub fn read_little_over(reader: impl Read, most: usize) -> io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    reader.take(most as u64 + 1).read_to_end(&mut bytes)?;
    Ok(bytes)
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn what_may_never_end_is_not_opened() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("a");
        std::fs::write(&file, "text").unwrap();
        assert!(open_input(&file).is_ok());
        let folder = open_input(folder.path()).unwrap_err().to_string();
        assert!(folder.contains("it is a folder"), "{folder}");
        if cfg!(unix) {
            let device = open_input(Path::new("/dev/zero")).unwrap_err().to_string();
            assert!(device.contains("it is a device"), "{device}");
        }
    }

    #[test]
    fn a_reader_without_end_is_left() {
        let read = |most| read_little_over(io::repeat(b'x'), most).unwrap().len();
        assert_eq!((read(0), read(1000)), (1, 1001));
        assert_eq!(read_little_over(&b"abc"[..], 3).unwrap().len(), 3);
    }
}
