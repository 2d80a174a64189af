//! The user's own configuration: `ringwright/config.toml` in the folder for configurations. It alone, beside the command line,
//! may name programs to run.

use std::io::ErrorKind;
use std::path::{Path, PathBuf};

use serde::Deserialize;

/// What a user may set once for all runs.
#[derive(Debug, Default, Deserialize, PartialEq)]
#[serde(deny_unknown_fields)]
pub(crate) struct Configuration {
    /// Command lines of programs that answer for holding schemes.
    #[serde(default)]
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

/// Why a configuration cannot be used.
pub(crate) enum Unusable {
    Io(String),
    Wrong(String),
}

/// Reads it; one that is not there says nothing.
pub(crate) fn read(file: &Path) -> Result<Configuration, Unusable> {
    let shown = file.display();
    let text = match std::fs::read_to_string(file) {
        Ok(text) => text,
        Err(e) if e.kind() == ErrorKind::NotFound => return Ok(Configuration::default()),
        Err(e) => return Err(Unusable::Io(format!("cannot read {shown}: {e}"))),
    };
    toml::from_str(&text).map_err(|e| {
        let before = &text[..e.span().map_or(0, |s| s.start)];
        let line = before.matches('\n').count() + 1;
        let message = e.message().replace('\n', "; ");
        Unusable::Wrong(format!("{shown}:{line}: {message}"))
    })
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
            message.contains("config.toml:2: unknown field"),
            "{message}"
        );
    }
}
