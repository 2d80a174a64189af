//! What is wrong with a case file, where, and what would be right.

use std::fmt;

/// One thing wrong with a case file.
#[derive(Clone, Debug, PartialEq, Eq, serde::Serialize)]
pub struct Problem {
    /// Line, from 1.
    pub line: usize,
    /// Column in characters, from 1.
    pub column: usize,
    /// The key at fault, e.g. `step[0].cut[0].diameter`; empty for a text that is not TOML.
    pub field: String,
    /// What is wrong and what would be right.
    pub message: String,
    /// What kind of problem it is.
    #[serde(skip)]
    pub kind: ProblemKind,
}

/// Kinds of problems.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[non_exhaustive]
pub enum ProblemKind {
    /// The file is wrong.
    #[default]
    Input,
    /// A hold leaves the part loose.
    Loose,
    /// A cut goes through the wall.
    CutThrough,
    /// What is asked for would take more memory or time than the solver takes on.
    TooLarge,
    /// The file is right: a scheme's outside program failed on it.
    Program,
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}:{}: ", self.line, self.column)?;
        if !self.field.is_empty() {
            write!(f, "{}: ", self.field)?;
        }
        f.write_str(&self.message)
    }
}

/// Line and column (both from 1, column in characters) of a byte offset.
pub(super) fn position(text: &str, offset: usize) -> (usize, usize) {
    let mut offset = offset.min(text.len());
    while !text.is_char_boundary(offset) {
        offset -= 1;
    }
    let before = &text[..offset];
    let start = before.rfind('\n').map_or(0, |k| k + 1);
    (
        before.matches('\n').count() + 1,
        before[start..].chars().count() + 1,
    )
}

/// The known word nearest to `word`, if one is near enough to be meant.
pub(super) fn nearest<'a>(word: &str, known: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    known
        .into_iter()
        .map(|k| (strsim::jaro_winkler(word, k), k))
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .filter(|(score, _)| *score > 0.7)
        .map(|(_, k)| k)
}

/// What the user typed, cut short and without control characters, so that a message stays on its line.
pub(super) fn shown(typed: &str) -> String {
    let mut s: String = typed
        .chars()
        .take(60)
        .map(|c| if c.is_control() { ' ' } else { c })
        .collect();
    if typed.chars().count() > 60 {
        s.push_str("...");
    }
    s
}
