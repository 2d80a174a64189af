//! A TOML document with places: tables and values that know their key path, and a reader that collects every
//! problem instead of stopping at the first.

use std::collections::BTreeMap;
use std::ops::Range as Span;
use std::path::Path;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use crate::case::check::range::{Range, wrong_key, wrong_number, wrong_whole, wrong_word};
use crate::case::check::{Findings, key_path, too_many};
use crate::case::problem::{Found, Lines, Problem, ProblemKind, listed, shown};
use crate::case::quantity::{self, Dimension};

/// A path as the header of a table: places in a list are not part of it.
fn header(path: &str) -> String {
    let mut text = String::new();
    let mut inside = false;
    for c in path.chars() {
        match c {
            '[' => inside = true,
            ']' => inside = false,
            c if !inside => text.push(c),
            _ => {}
        }
    }
    text
}

/// A value with its place.
#[derive(Clone)]
pub(super) struct Item<'a> {
    pub path: String,
    pub key_span: Span<usize>,
    pub value: &'a Spanned<DeValue<'a>>,
}

impl<'a> Item<'a> {
    /// Where to point: at the value.
    pub fn span(&self) -> Span<usize> {
        self.value.span()
    }

    /// Whether it is a table.
    pub fn is_table(&self) -> bool {
        matches!(self.value.get_ref(), DeValue::Table(_))
    }

    /// Whether it is text that does not begin as a number does.
    pub fn is_word(&self) -> bool {
        matches!(self.value.get_ref(), DeValue::String(s) if s.starts_with(char::is_alphabetic))
    }

    /// Whether it is this very text.
    pub fn is_text(&self, text: &str) -> bool {
        matches!(self.value.get_ref(), DeValue::String(s) if s == text)
    }

    /// The values of a list, each with its place; `None` if it is no list.
    pub fn list(&self) -> Option<Vec<Self>> {
        let DeValue::Array(values) = self.value.get_ref() else {
            return None;
        };
        let item = |(k, value)| Item {
            path: format!("{}[{k}]", self.path),
            key_span: self.key_span.clone(),
            value,
        };
        Some(values.iter().enumerate().map(item).collect())
    }

    fn kind(&self) -> &'static str {
        match self.value.get_ref() {
            DeValue::String(_) => "text",
            DeValue::Integer(_) | DeValue::Float(_) => "a number",
            DeValue::Boolean(_) => "true or false",
            DeValue::Datetime(_) => "a date",
            DeValue::Array(_) => "a list",
            DeValue::Table(_) => "a table",
        }
    }
}

/// A table with its place.
pub(super) struct Table<'a> {
    pub path: String,
    pub span: Span<usize>,
    entries: &'a DeTable<'a>,
}

impl<'a> Table<'a> {
    pub fn root(entries: &'a DeTable<'a>) -> Self {
        Self {
            path: String::new(),
            span: 0..0,
            entries,
        }
    }

    /// Path of a key of this table.
    pub fn path_of(&self, key: &str) -> String {
        key_path(&self.path, key)
    }

    pub fn get(&self, key: &str) -> Option<Item<'a>> {
        let (k, value) = self.entries.get_key_value(key)?;
        Some(Item {
            path: self.path_of(key),
            key_span: k.span(),
            value,
        })
    }

    /// All entries in file order.
    pub fn items(&self) -> Vec<(&'a str, Item<'a>)> {
        let mut items: Vec<_> = self
            .entries
            .iter()
            .map(|(k, value)| {
                (
                    k.get_ref().as_ref(),
                    Item {
                        path: self.path_of(k.get_ref()),
                        key_span: k.span(),
                        value,
                    },
                )
            })
            .collect();
        items.sort_by_key(|(_, item)| item.key_span.start);
        items
    }
}

/// Byte offsets of a key and its value.
struct KeyAndValue {
    key: usize,
    value: usize,
}

/// Most numbers of a list that have places of their own: more are readings, of which the list itself is named.
const MOST_PLACED: usize = 1000;

/// Where the values of a document stand, by their key paths. Of a list the tables and lists in it have paths of their own, and its numbers
/// if they are few.
#[derive(Default)]
struct Places(BTreeMap<String, KeyAndValue>);

impl Places {
    fn add(&mut self, table: &Table) {
        for (_, item) in table.items() {
            self.add_item(&item);
        }
    }

    fn add_item(&mut self, item: &Item) {
        let place = KeyAndValue {
            key: item.key_span.start,
            value: item.span().start,
        };
        self.0.entry(item.path.clone()).or_insert(place);
        match item.value.get_ref() {
            DeValue::Table(entries) => self.add(&Table {
                path: item.path.clone(),
                span: item.span(),
                entries,
            }),
            DeValue::Array(list)
                if list.len() <= MOST_PLACED
                    || matches!(list.first().map(|v| v.get_ref()), Some(DeValue::Table(_))) =>
            {
                for item in item.list().into_iter().flatten() {
                    self.add_item(&item);
                }
            }
            _ => {}
        }
    }

    /// The place of a path, or of what it would stand in: a key that is missing has no place of its own.
    fn of(&self, path: &str, on_key: bool) -> usize {
        let mut path = path;
        loop {
            if let Some(place) = self.0.get(path) {
                return if on_key { place.key } else { place.value };
            }
            match path.rsplit_once(['.', '[']) {
                Some((above, _)) => path = above,
                None => return 0,
            }
        }
    }
}

/// Reads values and keeps what is wrong with them.
pub(super) struct Reader<'a> {
    pub text: &'a str,
    /// What is wrong with the case, by key path.
    pub findings: Findings,
    /// Where files that the case names lie; `None` for a case that is not read from a file.
    pub folder: Option<&'a Path>,
    lines: Lines,
    problems: Vec<Found>,
}

impl<'a> Reader<'a> {
    pub fn new(text: &'a str) -> Self {
        Self {
            text,
            findings: Findings::default(),
            folder: None,
            lines: Lines::of(text),
            problems: Vec::new(),
        }
    }

    pub fn line(&self, offset: usize) -> usize {
        self.lines.line(offset)
    }

    /// Notes a problem.
    pub fn problem(&mut self, span: Span<usize>, field: &str, message: impl Into<String>) {
        self.note(ProblemKind::Input, span, field, message);
    }

    /// Notes a problem of a kind.
    pub fn note(
        &mut self,
        kind: ProblemKind,
        span: Span<usize>,
        field: &str,
        message: impl Into<String>,
    ) {
        self.problems.push(Found {
            at: span.start,
            field: field.to_owned(),
            message: message.into(),
            kind,
        });
    }

    /// Notes a problem with a value.
    pub fn wrong(&mut self, item: &Item, message: impl Into<String>) {
        self.problem(item.span(), &item.path, message);
    }

    /// The problems in file order.
    pub fn into_problems(self, root: &Table<'a>) -> Vec<Problem> {
        let mut problems = self.problems;
        if !self.findings.list.is_empty() {
            let mut places = Places::default();
            places.add(root);
            let found = self.findings.list.into_iter();
            problems.extend(found.map(|f| Found {
                at: places.of(&f.path, f.on_key),
                field: f.path,
                message: f.message,
                kind: f.kind,
            }));
        }
        listed(self.text, problems)
    }

    /// Lines of the tables of a document by their key paths.
    pub fn lines_of_tables(&self, root: &Table<'a>) -> BTreeMap<String, usize> {
        let mut places = Places::default();
        places.add(root);
        let line = |(path, place): (String, KeyAndValue)| (path, self.line(place.value));
        places.0.into_iter().map(line).collect()
    }

    /// Refuses keys that are not `known`; those in `later` by name, with what to do until they are supported.
    pub fn check_keys(&mut self, table: &Table<'a>, known: &[&str], later: &[(&str, &str)]) {
        for (key, item) in table.items() {
            if let Some(message) = wrong_key(key, known, later) {
                self.problem(item.key_span.clone(), &item.path, message);
            }
        }
    }

    /// A key that must be there.
    pub fn required(&mut self, table: &Table<'a>, key: &str, expected: &str) -> Option<Item<'a>> {
        let item = table.get(key);
        if item.is_none() {
            self.problem(
                table.span.clone(),
                &table.path_of(key),
                format!("missing; give {expected}"),
            );
        }
        item
    }

    pub fn table(&mut self, item: &Item<'a>) -> Option<Table<'a>> {
        match item.value.get_ref() {
            DeValue::Table(entries) => Some(Table {
                path: item.path.clone(),
                span: item.span(),
                entries,
            }),
            _ => {
                self.wrong(item, format!("is {}; expected a table", item.kind()));
                None
            }
        }
    }

    /// A list of tables, `[[like.this]]`: of more than `most` the first, and what there are too many of is said.
    pub fn tables(&mut self, item: &Item<'a>, most: usize, what: &str) -> Vec<Table<'a>> {
        let DeValue::Array(values) = item.value.get_ref() else {
            let message = format!(
                "is {}; expected a list of tables: write [[{}]]",
                item.kind(),
                header(&item.path)
            );
            self.wrong(item, message);
            return Vec::new();
        };
        if let Some(message) = too_many(values.len(), most, what) {
            self.wrong(item, message);
        }
        let mut tables = Vec::new();
        for (k, value) in values.iter().take(most).enumerate() {
            let entry = Item {
                path: format!("{}[{k}]", item.path),
                key_span: value.span(),
                value,
            };
            tables.extend(self.table(&entry));
        }
        tables
    }

    pub fn text(&mut self, item: &Item<'a>) -> Option<&'a str> {
        match item.value.get_ref() {
            DeValue::String(s) => Some(s.as_ref()),
            _ => {
                self.wrong(item, format!("is {}; expected text in quotes", item.kind()));
                None
            }
        }
    }

    /// One of a few words; `later` ones are refused by name.
    pub fn choice(&mut self, item: &Item<'a>, words: &[&str], later: &[&str]) -> Option<&'a str> {
        let word = self.text(item)?;
        let Some(message) = wrong_word(word, words, later) else {
            return Some(word);
        };
        self.wrong(item, message);
        None
    }

    /// True or false.
    pub fn flag(&mut self, item: &Item<'a>) -> Option<bool> {
        match item.value.get_ref() {
            DeValue::Boolean(b) => Some(*b),
            _ => {
                let message = format!("is {}; expected true or false", item.kind());
                self.wrong(item, message);
                None
            }
        }
    }

    /// A whole number from `least` to `most`.
    pub fn whole(&mut self, item: &Item<'a>, least: u64, most: u64) -> Option<u64> {
        let n = match item.value.get_ref() {
            DeValue::Integer(n) => i128::from_str_radix(n.as_str(), n.radix()).ok(),
            DeValue::Float(x) => {
                let message = format!("is {}; expected a whole number", shown(x.as_str()));
                self.wrong(item, message);
                return None;
            }
            _ => {
                self.refuse_band(item)?;
                self.wrong(item, format!("is {}; expected a whole number", item.kind()));
                return None;
            }
        };
        match wrong_whole(n, least, most) {
            Some(message) => {
                self.wrong(item, message);
                None
            }
            None => n.and_then(|n| u64::try_from(n).ok()),
        }
    }

    /// A quantity, in mm, N, MPa, degrees or kg/m3.
    pub fn number(&mut self, item: &Item<'a>, dimension: Dimension, range: Range) -> Option<f64> {
        let factor = self.findings.system.factor(dimension);
        let (value, typed) = match item.value.get_ref() {
            DeValue::Integer(n) => match i128::from_str_radix(n.as_str(), n.radix()) {
                Ok(i) => (i as f64 * factor, i.to_string()),
                Err(_) => (f64::INFINITY, n.as_str().to_owned()),
            },
            DeValue::Float(x) => (
                x.as_str().parse::<f64>().map_or(f64::NAN, |v| v * factor),
                x.as_str().to_owned(),
            ),
            DeValue::String(text) => match quantity::parse(text, dimension, self.findings.system) {
                Ok(x) => (x, format!("\"{text}\"")),
                Err(e) => {
                    self.wrong(item, e.to_string());
                    return None;
                }
            },
            _ => {
                self.refuse_band(item)?;
                self.wrong(item, format!("is {}; expected {dimension}", item.kind()));
                return None;
            }
        };
        let typed = shown(&typed);
        let message = wrong_number(value, &typed, dimension, range);
        match message {
            Some(m) => {
                self.wrong(item, m);
                None
            }
            None => Some(value),
        }
    }

    /// `Some` unless the value is a band, which is then refused.
    fn refuse_band(&mut self, item: &Item<'a>) -> Option<()> {
        if let DeValue::Table(t) = item.value.get_ref()
            && ["low", "high", "nominal", "plus_minus"]
                .iter()
                .any(|k| t.contains_key(*k))
        {
            self.wrong(
                item,
                "takes one number, and this is a band; give one number",
            );
            return None;
        }
        Some(())
    }

    /// An optional quantity of a table.
    pub fn optional(
        &mut self,
        table: &Table<'a>,
        key: &str,
        dimension: Dimension,
        range: Range,
    ) -> Option<f64> {
        let item = table.get(key)?;
        self.number(&item, dimension, range)
    }

    /// A quantity that must be there.
    pub fn needed(
        &mut self,
        table: &Table<'a>,
        key: &str,
        dimension: Dimension,
        range: Range,
    ) -> Option<f64> {
        let item = self.required(table, key, &dimension.to_string())?;
        self.number(&item, dimension, range)
    }
}
