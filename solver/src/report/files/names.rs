//! Names that a run writes, and whether what stands under them may be replaced.

use std::fs::{self, File};
use std::io::{self, BufReader, Read};
use std::path::{Path, PathBuf};

use serde::de::{Deserializer, IgnoredAny, MapAccess, Visitor};

use super::super::csv;

/// The document, which is written last and tells a folder of ours.
pub(super) const DOCUMENT: &str = "result.json";
pub(super) const PROFILES: &str = "profiles.csv";
pub(super) const STATIONS: &str = "stations.csv";
pub(super) const SHAPE: &str = "shape.svg";
pub(super) const STAGES: &str = "stages.pvd";
pub(super) const TUBE_STAGES: &str = "tube-stages.pvd";
/// What the surfaces of a tube have before the name of the state.
pub(super) const TUBE: &str = "tube-";
/// How `format` begins in every document of the program.
const FORMAT: &str = "ringwright-";
/// As much of a file as is read to see whose it is, bytes.
const HEAD: u64 = 1 << 20;

/// Whether a file name is one that a run writes.
fn is_ours(name: &str) -> bool {
    if matches!(
        name,
        DOCUMENT | PROFILES | STATIONS | SHAPE | STAGES | TUBE_STAGES
    ) {
        return true;
    }
    let parts = name
        .strip_prefix(TUBE)
        .unwrap_or(name)
        .strip_prefix("step-")
        .and_then(|n| n.strip_suffix(".vtu"))
        .and_then(|n| n.split_once('-'));
    parts.is_some_and(|(number, stage)| {
        is_number(number) && matches!(stage, "held" | "cut" | "released")
    })
}

/// Whether this is a file that a run had not finished when it was killed: `.NAME.PROCESS.part`.
fn is_unfinished(name: &str) -> bool {
    name.strip_prefix('.')
        .and_then(|n| n.strip_suffix(".part"))
        .and_then(|n| n.rsplit_once('.'))
        .is_some_and(|(name, process)| is_ours(name) && is_number(process))
}

/// Whether a name is one that runs write or leave.
pub(super) fn is_of_runs(name: &str) -> bool {
    is_ours(name) || is_unfinished(name)
}

fn is_number(text: &str) -> bool {
    !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit())
}

/// Names in a folder that are a run's, sorted, with the document first: it is the first to go, for without it nobody takes the rest for a result.
pub(super) fn ours_in(folder: &Path) -> io::Result<Vec<String>> {
    let mut names = Vec::new();
    for entry in fs::read_dir(folder)? {
        if let Ok(name) = entry?.file_name().into_string()
            && is_of_runs(&name)
        {
            names.push(name);
        }
    }
    names.sort_by_key(|name| (name != DOCUMENT, name.clone()));
    Ok(names)
}

/// The first file that a run would replace and that is somebody else's. In a folder with a document of ours the
/// fields, in any other each file has to show that a run wrote it.
pub(super) fn foreign_in(folder: &Path, ours: &[String]) -> io::Result<Option<PathBuf>> {
    let whole = ours.iter().any(|name| name == DOCUMENT);
    for name in ours {
        let path = folder.join(name);
        if is_unfinished(name) {
            continue;
        }
        // the names of fields leave room for files of the user's own, and so do those that only a tube has: these always have to show it
        let also = matches!(name.as_str(), STATIONS | TUBE_STAGES);
        let shows = name == DOCUMENT || !whole || also || name.ends_with(".vtu");
        if path.is_dir() || (shows && !is_of_a_run(&path, name)?) {
            return Ok(Some(path));
        }
    }
    Ok(None)
}

fn is_of_a_run(path: &Path, name: &str) -> io::Result<bool> {
    // a pipe or a device is nobody's result, and reading it may never end
    if !fs::metadata(path).is_ok_and(|found| found.is_file()) {
        return Ok(false);
    }
    let file = File::open(path)?;
    if name == DOCUMENT {
        return Ok(is_document(BufReader::new(file.take(HEAD))));
    }
    let mut head = Vec::new();
    file.take(4096).read_to_end(&mut head)?;
    let head = String::from_utf8_lossy(&head);
    Ok(match name {
        PROFILES => head.starts_with(csv::HEADER),
        STATIONS => head.starts_with(csv::STATIONS_HEADER),
        SHAPE => head.contains("id=\"shape-title\""),
        STAGES => head.contains("file=\"step-"),
        TUBE_STAGES => head.contains("file=\"tube-step-"),
        _ => head.contains("<VTKFile"),
    })
}

/// Whether this is a JSON object whose `format` is one of ours. Nothing after that key is read.
fn is_document(text: impl Read) -> bool {
    let mut format = None;
    let seen = Format { seen: &mut format };
    // ends with an error at that key, on purpose
    let _ = serde_json::Deserializer::from_reader(text).deserialize_map(seen);
    format.is_some_and(|f| f.starts_with(FORMAT))
}

struct Format<'a> {
    seen: &'a mut Option<String>,
}

impl<'de> Visitor<'de> for Format<'_> {
    type Value = ();

    fn expecting(&self, f: &mut std::fmt::Formatter) -> std::fmt::Result {
        f.write_str("an object")
    }

    fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<(), A::Error> {
        while let Some(key) = map.next_key::<String>()? {
            if key == "format" {
                *self.seen = Some(map.next_value()?);
                return Err(serde::de::Error::custom("seen"));
            }
            map.next_value::<IgnoredAny>()?;
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_of_a_run_are_known() {
        for name in [
            "result.json",
            "shape.svg",
            "step-1-cut.vtu",
            "step-12-held.vtu",
            "stations.csv",
            "tube-stages.pvd",
            "tube-step-2-released.vtu",
        ] {
            assert!(is_ours(name), "{name}");
            assert!(is_unfinished(&format!(".{name}.123.part")), "{name}");
        }
        for name in [
            "notes.txt",
            "step-1-mine.vtu",
            "step--held.vtu",
            "step-x-cut.vtu",
            "tube-1-held.vtu",
            "tube-step-1-mine.vtu",
        ] {
            assert!(!is_ours(name), "{name}");
            assert!(!is_unfinished(&format!(".{name}.123.part")), "{name}");
        }
        assert!(!is_unfinished(".result.json.part"));
    }

    #[test]
    fn a_document_is_known_by_its_format() {
        for (text, ours) in [
            ("{\n  \"format\": \"ringwright-result-1\",\n", true),
            (
                " {\"a\": {\"format\": \"x\"}, \"format\":\"ringwright-result-2\"}",
                true,
            ),
            ("{\"a\": {\"format\": \"ringwright-result-1\"}}", false),
            ("{\"format\": \"other\"}", false),
            ("{\"format\": 1}", false),
            ("\"format\": \"ringwright-result-1\"", false),
            ("[1]", false),
            ("", false),
        ] {
            assert_eq!(is_document(text.as_bytes()), ours, "{text}");
        }
    }
}
