//! The table as a Parquet file beside its CSV file: one that is not of these rows must not lie there.

use std::fs::{self, File};
use std::io::{self, Read, Seek, SeekFrom};
use std::path::{Path, PathBuf};

use ringwright_solver::report::ReportError;

/// Key of the file's metadata under which all of `study.json` stands.
pub(super) const KEY: &str = "ringwright-study-1";

/// First and last bytes of a Parquet file; before the last stands the length of its footer.
const MAGIC: &[u8] = b"PAR1";

/// Longest footer that is looked into, bytes: one of ten million rows has some 5 MB.
const MOST_FOOTER: u64 = 64 << 20;

/// The Parquet file of a table; `None` of a share of a table, which has none.
pub(super) fn of(table: &Path) -> Option<PathBuf> {
    (table.file_name()? == "results.csv").then(|| table.with_extension("parquet"))
}

/// Refuses, before the work begins, what stands in the way of the Parquet file of a table.
pub(super) fn check(table: &Path) -> Result<(), ReportError> {
    if !cfg!(feature = "parquet") {
        return Ok(());
    }
    let Some(path) = of(table) else {
        return Ok(());
    };
    match is_foreign(&path) {
        Ok(false) => Ok(()),
        Ok(true) => Err(ReportError::Foreign { path }),
        Err(e) => Err(ReportError::write(&path, e)),
    }
}

/// Takes away the Parquet file of the rows that were there, before others get the table's name. Somebody else's file stays.
pub(super) fn clear(table: &Path) -> Result<(), ReportError> {
    let Some(path) = of(table) else {
        return Ok(());
    };
    if !path.is_file() || is_foreign(&path).unwrap_or(true) {
        return Ok(());
    }
    fs::remove_file(&path).map_err(|e| ReportError::write(&path, e))
}

/// Whether something stands there that is no Parquet file of a study.
fn is_foreign(path: &Path) -> io::Result<bool> {
    let found = match fs::metadata(path) {
        Ok(found) => found,
        Err(e) if e.kind() == io::ErrorKind::NotFound => return Ok(false),
        Err(e) => return Err(e),
    };
    if found.is_dir() {
        return Err(io::ErrorKind::IsADirectory.into());
    }
    if !found.is_file() {
        return Ok(true);
    }
    let length = found.len();
    if length == 0 {
        return Ok(false);
    }
    let mut file = File::open(path)?;
    let mut last = [0; 8];
    if length < 12 {
        return Ok(true);
    }
    file.seek(SeekFrom::End(-8))?;
    file.read_exact(&mut last)?;
    let [a, b, c, d, magic @ ..] = last;
    let footer = u64::from(u32::from_le_bytes([a, b, c, d]));
    if magic != MAGIC || footer > MOST_FOOTER || footer + 12 > length {
        return Ok(true);
    }
    file.seek(SeekFrom::Start(length - 8 - footer))?;
    let mut text = Vec::new();
    file.take(footer).read_to_end(&mut text)?;
    Ok(!text.windows(KEY.len()).any(|part| part == KEY.as_bytes()))
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn what_is_of_other_rows_is_taken_away() {
        let folder = tempfile::tempdir().unwrap();
        let [table, share, path] = ["results.csv", "results-1-of-2.csv", "results.parquet"]
            .map(|name| folder.path().join(name));
        clear(&table).unwrap();
        let ours = [
            MAGIC,
            KEY.as_bytes(),
            &(KEY.len() as u32).to_le_bytes(),
            MAGIC,
        ]
        .concat();
        fs::write(&path, &ours).unwrap();
        // a share leaves it alone
        clear(&share).unwrap();
        assert!(path.exists());
        clear(&table).unwrap();
        assert!(!path.exists());
        fs::write(&path, "somebody else's").unwrap();
        clear(&table).unwrap();
        assert!(path.exists());
        assert_eq!(check(&table).is_err(), cfg!(feature = "parquet"));
    }

    #[test]
    fn whose_file_it_is_is_seen_at_its_end() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("results.parquet");
        assert!(!is_foreign(&path).unwrap());
        let with = |footer: &[u8]| {
            let length = (footer.len() as u32).to_le_bytes();
            [MAGIC, b"rows", footer, &length, MAGIC].concat()
        };
        let long = [&b"PAR1...."[..], &u32::MAX.to_le_bytes(), MAGIC].concat();
        for (bytes, foreign) in [
            (with(b"...ringwright-study-1..."), false),
            (with(b"...pandas..."), true),
            (with(b""), true),
            (long, true),
            (b"PAR1".to_vec(), true),
            (b"a text of somebody else's".to_vec(), true),
            (Vec::new(), false),
        ] {
            fs::write(&path, &bytes).unwrap();
            assert_eq!(is_foreign(&path).unwrap(), foreign, "{bytes:?}");
        }
    }
}
