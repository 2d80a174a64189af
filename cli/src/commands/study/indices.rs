//! Sensitivity indices of a study: its plan, the check that a table holds that plan's rows, and the indices of each figure.

use std::path::Path;

use ringwright_solver::case::Problem;
use ringwright_solver::study::design::{Saltelli, Sample};
use ringwright_solver::study::indices::{Estimate, NoIndices, indices};
use ringwright_solver::study::{
    Base, Design, Plan, PlanError, StudyFile, Typed, Vary, VarySet, read_study,
};
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

use super::table;
use crate::commands::Source;
use crate::failure::{Failure, FailureKind};
use crate::render::indices as words;

/// Figures that have indices.
const OUTPUTS: [&str; 7] = [
    "released_roundness_outer_mm",
    "released_roundness_bore_mm",
    "held_roundness_outer_mm",
    "held_roundness_bore_mm",
    "tolerance_used",
    "slip_safety",
    "yield_margin",
];

/// Roundness that spreads by less, mm, is the same in every row: a tenth of a nanometre is rounding.
const SAME: f64 = 1e-7;

/// A share of the variance that the figures' own error could make up, from which on it is told.
const NOISE: f64 = 0.01;

/// Columns before those of the keys: the number of the row and its status.
pub(super) const BEFORE: usize = 2;

/// How the rows of a study with indices were drawn.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub(crate) struct Sampling {
    /// Points of the base sample.
    base: u64,
    /// Paths of the keys that have an index, in the order of their rows.
    factors: Vec<String>,
    /// Paths of the keys that are drawn as whole numbers.
    whole: Vec<String>,
    /// SHA-256 of the columns of the keys, row by row, as they stand in the table.
    sha256: String,
    /// Text of the study file, from which the rows can be made again.
    study: String,
}

/// The indices of a figure.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct IndicesOf {
    /// Its column.
    pub(crate) output: String,
    /// Why it has none; null where it has.
    pub(crate) unavailable: Option<String>,
    /// One entry a key, the largest total first.
    pub(crate) indices: Vec<IndexOf>,
    /// What they mean; empty where there are none.
    pub(crate) says: String,
    /// What speaks against them; null where nothing does.
    pub(crate) caution: Option<String>,
}

/// The indices of a key.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct IndexOf {
    /// Its path.
    pub(crate) path: String,
    /// Share of the variance that would go if it were held exactly.
    pub(crate) first: Estimated,
    /// Share that would stay if everything else were held exactly.
    pub(crate) total: Estimated,
    /// The same in words.
    pub(crate) says: String,
    /// Whether it is chosen from a list or a count, not held to a size.
    #[serde(skip)]
    pub(crate) is_choice: bool,
}

/// An estimate and its interval, confidence 95 percent.
#[derive(Clone, Copy, Debug, Serialize)]
pub(crate) struct Estimated {
    pub(crate) value: f64,
    pub(crate) low: f64,
    pub(crate) high: f64,
}

impl From<Estimate> for Estimated {
    fn from(of: Estimate) -> Self {
        // a zero without a sign
        let [value, low, high] = [of.value, of.low, of.high].map(|x| x + 0.0);
        Self { value, low, high }
    }
}

impl Estimated {
    pub(crate) fn may_be_zero(self) -> bool {
        self.low <= 0.0
    }
}

/// The plan of a design that is no table, and what varies in it; keys that take whole numbers alone are sampled so.
pub(super) fn plan(
    file: &StudyFile,
    source: &Source,
    base: &Base,
) -> Result<(Plan, Option<Sampling>, Vec<Vary>), Failure> {
    let fail = |problems: Vec<Problem>| Failure::of_case(&problems, source);
    let varies = file.varies(&source.text).map_err(fail)?;
    let varies = match file.design {
        Design::Sobol | Design::LatinHypercube => base.whole_numbers(varies),
        _ => varies,
    };
    let plan = planned(file, &varies).map_err(|e| wrong(&e, file, source))?;
    let sampling = plan.scheme().is_some().then(|| {
        let whole = varies
            .iter()
            .filter(|v| matches!(v.of, VarySet::Whole { .. }))
            .map(|v| v.path.clone())
            .collect();
        Sampling::of(&plan, whole, source.text.clone())
    });
    Ok((plan, sampling, varies))
}

/// What is wrong with a plan, at the key of the study that it is about.
pub(super) fn wrong(error: &PlanError, file: &StudyFile, source: &Source) -> Failure {
    match file.problem_of(error, &source.text) {
        Some(problem) => Failure::of_case(&[problem], source),
        None => Failure::at(FailureKind::Input, &source.name, [0, 0], error.to_string()),
    }
}

fn planned(file: &StudyFile, varies: &[Vary]) -> Result<Plan, PlanError> {
    let count = file.count.as_ref().map(|c| *c.get_ref());
    let seed = file.seed.unwrap_or(0);
    match (file.design, file.wants_indices()) {
        (Design::Sobol, true) => Plan::for_indices(varies, count, seed),
        (design, true) => Err(PlanError::NoIndices(design.name())),
        (design, false) => Plan::new(design, varies, count, seed),
    }
}

impl Sampling {
    fn of(plan: &Plan, whole: Vec<String>, study: String) -> Self {
        let mut digest = Sha256::new();
        for row in 0..plan.rows() {
            let cells = keys(plan, row);
            digest.update(table::line(cells.iter().map(String::as_str)));
        }
        Self {
            base: base(plan),
            factors: plan.factors().into_iter().map(str::to_owned).collect(),
            whole,
            sha256: digest
                .finalize()
                .iter()
                .map(|b| format!("{b:02x}"))
                .collect(),
            study,
        }
    }

    /// The plan that was drawn from.
    ///
    /// # Errors
    /// If its rows are not those that it had.
    pub(super) fn plan(&self, path: &Path) -> Result<Plan, Failure> {
        let again = || -> Option<Plan> {
            let file = read_study(&self.study).ok()?;
            let mut varies = file.varies(&self.study).ok()?;
            for vary in varies.iter_mut().filter(|v| self.whole.contains(&v.path)) {
                if let VarySet::Even { range, .. } = &vary.of {
                    let [from, to] = [range.from as i64, range.to as i64];
                    vary.of = VarySet::Whole { from, to };
                }
            }
            let plan = planned(&file, &varies).ok()?;
            let now = Self::of(&plan, Vec::new(), String::new());
            (now.sha256 == self.sha256).then_some(plan)
        };
        again().ok_or_else(|| {
            let message = "its `sampling` does not give the rows that it had: it was edited, or written by another version; take study.json as it was written, or work the shares out again";
            Failure::at(
                FailureKind::Input,
                &path.display().to_string(),
                [0, 0],
                message.into(),
            )
        })
    }
}

fn base(plan: &Plan) -> u64 {
    plan.rows() / plan.scheme().map_or(1, Saltelli::group)
}

/// The cells of the keys of a row.
pub(super) fn keys(plan: &Plan, row: u64) -> Vec<String> {
    plan.values(row).iter().map(Typed::to_string).collect()
}

/// What indices are estimated from, as the table is read line by line.
pub(super) struct Gather<'a> {
    plan: &'a Plan,
    scheme: &'a Saltelli,
    /// The row that comes next.
    next: u64,
    columns: [Option<usize>; OUTPUTS.len()],
    estimate: Option<usize>,
    /// Of every output, its figure in each row; NaN where it is not known.
    values: Vec<Vec<f64>>,
    failed: u64,
    /// Rows that yield, and where their margin stands.
    yields: u64,
    margin: Option<usize>,
    /// The largest estimated error of all rows; NaN where one is not known.
    error: f64,
}

impl<'a> Gather<'a> {
    /// Of a table that begins with this row of its plan; `None` of a plan that has no indices.
    pub(super) fn new(plan: &'a Plan, names: &[String], first: u64) -> Option<Self> {
        let at = |name: &str| names.iter().position(|n| n == name);
        Some(Self {
            plan,
            scheme: plan.scheme()?,
            next: first,
            columns: OUTPUTS.map(at),
            estimate: at("estimate_relative_error"),
            values: vec![Vec::new(); OUTPUTS.len()],
            failed: 0,
            yields: 0,
            margin: at("yield_margin"),
            error: 0.0,
        })
    }

    /// Points of the base sample.
    pub(super) fn base(&self) -> u64 {
        base(self.plan)
    }

    /// Whether the next row is drawn by itself.
    pub(super) fn is_drawn(&self) -> bool {
        self.plan.is_drawn(self.next)
    }

    /// Takes the next row.
    ///
    /// # Errors
    /// If it is not that of the plan.
    pub(super) fn put(
        &mut self,
        path: &Path,
        line: usize,
        cells: &[String],
    ) -> Result<(), Failure> {
        let row = self.next;
        let cell = |k: usize| cells.get(k).map_or("", String::as_str);
        let refused = |what: String| {
            let message = format!(
                "{what}; the table was sorted or edited, so no indices are told of it: put it back as it was written, or take it away and call the study again"
            );
            let place = path.display().to_string();
            Failure::at(FailureKind::Input, &place, [line, 0], message)
        };
        if row >= self.plan.rows() || cell(0) != row.to_string() {
            return Err(refused(format!("is row {}, and {row} comes here", cell(0))));
        }
        for ((k, key), planned) in self
            .plan
            .paths()
            .iter()
            .enumerate()
            .zip(keys(self.plan, row))
        {
            let found = cell(BEFORE + k);
            if found.trim() != planned.replace(['\n', '\r'], " ").trim() {
                return Err(refused(format!(
                    "{key} is {found}, and {planned} in the plan"
                )));
            }
        }
        self.failed += u64::from(cell(1).starts_with("failed: "));
        let number = |k: Option<usize>| k.and_then(|k| cell(k).parse::<f64>().ok());
        self.yields += u64::from(number(self.margin).is_some_and(|m| m < 0.0));
        for (values, column) in self.values.iter_mut().zip(self.columns) {
            values.push(number(column).unwrap_or(f64::NAN));
        }
        // not `max`, which passes over what is not known
        let error = number(self.estimate).unwrap_or(f64::NAN);
        if error.is_nan() || error > self.error {
            self.error = error;
        }
        self.next += 1;
        Ok(())
    }

    /// The indices of every figure, once all rows are there.
    pub(super) fn tell(&self) -> Option<Vec<IndicesOf>> {
        let whole = self
            .values
            .iter()
            .all(|v| v.len() as u64 == self.plan.rows());
        let of = OUTPUTS.iter().zip(&self.values);
        whole.then(|| of.map(|(name, values)| self.told(name, values)).collect())
    }

    fn told(&self, output: &str, values: &[f64]) -> IndicesOf {
        let mut told = IndicesOf {
            output: output.to_owned(),
            unavailable: None,
            indices: Vec::new(),
            says: String::new(),
            caution: None,
        };
        let unknown = values.iter().filter(|y| y.is_nan()).count() as u64;
        if unknown > 0 {
            told.unavailable = Some(words::unknown(unknown, self.plan.rows(), self.failed));
            return told;
        }
        let is_roundness = output.contains("roundness");
        match self.estimated(values, if is_roundness { SAME } else { 0.0 }) {
            Ok(mut indices) => {
                let unsettled = words::unsettled(&indices);
                if unsettled.is_some() {
                    for index in &mut indices {
                        index.says = words::UNSETTLED.to_owned();
                    }
                }
                told.says = unsettled.unwrap_or_else(|| words::advice(&indices));
                told.indices = indices;
            }
            Err(NoIndices::Constant) => told.unavailable = Some(words::constant(values[0])),
            Err(e) => told.unavailable = Some(e.to_string()),
        }
        if is_roundness && told.unavailable.is_none() && self.yields > 0 {
            told.caution = Some(words::yields(self.yields, self.plan.rows()));
        } else if is_roundness && told.unavailable.is_none() {
            told.caution = noise(values, self.error)
                .filter(|share| *share >= NOISE)
                .map(|share| words::noise(self.error, share));
        }
        told
    }

    fn estimated(&self, values: &[f64], spread: f64) -> Result<Vec<IndexOf>, NoIndices> {
        let (mut a, mut b) = (Vec::new(), Vec::new());
        let mut mixed = vec![Vec::new(); self.scheme.factors()];
        for (row, &y) in (0..).zip(values) {
            match self.scheme.place(row).1 {
                Sample::A => a.push(y),
                Sample::B => b.push(y),
                Sample::Mixed(factor) => mixed[factor].push(y),
            }
        }
        let found = indices(&a, &b, &mixed, spread)?;
        let both = self.plan.factors().into_iter().zip(found);
        let mut all: Vec<IndexOf> = both
            .map(|(path, index)| {
                let (first, total) = (index.first.into(), index.total.into());
                IndexOf {
                    path: path.to_owned(),
                    first,
                    total,
                    says: words::of_one(first, total),
                    is_choice: self.plan.is_choice(path),
                }
            })
            .collect();
        all.sort_by(|x, y| y.total.value.total_cmp(&x.total.value));
        Ok(all)
    }
}

/// The share of the variance that errors of this share of each figure would make up if they had nothing to do with each other; `None` where an error is not known.
fn noise(values: &[f64], error: f64) -> Option<f64> {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let square = values.iter().map(|y| y * y).sum::<f64>() / n;
    let variance = values.iter().map(|y| (y - mean) * (y - mean)).sum::<f64>() / n;
    let share = error * error * square / variance;
    share.is_finite().then_some(share.min(1.0))
}
