//! What is wrong with a case file, where, and what would be right.

use std::collections::BTreeSet;
use std::fmt;
use std::ops::Range;

use super::most::MOST_PROBLEMS;

/// One thing wrong with a case file.
#[derive(Clone, Debug, PartialEq, Eq, serde::Serialize)]
pub struct Problem {
    /// Line, from 1; 0 where there is none, as in a case made in code.
    pub line: usize,
    /// Column in characters, from 1; 0 where there is none.
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

impl Problem {
    /// Whether it stands for all problems beyond those that are listed.
    pub fn is_rest(&self) -> bool {
        self.field.is_empty() && self.message.starts_with(REST)
    }
}

/// How the problem begins that stands for the rest of very many.
const REST: &str = "and ";

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        // a case made in code has no lines
        if self.line > 0 {
            write!(f, "{}:{}: ", self.line, self.column)?;
        }
        if !self.field.is_empty() {
            write!(f, "{}: ", self.field)?;
        }
        f.write_str(&self.message)
    }
}

/// A problem at a byte offset of a text.
pub(crate) fn problem_at(text: &str, at: usize, field: &str, message: String) -> Problem {
    let found = Found {
        at,
        field: field.to_owned(),
        message,
        kind: ProblemKind::Input,
    };
    found.placed(text)
}

/// Problems of a case whose text nobody has before them: keys and what is wrong, in one line.
pub(crate) fn in_one_line(problems: &[Problem]) -> String {
    let all: Vec<String> = problems
        .iter()
        .map(|p| format!("{}: {}", p.field, p.message))
        .collect();
    all.join("; ")
}

/// A problem at a byte offset: places are worked out only for the few that are listed, for each takes a look over the text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Found {
    pub at: usize,
    pub field: String,
    pub message: String,
    pub kind: ProblemKind,
}

impl Found {
    fn placed(self, text: &str) -> Problem {
        let (line, column) = position(text, self.at);
        Problem {
            line,
            column,
            field: self.field,
            message: self.message,
            kind: self.kind,
        }
    }
}

/// The problems in file order, each once; of very many the first, and at the place of the next how many more there are.
pub(super) fn listed(text: &str, mut found: Vec<Found>) -> Vec<Problem> {
    found.sort_by_key(|f| f.at);
    let mut told = BTreeSet::new();
    found.retain(|f| told.insert((f.at, f.field.clone(), f.message.clone())));
    let rest = found.split_off(found.len().min(MOST_PROBLEMS));
    let more = rest.first().map(|next| Found {
        at: next.at,
        field: String::new(),
        message: format!("{REST}{} more from here on", counted(rest.len())),
        kind: match rest.iter().any(|f| f.kind == ProblemKind::Program) {
            true => ProblemKind::Program,
            false => ProblemKind::Input,
        },
    });
    found
        .into_iter()
        .chain(more)
        .map(|f| f.placed(text))
        .collect()
}

/// "1 problem", "29,900 problems".
fn counted(n: usize) -> String {
    let digits = n.to_string();
    let mut grouped = String::new();
    for (k, digit) in digits.chars().enumerate() {
        if k > 0 && (digits.len() - k).is_multiple_of(3) {
            grouped.push(',');
        }
        grouped.push(digit);
    }
    format!("{grouped} problem{}", if n == 1 { "" } else { "s" })
}

/// Where the lines of a text are, for many questions.
pub(super) struct Lines(Vec<usize>);

impl Lines {
    pub fn of(text: &str) -> Self {
        Self(text.match_indices('\n').map(|(k, _)| k).collect())
    }

    /// The line of a byte offset, from 1.
    pub fn line(&self, offset: usize) -> usize {
        self.0.partition_point(|end| *end < offset) + 1
    }

    /// The bytes of a line, from 1, without its end.
    pub fn bytes(&self, line: usize, text: &str) -> Range<usize> {
        let end = |k: usize| self.0.get(k).copied().unwrap_or(text.len());
        let start = line.checked_sub(2).map_or(0, |k| end(k) + 1);
        start.min(text.len())..end(line.saturating_sub(1)).max(start.min(text.len()))
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

/// The first of some names, and how many more there are, so that a message keeps its length.
pub(super) fn few_of(names: &[impl AsRef<str>]) -> String {
    const SHOWN: usize = 20;
    let shown: Vec<&str> = names.iter().take(SHOWN).map(AsRef::as_ref).collect();
    let shown = shown.join(", ");
    match names.len().saturating_sub(SHOWN) {
        0 => shown,
        more => format!("{shown} and {more} more"),
    }
}

/// Whether a character can steer a terminal or turn the order of what stands beside it: not for any screen.
pub fn steers(c: char) -> bool {
    c.is_control()
        || matches!(c, '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}

/// What the user typed, cut short and without control characters, so that a message stays on its line.
pub(super) fn shown(typed: &str) -> String {
    cut(typed, 60)
}

/// Words of somebody else's on one line.
pub(super) fn shown_whole(words: &str) -> String {
    cut(&words.replace('\n', "; "), 300)
}

fn cut(typed: &str, most: usize) -> String {
    let mut chars = typed.chars();
    let mut s: String = chars
        .by_ref()
        .take(most)
        .map(|c| if steers(c) { ' ' } else { c })
        .collect();
    if chars.next().is_some() {
        s.push_str("...");
    }
    s
}
