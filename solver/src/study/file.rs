//! `STUDY.toml`: what varies, how, and about which case.

use std::path::PathBuf;

use serde::Deserialize;
use toml::Spanned;

use super::plan::PlanError;
use super::value::Typed;
use crate::case::{Problem, problem_at};

/// A study as its file says it.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StudyFile {
    /// What it is called.
    #[serde(default)]
    pub title: String,
    /// How its cases are laid out.
    pub design: Design,
    /// Rows of a sampled design; with indices, points of its base sample.
    pub count: Option<Spanned<u64>>,
    /// Whether the rows of a Sobol design are laid out for sensitivity indices.
    pub indices: Option<Spanned<bool>>,
    /// Seed of a sampled design.
    pub seed: Option<u64>,
    /// Where the cases stand, for the design `csv`: a header of key paths, then a row a case.
    pub cases: Option<Spanned<PathBuf>>,
    /// The case that the rows are variants of.
    pub base: BaseFile,
    /// What varies, the last fastest in a full design.
    #[serde(default)]
    pub vary: Vec<Spanned<VaryTable>>,
}

/// The base case of a study.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BaseFile {
    /// Its file, beside the study's.
    pub case: PathBuf,
}

/// How cases are laid out.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Design {
    /// Every combination, the last that varies fastest.
    Full,
    /// A scrambled Sobol sequence.
    Sobol,
    /// A Latin hypercube.
    LatinHypercube,
    /// A table of cases.
    Csv,
}

impl Design {
    /// As the file has it.
    pub const fn name(self) -> &'static str {
        match self {
            Design::Full => "full",
            Design::Sobol => "sobol",
            Design::LatinHypercube => "latin-hypercube",
            Design::Csv => "csv",
        }
    }
}

/// What varies, as it is typed.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct VaryTable {
    path: String,
    values: Option<Vec<Typed>>,
    from: Option<Typed>,
    to: Option<Typed>,
    count: Option<u64>,
    mean: Option<Typed>,
    standard_deviation: Option<Typed>,
    mode: Option<Typed>,
}

/// What varies.
#[derive(Clone, Debug, PartialEq)]
pub struct Vary {
    /// Path of a key of the case.
    pub path: String,
    /// What it may be.
    pub of: VarySet,
}

/// What a key may be.
#[derive(Clone, Debug, PartialEq)]
pub enum VarySet {
    /// One of these, each as often as the next.
    Values(Vec<Typed>),
    /// Evenly spread, both ends included in a full design.
    Even {
        /// Its ends.
        range: Range,
        /// Steps of a full design.
        count: Option<u64>,
    },
    /// Whole numbers, each as often as the next, both ends included.
    Whole {
        /// The least.
        from: i64,
        /// The largest.
        to: i64,
    },
    /// About a middle, as errors of measurement are.
    Normal {
        /// Middle.
        mean: f64,
        /// Standard deviation.
        deviation: f64,
        /// Unit of both.
        unit: String,
    },
    /// Most often at a mode, never beyond the ends.
    Triangular {
        /// Its ends.
        range: Range,
        /// The most frequent value.
        mode: f64,
    },
}

/// Two ends in one unit.
#[derive(Clone, Debug, PartialEq)]
pub struct Range {
    /// Lower end.
    pub from: f64,
    /// Upper end.
    pub to: f64,
    /// Unit of both, empty for plain numbers.
    pub unit: String,
}

impl VaryTable {
    /// What varies, or what is wrong with it.
    fn checked(&self) -> Result<Vary, String> {
        let path = &self.path;
        let quantity = |key: &str, typed: &Typed| {
            let read = typed.quantity().map(|(x, unit)| (x, unit.to_owned()));
            read.ok_or_else(|| format!("{path}: {key} is {typed}; give a number"))
        };
        let normal = self.mean.as_ref().zip(self.standard_deviation.as_ref());
        let ends = self.from.as_ref().zip(self.to.as_ref());
        let alike = |a: &str, b: &str| match a == b {
            true => Ok(()),
            false => Err(format!(
                "{path}: both numbers have to be in one unit, and they are in \"{a}\" and \"{b}\""
            )),
        };
        let range = |from: &Typed, to: &Typed| -> Result<Range, String> {
            let (from, unit) = quantity("from", from)?;
            let (to, other) = quantity("to", to)?;
            alike(&unit, &other)?;
            if from >= to {
                return Err(format!(
                    "{path}: from {from} to {to} is no range; give the lower end first"
                ));
            }
            Ok(Range { from, to, unit })
        };
        let of = match (&self.values, ends, normal, &self.mode) {
            (Some(values), None, None, None) if !values.is_empty() => {
                VarySet::Values(values.clone())
            }
            (Some(_), None, None, None) => {
                return Err(format!("{path}: values is empty; give one or more"));
            }
            (None, Some((from, to)), None, None) => VarySet::Even {
                range: range(from, to)?,
                count: self.count,
            },
            (None, Some((from, to)), None, Some(mode)) => {
                let range = range(from, to)?;
                let (mode, unit) = quantity("mode", mode)?;
                alike(&range.unit, &unit)?;
                if !(range.from..=range.to).contains(&mode) {
                    return Err(format!(
                        "{path}: the mode {mode} is not between from and to"
                    ));
                }
                VarySet::Triangular { range, mode }
            }
            (None, None, Some((mean, deviation)), None) => {
                let (mean, unit) = quantity("mean", mean)?;
                let (deviation, other) = quantity("standard_deviation", deviation)?;
                alike(&unit, &other)?;
                if deviation <= 0.0 {
                    return Err(format!(
                        "{path}: standard_deviation is {deviation}; it must be above zero"
                    ));
                }
                VarySet::Normal {
                    mean,
                    deviation,
                    unit,
                }
            }
            _ => {
                return Err(format!(
                    "{path}: give values = [...]; or from and to (with count in a full design, or with mode for a triangular distribution); or mean and standard_deviation"
                ));
            }
        };
        Ok(Vary {
            path: path.clone(),
            of,
        })
    }
}

impl StudyFile {
    /// Whether indices are asked for.
    pub fn wants_indices(&self) -> bool {
        self.indices.as_ref().is_some_and(|i| *i.get_ref())
    }

    /// What is wrong with its plan, at the key that it is about; `None` where that is no single key.
    pub fn problem_of(&self, error: &PlanError, text: &str) -> Option<Problem> {
        let count = self.count.as_ref().map(Spanned::span);
        let indices = self.indices.as_ref().map(Spanned::span);
        let (key, span) = match error {
            PlanError::CountOfFull
            | PlanError::Rows(_)
            | PlanError::Base(..)
            | PlanError::BaseRows(..) => ("count", count),
            PlanError::NoIndices(_)
            | PlanError::NoBase(_)
            | PlanError::IndexFactors(_)
            | PlanError::OneFactor => ("indices", indices),
            _ => return None,
        };
        Some(problem_at(text, span?.start, key, error.to_string()))
    }

    /// What varies, checked.
    ///
    /// # Errors
    /// Every entry that is none, with its place.
    pub fn varies(&self, text: &str) -> Result<Vec<Vary>, Vec<Problem>> {
        let checked = self.vary.iter().map(|v| (v.span(), v.get_ref().checked()));
        let mut all = Vec::new();
        let mut problems = Vec::new();
        for (k, (span, vary)) in checked.enumerate() {
            match vary {
                Ok(vary) => all.push(vary),
                Err(message) => {
                    problems.push(problem_at(text, span.start, &format!("vary[{k}]"), message))
                }
            }
        }
        match problems.is_empty() {
            true => Ok(all),
            false => Err(problems),
        }
    }
}

/// Reads a study file.
///
/// # Errors
/// What is wrong with it, with its place.
pub fn read_study(text: &str) -> Result<StudyFile, Vec<Problem>> {
    toml::from_str(text).map_err(|e| {
        let at = e.span().map_or(0, |s| s.start);
        let message = match e.message() {
            "missing field `design`" => {
                "has no design; give design = \"full\", \"latin-hypercube\", \"sobol\" or \"csv\""
            }
            "missing field `base`" => "has no base case; give [base] with case = \"CASE.toml\"",
            "missing field `case`" => "[base] names no case; give case = \"CASE.toml\"",
            "missing field `path`" => {
                "[[vary]] has no path; give that of a key, such as path = \"hold.bare[0].force\""
            }
            message => message,
        };
        vec![problem_at(text, at, "", message.to_owned())]
    })
}
