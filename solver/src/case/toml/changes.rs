//! Values put in place of what a case file says: the same case with another force, another hold.

use std::fmt;
use std::ops::Range as Span;

use toml::Spanned;
use toml::de::{DeString, DeTable, DeValue};

use super::super::problem::{Problem, shown};

/// A value in place of that which a file has under a key, or beside what it has.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Change {
    /// Path of the key, lists counted from 0: `hold.bare[0].force`.
    pub path: String,
    /// The value as it would be typed in a file; a bare word is text, and so is a number with a unit.
    pub value: String,
}

/// Why a change is none: not of the form `PATH=VALUE`, or a path that leads nowhere.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{0}")]
pub struct NoChange(String);

impl Change {
    /// A change of these.
    pub fn new(path: impl Into<String>, value: impl Into<String>) -> Self {
        Self {
            path: path.into(),
            value: value.into(),
        }
    }

    /// From `PATH=VALUE`.
    ///
    /// # Errors
    /// [`NoChange`] if there is no `=`, or the path is none.
    pub fn parse(text: &str) -> Result<Self, NoChange> {
        let (path, value) = text.split_once('=').ok_or_else(|| {
            NoChange(format!(
                "\"{}\" is no change: write PATH=VALUE, such as hold.bare[0].force=500",
                shown(text)
            ))
        })?;
        let change = Self::new(path.trim(), value.trim());
        change.steps()?;
        Ok(change)
    }

    /// The keys and places in lists that lead to the value.
    fn steps(&self) -> Result<Vec<Step>, NoChange> {
        let wrong = |why: &str| {
            NoChange(format!(
                "\"{}\" is no path of a key: {why}; write it as hold.bare[0].force",
                shown(&self.path)
            ))
        };
        let mut steps = Vec::new();
        let mut rest = self.path.as_str();
        loop {
            if let Some(after) = rest.strip_prefix('[') {
                let (index, after) = after
                    .split_once(']')
                    .ok_or_else(|| wrong("a [ stays open"))?;
                let index = index
                    .parse()
                    .map_err(|_| wrong("what stands in [ ] is no whole number"))?;
                if steps.is_empty() {
                    return Err(wrong("it begins with a place in a list"));
                }
                steps.push(Step::Entry(index));
                rest = after;
            } else {
                let (key, after) =
                    key(rest).ok_or_else(|| wrong("a key is missing or not closed"))?;
                steps.push(Step::Key(key));
                rest = after;
            }
            if rest.is_empty() {
                return Ok(steps);
            }
            if !rest.starts_with('[') {
                rest = rest
                    .strip_prefix('.')
                    .ok_or_else(|| wrong("keys are parted by dots"))?;
            }
        }
    }

    /// The value in a document of its own; see [`Changes::apply`].
    fn document(&self) -> String {
        format!("value = {}", self.value)
    }
}

/// What puts one hold into every step of a case.
pub fn hold_in_every_step(text: &str, name: &str) -> Vec<Change> {
    let (document, _) = DeTable::parse_recoverable(text);
    let steps = match document.get_ref().get("step").map(Spanned::get_ref) {
        Some(DeValue::Array(steps)) => steps.len(),
        _ => 0,
    };
    // in quotes: a name may look like a number
    let value = format!("{name:?}");
    (0..steps)
        .map(|k| Change::new(format!("step[{k}].hold"), value.clone()))
        .collect()
}

/// The number, text or band that a case has under a path, as it is typed there; `None` of other tables and of lists, and where there is
/// nothing.
pub fn value_at(text: &str, changes: &[Change], path: &str) -> Option<String> {
    if let Some(change) = changes.iter().rev().find(|c| c.path == path) {
        return Some(change.value.clone());
    }
    let steps = Change::new(path, "").steps().ok()?;
    let (document, _) = DeTable::parse_recoverable(text);
    let mut table = Some(document.get_ref());
    let mut here: Option<&DeValue> = None;
    for step in &steps {
        here = match step {
            Step::Key(key) => table?.get(key.as_str()).map(Spanned::get_ref),
            Step::Entry(index) => match here? {
                DeValue::Array(list) => list.get(*index).map(Spanned::get_ref),
                _ => None,
            },
        };
        table = match here? {
            DeValue::Table(table) => Some(table),
            _ => None,
        };
    }
    match here? {
        DeValue::Table(table) => {
            let entries = table.iter().map(|(key, value)| {
                let value = scalar(value.get_ref())?;
                Some(format!("{} = {value}", key.get_ref()))
            });
            let entries: Vec<String> = entries.collect::<Option<_>>()?;
            let is_band = ["low", "nominal"].iter().any(|k| table.get(*k).is_some());
            is_band.then(|| format!("{{ {} }}", entries.join(", ")))
        }
        value => scalar(value),
    }
}

/// A number or text as it is typed.
fn scalar(value: &DeValue) -> Option<String> {
    match value {
        DeValue::String(text) => Some(format!("{text:?}")),
        DeValue::Integer(n) => Some(n.as_str().to_owned()),
        DeValue::Float(x) => Some(x.as_str().to_owned()),
        _ => None,
    }
}

impl fmt::Display for Change {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}={}", self.path, self.value)
    }
}

/// A step on the way to a value.
enum Step {
    Key(String),
    Entry(usize),
}

/// A key at the start of a path, bare or in quotes, and what comes after it.
fn key(path: &str) -> Option<(String, &str)> {
    if let Some(rest) = path.strip_prefix('"') {
        let (key, after) = rest.split_once('"')?;
        return Some((key.to_owned(), after));
    }
    let end = path.find(['.', '[']).unwrap_or(path.len());
    let (key, after) = path.split_at(end);
    (!key.is_empty()).then(|| (key.to_owned(), after))
}

/// Changes of a case, ready to be put into a document.
#[derive(Clone, Debug, Default)]
pub(super) struct Changes<'c> {
    list: &'c [Change],
    documents: Vec<String>,
}

impl<'c> Changes<'c> {
    pub fn of(list: &'c [Change]) -> Self {
        Self {
            list,
            documents: list.iter().map(Change::document).collect(),
        }
    }

    /// Puts every value where its path says, in their order; what is new stands where its table does.
    ///
    /// # Errors
    /// Every change whose path leads nowhere.
    pub fn apply<'a>(&'a self, root: &mut DeTable<'a>) -> Result<(), Vec<Problem>>
    where
        'c: 'a,
    {
        let mut problems = Vec::new();
        for (change, document) in self.list.iter().zip(&self.documents) {
            let typed = DeTable::parse(document).ok().and_then(|table| {
                let mut table = table.into_inner();
                (table.len() == 1).then(|| table.remove("value")).flatten()
            });
            let value = match typed {
                Some(value) => value.into_inner(),
                // a bare word is text
                None => DeValue::String(DeString::Borrowed(&change.value)),
            };
            let put = change.steps().and_then(|steps| put(root, &steps, value));
            if let Err(NoChange(message)) = put {
                problems.push(Problem {
                    line: 0,
                    column: 0,
                    field: change.path.clone(),
                    message,
                    kind: Default::default(),
                });
            }
        }
        match problems.is_empty() {
            true => Ok(()),
            false => Err(problems),
        }
    }

    /// Says of problems with values that were put in that they were: the file does not show them.
    pub fn told(&self, problems: Vec<Problem>) -> Vec<Problem> {
        let of = |field: &str| {
            let under = |c: &&Change| {
                let rest = field.strip_prefix(c.path.as_str());
                rest.is_some_and(|r| r.is_empty() || r.starts_with(['.', '[']))
            };
            self.list.iter().rev().find(under)
        };
        let told = |problem: Problem| match of(&problem.field) {
            Some(change) => Problem {
                line: 0,
                column: 0,
                message: format!(
                    "set to {}: {}",
                    shown(change.value.trim_matches('"')),
                    problem.message
                ),
                ..problem
            },
            None => problem,
        };
        problems.into_iter().map(told).collect()
    }
}

/// Puts a value into a document.
fn put<'a>(root: &mut DeTable<'a>, steps: &[Step], value: DeValue<'a>) -> Result<(), NoChange> {
    let nowhere = |why: String| NoChange(format!("there is nothing to set here: {why}"));
    let Some((Step::Key(first), rest)) = steps.split_first() else {
        return Err(nowhere("the path is empty".into()));
    };
    let mut so_far = first.clone();
    let mut here = entry(root, first, 0..0);
    for step in rest {
        let span = here.span();
        here = match (step, here.get_mut()) {
            (Step::Key(key), DeValue::Table(table)) => {
                so_far += &format!(".{key}");
                entry(table, key, span)
            }
            (Step::Entry(index), DeValue::Array(list)) => {
                let count = list.len();
                let at = format!("{so_far}[{index}]");
                let found = list.get_mut(*index);
                so_far = at;
                found.ok_or_else(|| {
                    nowhere(format!("{so_far} is beyond the last, and there are {count}; they are counted from 0"))
                })?
            }
            (Step::Key(key), _) => {
                return Err(nowhere(format!(
                    "{so_far} is no table with keys such as {key}"
                )));
            }
            (Step::Entry(_), _) => {
                return Err(nowhere(format!("{so_far} is no list; leave the [ ] out")));
            }
        };
    }
    let span = here.span();
    *here = Spanned::new(span.clone(), placed(value, &span));
    Ok(())
}

/// The value of a key, made an empty table where there is none: a path that goes on finds its keys in it.
fn entry<'t, 'a>(
    table: &'t mut DeTable<'a>,
    key: &str,
    span: Span<usize>,
) -> &'t mut Spanned<DeValue<'a>> {
    let name = Spanned::new(span.clone(), DeString::Owned(key.to_owned()));
    table
        .entry(name)
        .or_insert_with(|| Spanned::new(span, DeValue::Table(DeTable::new())))
}

/// A value all of which stands at one place.
fn placed<'a>(value: DeValue<'a>, at: &Span<usize>) -> DeValue<'a> {
    match value {
        DeValue::Array(mut list) => {
            for item in list.iter_mut() {
                let inner = std::mem::replace(item.get_mut(), DeValue::Boolean(false));
                *item = Spanned::new(at.clone(), placed(inner, at));
            }
            DeValue::Array(list)
        }
        DeValue::Table(table) => DeValue::Table(
            table
                .into_iter()
                .map(|(key, value)| {
                    let key = Spanned::new(at.clone(), key.into_inner());
                    (
                        key,
                        Spanned::new(at.clone(), placed(value.into_inner(), at)),
                    )
                })
                .collect(),
        ),
        plain => plain,
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    fn changed(text: &str, changes: &[(&str, &str)]) -> Result<String, String> {
        let list: Vec<Change> = changes.iter().map(|(p, v)| Change::new(*p, *v)).collect();
        let changes = Changes::of(&list);
        let mut root = DeTable::parse(text).unwrap().into_inner();
        match changes.apply(&mut root) {
            Ok(()) => Ok(format!("{root:?}")),
            Err(problems) => Err(problems.iter().map(ToString::to_string).collect()),
        }
    }

    const TEXT: &str = "[[hold.bare]]\nforce = 100\n[[step]]\nhold = \"bare\"\n";

    #[test]
    fn values_go_where_their_paths_lead() {
        for (path, value, seen) in [
            ("hold.bare[0].force", "250", "250"),
            ("hold.bare[0].force", "2.5 kN", "2.5 kN"),
            ("hold.bare[0].friction", "smooth", "smooth"),
            ("tolerance.bore.roundness", "0.02", "0.02"),
            ("hold.bare[0].force", "{ low = 77, high = 99 }", "77"),
            ("step[0].\"hold\"", "other one", "other one"),
        ] {
            let found = changed(TEXT, &[(path, value)]).unwrap();
            assert!(found.contains(seen), "{path}: {found}");
        }
        let twice = [("hold.bare[0].force", "250"), ("hold.bare[0].force", "333")];
        let found = changed(TEXT, &twice).unwrap();
        assert!(found.contains("333") && !found.contains("250"), "{found}");
    }

    #[test]
    fn paths_that_lead_nowhere_are_told() {
        for (path, words) in [
            (
                "hold.bare[1].force",
                "hold.bare[1] is beyond the last, and there are 1",
            ),
            ("hold.bare.force", "hold.bare is no table"),
            ("hold[0].force", "hold is no list"),
            ("hold.bare[x]", "no whole number"),
            ("hold..force", "a key is missing"),
            ("[0].force", "begins with a place"),
            ("hold.bare[0", "stays open"),
        ] {
            let found = changed(TEXT, &[(path, "1")]).unwrap_err();
            assert!(found.contains(words), "{path}: {found}");
        }
        assert!(
            Change::parse("force")
                .unwrap_err()
                .to_string()
                .contains("PATH=VALUE")
        );
    }
}
