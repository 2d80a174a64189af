//! A TOML document with places: tables and values that know their key path, and a reader that collects every
//! problem instead of stopping at the first.

use std::ops::Range as Span;
use std::path::Path;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::problem::{Found, Lines, Problem, ProblemKind, listed, nearest, shown};
use super::quantity::{self, Dimension, UnitSystem};
use crate::scheme::Bounds;

/// Keys that some later work builds: said so by name, apart from keys that nobody knows.
pub(super) const NOT_BUILT: &str = "not supported yet";

/// What people type for a word of the file, and that word.
const SAME: &[(&str, &str)] = &[
    ("outside", "outer"),
    ("od", "outer"),
    ("OD", "outer"),
    ("inside", "bore"),
    ("inner", "bore"),
    ("id", "bore"),
    ("ID", "bore"),
    ("outer", "outside"),
    ("bore", "inside"),
    ("in", "inch"),
    ("inches", "inch"),
    ("millimetre", "mm"),
    ("metric", "mm"),
];

/// Keys of the trade that have another name here.
const SAME_KEY: &[(&str, &str)] = &[
    ("number", "count"),
    ("quantity", "count"),
    ("od", "outer_diameter"),
    ("OD", "outer_diameter"),
    ("id", "bore_diameter"),
    ("ID", "bore_diameter"),
    ("bore", "bore_diameter"),
];

/// Keys that ask for a force by what makes it.
const FORCE_BY: &[&str] = &["torque", "wrench_torque", "pressure", "grip_force"];

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

/// Beyond these squares would overflow or vanish.
const LARGEST: f64 = Bounds::LARGEST;
const SMALLEST: f64 = 1e-12;

/// Allowed range of a number.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Range {
    /// Any finite number.
    Any,
    /// Zero or more.
    ZeroOrMore,
    /// Above zero.
    AboveZero,
    /// Above the first, and no more than the second.
    AboveUpTo(f64, f64),
    /// Above the first and below the second.
    Between(f64, f64),
    /// As narrow as a scheme has it.
    Within {
        /// In mm, N, MPa or degrees.
        bounds: Bounds,
        /// Whole numbers alone.
        whole: bool,
        /// The unit of the bounds.
        unit: &'static str,
    },
}

impl Range {
    /// What is wrong with a number, as typed, if it is not in the range.
    fn wrong(self, value: f64, typed: &str) -> Option<String> {
        let must = |what: &str| Some(format!("is {typed}; it must be {what}"));
        match self {
            Range::ZeroOrMore if value < 0.0 => must("zero or more"),
            Range::AboveZero if value <= 0.0 => must("above zero"),
            Range::AboveZero if value < SMALLEST => Some(format!(
                "is {typed}, as good as zero; it must be above zero"
            )),
            Range::AboveUpTo(low, high) if value <= low || value > high => {
                must(&format!("above {low} and no more than {high}"))
            }
            Range::Between(low, high) if value <= low || value >= high => {
                must(&format!("above {low} and below {high}"))
            }
            Range::Within {
                bounds,
                whole,
                unit,
            } if !bounds.hold(value) || (whole && value.fract() != 0.0) => {
                must(&bounds.in_words(whole, unit))
            }
            _ => None,
        }
    }
}

impl From<Bounds> for Range {
    fn from(bounds: Bounds) -> Self {
        match bounds {
            Bounds {
                above: true,
                least,
                most,
            } if most < LARGEST => Range::AboveUpTo(least, most),
            Bounds { above: true, .. } => Range::AboveZero,
            Bounds { least: 0.0, .. } => Range::ZeroOrMore,
            _ => Range::Any,
        }
    }
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
        let key = &shown(key);
        let plain = !key.is_empty()
            && key
                .bytes()
                .all(|b| b.is_ascii_alphanumeric() || b == b'-' || b == b'_');
        let key = if plain {
            key.clone()
        } else {
            format!("{key:?}")
        };
        if self.path.is_empty() {
            key
        } else {
            format!("{}.{key}", self.path)
        }
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

/// Reads values and keeps what is wrong with them.
pub(super) struct Reader<'a> {
    pub text: &'a str,
    pub system: UnitSystem,
    /// Where files that the case names lie; `None` for a case that is not read from a file.
    pub folder: Option<&'a Path>,
    lines: Lines,
    problems: Vec<Found>,
}

impl<'a> Reader<'a> {
    pub fn new(text: &'a str) -> Self {
        Self {
            text,
            system: UnitSystem::default(),
            folder: None,
            lines: Lines::of(text),
            problems: Vec::new(),
        }
    }

    pub fn line(&self, offset: usize) -> usize {
        self.lines.line(offset)
    }

    /// A length in words, the file's unit first.
    pub fn length(&self, mm: f64) -> String {
        match self.system {
            UnitSystem::Millimetre => format!("{mm:.3} mm"),
            UnitSystem::Inch => format!("{:.4} in ({mm:.3} mm)", mm / quantity::INCH_MM),
        }
    }

    /// A stress in words, in the file's unit.
    pub fn stress(&self, mpa: f64) -> String {
        let unit = match self.system {
            UnitSystem::Millimetre => "MPa",
            UnitSystem::Inch => "psi",
        };
        format!("{} {unit}", self.plain_stress(mpa))
    }

    /// A stress as a plain number of the file.
    pub fn plain_stress(&self, mpa: f64) -> String {
        let value = mpa / self.system.factor(Dimension::Stress);
        // six figures are more than anybody types
        let digits = (5.0 - value.abs().max(1e-9).log10().floor()).clamp(0.0, 9.0) as i32;
        let scale = 10_f64.powi(digits);
        format!("{}", (value * scale).round() / scale)
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
    pub fn into_problems(self) -> Vec<Problem> {
        listed(self.text, self.problems)
    }

    /// Refuses keys that are not `known`; those in `later` by name, with what to do until they are supported.
    pub fn check_keys(&mut self, table: &Table<'a>, known: &[&str], later: &[(&str, &str)]) {
        for (key, item) in table.items() {
            if known.contains(&key) {
                continue;
            }
            let message = if let Some((_, instead)) = later.iter().find(|(k, _)| *k == key) {
                format!("{NOT_BUILT}; {instead}")
            } else if FORCE_BY.contains(&key) && known.contains(&"force") {
                format!(
                    "unknown key \"{key}\"; the force is not worked out from it: give `force`, the force of one jaw"
                )
            } else {
                let same = SAME_KEY.iter().find(|s| s.0 == key).map(|s| s.1);
                let same = same.filter(|s| known.contains(s));
                match same.or_else(|| nearest(key, known.iter().copied())) {
                    Some(near) => {
                        format!("unknown key \"{}\"; did you mean \"{near}\"?", shown(key))
                    }
                    None => format!(
                        "unknown key \"{}\"; known here: {}",
                        shown(key),
                        known.join(", ")
                    ),
                }
            };
            self.problem(item.key_span.clone(), &item.path, message);
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
        if values.len() > most {
            let message = format!("{} {what}; {most} are the most", values.len());
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
        if words.contains(&word) {
            return Some(word);
        }
        let message = if later.contains(&word) {
            let quoted: Vec<_> = words.iter().map(|w| format!("\"{w}\"")).collect();
            format!("\"{word}\" is {NOT_BUILT}; give {}", quoted.join(" or "))
        } else {
            let quoted: Vec<_> = words.iter().map(|w| format!("\"{w}\"")).collect();
            let known = format!("known: {}", quoted.join(", "));
            let same = SAME.iter().find(|s| s.0 == word).map(|s| s.1);
            let near = same.filter(|s| words.contains(s));
            match near.or_else(|| nearest(word, words.iter().copied())) {
                Some(near) => {
                    format!(
                        "\"{}\" is not known; did you mean \"{near}\"? {known}",
                        shown(word)
                    )
                }
                None => format!("\"{}\" is not known; {known}", shown(word)),
            }
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
        match n {
            Some(n) if n >= i128::from(least) && n <= i128::from(most) => u64::try_from(n).ok(),
            Some(n) if n < i128::from(least) => {
                self.wrong(item, format!("is {n}; it must be {least} or more"));
                None
            }
            _ => {
                self.wrong(item, format!("is too large; {most} is the most"));
                None
            }
        }
    }

    /// A quantity, in mm, N, MPa, degrees or kg/m3.
    pub fn number(&mut self, item: &Item<'a>, dimension: Dimension, range: Range) -> Option<f64> {
        let factor = self.system.factor(dimension);
        let (value, typed) = match item.value.get_ref() {
            DeValue::Integer(n) => match i128::from_str_radix(n.as_str(), n.radix()) {
                Ok(i) => (i as f64 * factor, i.to_string()),
                Err(_) => (f64::INFINITY, n.as_str().to_owned()),
            },
            DeValue::Float(x) => (
                x.as_str().parse::<f64>().map_or(f64::NAN, |v| v * factor),
                x.as_str().to_owned(),
            ),
            DeValue::String(text) => match quantity::parse(text, dimension, self.system) {
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
        let message = if value.is_nan() {
            Some(format!("is not a number; expected {dimension}"))
        } else if value.is_infinite() {
            Some(format!("is infinite; expected {dimension}"))
        } else if value.abs() > LARGEST {
            Some(format!("is {typed}, beyond anything held in a chuck"))
        } else {
            range.wrong(value, &typed)
        };
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
            self.wrong(item, format!("a band is {NOT_BUILT}; give one number"));
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
