//! The user's own configuration: `ringwright/config.toml` in the folder for configurations. It alone, beside the command line,
//! may name programs to run.

use std::io::ErrorKind;
use std::path::{Path, PathBuf};

use ringwright_solver::case::{MOST_CASE_BYTES, open_input, read_little_over};
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// The one key.
const PROGRAMS: &str = "scheme_programs";

/// What a user may set once for all runs.
#[derive(Debug, Default, PartialEq)]
pub(crate) struct Configuration {
    /// Command lines of programs that answer for holding schemes.
    pub(crate) scheme_programs: Vec<String>,
}

/// Where it lies: `$XDG_CONFIG_HOME/ringwright/config.toml`, or in `~/.config`; `%APPDATA%` on Windows. A relative path in
/// `XDG_CONFIG_HOME` is not looked at, as the XDG base directory specification has it.
pub(crate) fn file() -> Option<PathBuf> {
    let folder = |key: &str| {
        std::env::var_os(key)
            .map(PathBuf::from)
            .filter(|p| p.is_absolute())
    };
    let base = if cfg!(windows) {
        folder("APPDATA")
    } else {
        folder("XDG_CONFIG_HOME").or_else(|| folder("HOME").map(|home| home.join(".config")))
    };
    base.map(|b| b.join("ringwright").join("config.toml"))
}

/// Why there is no configuration. Either way a call goes on without it: what hangs on it will be missed by name.
#[derive(Debug)]
pub(crate) enum Unusable {
    /// Nobody can read it: an odd home, most likely, and none of the user's doing.
    Unreadable(String),
    /// It does not say what a configuration says: file, line and what would be right.
    Wrong(String),
}

/// Reads it; one that is not there says nothing.
pub(crate) fn read(file: &Path) -> Result<Configuration, Unusable> {
    let shown = file.display();
    let unreadable = |e| Unusable::Unreadable(format!("cannot read {shown}: {e}"));
    let bytes = match open_input(file) {
        Ok(file) => read_little_over(file, MOST_CASE_BYTES).map_err(unreadable)?,
        Err(e) if e.kind() == ErrorKind::NotFound => return Ok(Configuration::default()),
        Err(e) => return Err(unreadable(e)),
    };
    let wrong = |line: usize, why: &str| Unusable::Wrong(format!("{shown}:{line}: {why}"));
    if bytes.len() > MOST_CASE_BYTES {
        return Err(wrong(1, "longer than a configuration can be"));
    }
    let text = String::from_utf8(bytes).map_err(|_| wrong(1, "not UTF-8 text"))?;
    let line = |at: usize| 1 + text[..at.min(text.len())].matches('\n').count();
    let table = DeTable::parse(&text).map_err(|e| {
        let at = e.span().map_or(0, |s| s.start);
        wrong(line(at), "not TOML from here on")
    })?;
    programs(table.get_ref()).map_err(|(at, why)| wrong(line(at), &why))
}

/// What the file says; an error comes with the byte offset of what is at fault.
fn programs(table: &DeTable) -> Result<Configuration, (usize, String)> {
    let mut configuration = Configuration::default();
    for (key, value) in table {
        let name = key.get_ref().as_ref();
        if name != PROGRAMS {
            let name: String = name.chars().take(60).collect();
            let why = format!("unknown key \"{name}\"; the only one is {PROGRAMS}");
            return Err((key.span().start, why));
        }
        let expected = || {
            format!("{PROGRAMS} is a list of command lines in quotes: [\"python3 my_scheme.py\"]")
        };
        let DeValue::Array(list) = value.get_ref() else {
            return Err((value.span().start, expected()));
        };
        let command = |value: &Spanned<DeValue>| match value.get_ref() {
            DeValue::String(text) => Ok(text.to_string()),
            _ => Err((value.span().start, expected())),
        };
        configuration.scheme_programs = list.iter().map(command).collect::<Result<_, _>>()?;
    }
    Ok(configuration)
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn programs_are_listed_and_a_slip_is_told_with_its_line() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("config.toml");
        assert!(matches!(read(&file), Ok(c) if c == Configuration::default()));
        std::fs::write(&file, "# mine\nscheme_programs = [\"python3 a.py\"]\n").unwrap();
        assert!(matches!(read(&file), Ok(c) if c.scheme_programs == ["python3 a.py"]));
        std::fs::write(&file, "# mine\nscheme_program = []\n").unwrap();
        let Err(Unusable::Wrong(message)) = read(&file) else {
            panic!("an unknown key passed");
        };
        assert!(
            message.contains("config.toml:2: unknown key \"scheme_program\""),
            "{message}"
        );
    }

    #[test]
    fn what_is_wrong_is_told_in_our_own_words() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("config.toml");
        for (text, says) in [
            (
                "scheme_programs = 3\n",
                "config.toml:1: scheme_programs is a list",
            ),
            (
                "\nscheme_programs = [\"a\", 3]\n",
                "config.toml:2: scheme_programs is a list",
            ),
            ("\n\nscheme_programs = [\n", "config.toml:3: not TOML"),
        ] {
            std::fs::write(&file, text).unwrap();
            let Err(Unusable::Wrong(message)) = read(&file) else {
                panic!("{text} passed");
            };
            assert!(message.contains(says), "{message}");
        }
    }

    #[test]
    fn a_configuration_that_nobody_can_read_is_none() {
        let folder = tempfile::tempdir().unwrap();
        assert!(matches!(read(folder.path()), Err(Unusable::Unreadable(_))));
        let file = folder.path().join("file");
        std::fs::write(&file, "").unwrap();
        // a home that is no folder
        assert!(matches!(
            read(&file.join("config.toml")),
            Err(Unusable::Unreadable(_))
        ));
    }
}
