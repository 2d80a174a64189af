//! The rows of a study: what each has other than the base case.

mod kinds;
mod saltelli;

use super::design::{LatinHypercube, MOST_DIMENSIONS, MOST_FACTORS, Saltelli, Sobol};
use super::file::{Design, Range, Vary, VarySet};
use super::indices::LEAST_BASE;
use super::value::Typed;
use crate::case::Change;

/// Most rows of a plan.
pub const MOST_ROWS: u64 = 10_000_000;

/// Steps of a range in a full design that says none.
const STEPS: u64 = 10;

/// What every row of a study has other than the base case. Rows are made one by one, as they are asked for.
#[derive(Clone, Debug)]
pub struct Plan {
    paths: Vec<String>,
    rows: u64,
    of: Rows,
}

#[derive(Clone, Debug)]
enum Rows {
    Full(Vec<Vec<Typed>>),
    Latin(LatinHypercube, Vec<VarySet>),
    Sobol(Sobol, Vec<VarySet>),
    Saltelli(Saltelli, Vec<VarySet>),
    Table(Vec<Vec<Typed>>),
}

/// Why there is no plan.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum PlanError {
    /// Nothing varies.
    #[error("nothing varies; give one [[vary]] or more")]
    Nothing,
    /// A key varies twice.
    #[error("{0} varies twice; leave one [[vary]] out")]
    Twice(String),
    /// A sampled design has no count.
    #[error("count is missing: how many rows the design has")]
    NoCount,
    /// A full design has a count.
    #[error(
        "count is given, and a full design has as many rows as there are combinations; leave it out"
    )]
    CountOfFull,
    /// A full design of a distribution.
    #[error(
        "{0} has a distribution, which a full design does not sample; give values, or from and to"
    )]
    Distribution(String),
    /// More factors than the sequence has.
    #[error("{0} keys vary, and the sequence has {MOST_DIMENSIONS}; take latin-hypercube")]
    Factors(usize),
    /// No rows, or more than are taken.
    #[error("{0} rows; give 1 to {MOST_ROWS}")]
    Rows(u128),
    /// Indices of a design that has none.
    #[error(
        "a design \"{0}\" has no indices, which need rows of their own; take design = \"sobol\", or leave indices out"
    )]
    NoIndices(&'static str),
    /// Indices without a base sample.
    #[error(
        "count is missing: how many points the base sample has, a power of two; each makes {0} rows"
    )]
    NoBase(u64),
    /// A base sample that is not balanced, or too small: its points, and the two nearest that are right.
    #[error(
        "count is {0}; with indices it is the base sample, a power of two from {LEAST_BASE} on: give {1} or {2}"
    )]
    Base(u64, u64, u64),
    /// A base sample that makes too many rows.
    #[error("count is {0}, a base sample that makes {1} rows; {MOST_ROWS} are the most")]
    BaseRows(u64, u128),
    /// More factors than the sequence has dimensions for.
    #[error(
        "{0} keys vary, and indices take {MOST_FACTORS} at most, two dimensions of the sequence each; leave out those that matter least"
    )]
    IndexFactors(usize),
    /// Fewer than two keys vary.
    #[error(
        "indices share the spread out among keys, and fewer than two vary; give two [[vary]] with more than one value, or leave indices out"
    )]
    OneFactor,
}

impl Plan {
    /// The plan of a design that is not a table.
    ///
    /// # Errors
    /// [`PlanError`].
    pub fn new(
        design: Design,
        varies: &[Vary],
        count: Option<u64>,
        seed: u64,
    ) -> Result<Self, PlanError> {
        let paths = distinct(varies)?;
        if design == Design::Full {
            if count.is_some() {
                return Err(PlanError::CountOfFull);
            }
            let rows = checked(varies.iter().map(|v| u128::from(steps(v))).product())?;
            let lists: Vec<Vec<Typed>> = varies.iter().map(list).collect::<Result<_, _>>()?;
            return Ok(Self {
                paths,
                rows,
                of: Rows::Full(lists),
            });
        }
        let rows = checked(u128::from(count.ok_or(PlanError::NoCount)?))?;
        let sets: Vec<VarySet> = varies.iter().map(|v| v.of.clone()).collect();
        let of = match design {
            Design::Sobol if sets.len() > MOST_DIMENSIONS => {
                return Err(PlanError::Factors(sets.len()));
            }
            Design::Sobol => Rows::Sobol(Sobol::new(sets.len(), seed), sets),
            _ => Rows::Latin(LatinHypercube::new(rows as u32, sets.len(), seed), sets),
        };
        Ok(Self { paths, rows, of })
    }

    /// The plan of a table of cases.
    ///
    /// # Errors
    /// [`PlanError`] if it has no columns or no rows.
    pub fn of_table(paths: Vec<String>, rows: Vec<Vec<Typed>>) -> Result<Self, PlanError> {
        if paths.is_empty() {
            return Err(PlanError::Nothing);
        }
        Ok(Self {
            paths,
            rows: checked(rows.len() as u128)?,
            of: Rows::Table(rows),
        })
    }

    /// Paths of the keys that vary.
    pub fn paths(&self) -> &[String] {
        &self.paths
    }

    /// How many rows there are.
    pub fn rows(&self) -> u64 {
        self.rows
    }

    /// The values of every key of a full design; `None` of other designs.
    pub fn lists(&self) -> Option<&[Vec<Typed>]> {
        match &self.of {
            Rows::Full(lists) => Some(lists),
            _ => None,
        }
    }

    /// Whether its rows are samples, of which shares are estimates of chances.
    pub fn is_sampled(&self) -> bool {
        matches!(
            self.of,
            Rows::Latin(..) | Rows::Sobol(..) | Rows::Saltelli(..)
        )
    }

    /// The values of a row (from 0), in the order of the paths.
    pub fn values(&self, row: u64) -> Vec<Typed> {
        match &self.of {
            Rows::Full(lists) => {
                let mut rest = row;
                let mut values: Vec<Typed> = lists
                    .iter()
                    .rev()
                    .map(|list| {
                        let n = list.len() as u64;
                        let value = list[(rest % n) as usize].clone();
                        rest /= n;
                        value
                    })
                    .collect();
                values.reverse();
                values
            }
            Rows::Latin(design, sets) => at(&design.point(row as u32), sets),
            Rows::Sobol(design, sets) => at(&design.point(row as u32), sets),
            Rows::Saltelli(design, sets) => saltelli::at(&design.point(row), sets),
            Rows::Table(rows) => rows[row as usize].clone(),
        }
    }

    /// What a row has other than the base case.
    pub fn changes(&self, row: u64) -> Vec<Change> {
        let both = self.paths.iter().zip(self.values(row));
        both.map(|(path, value)| Change::new(path.clone(), value.in_toml()))
            .collect()
    }
}

/// Paths of the keys, of which there is one or more, none twice.
fn distinct(varies: &[Vary]) -> Result<Vec<String>, PlanError> {
    if varies.is_empty() {
        return Err(PlanError::Nothing);
    }
    for (k, vary) in varies.iter().enumerate() {
        if varies[..k].iter().any(|v| v.path == vary.path) {
            return Err(PlanError::Twice(vary.path.clone()));
        }
    }
    Ok(varies.iter().map(|v| v.path.clone()).collect())
}

fn checked(rows: u128) -> Result<u64, PlanError> {
    match (1..=u128::from(MOST_ROWS)).contains(&rows) {
        true => Ok(rows as u64),
        false => Err(PlanError::Rows(rows)),
    }
}

/// How many values a key takes in a full design.
fn steps(vary: &Vary) -> u64 {
    match &vary.of {
        VarySet::Values(values) => values.len() as u64,
        VarySet::Even { count, .. } => count.unwrap_or(STEPS),
        VarySet::Whole { from, to } => to.abs_diff(*from) + 1,
        _ => 1,
    }
}

/// The values of a full design.
fn list(vary: &Vary) -> Result<Vec<Typed>, PlanError> {
    match &vary.of {
        VarySet::Values(values) => Ok(values.clone()),
        VarySet::Whole { from, to } => Ok((*from..=*to).map(Typed::Whole).collect()),
        VarySet::Even { range, count } => {
            let n = count.unwrap_or(STEPS);
            let value = |k: u64| match n {
                1 => 0.5 * (range.from + range.to),
                // the last is the end itself, whatever rounding makes of the rest
                n if k + 1 == n => range.to,
                n => range.from + (range.to - range.from) * k as f64 / (n - 1) as f64,
            };
            // without the noise of the last bits: what a person would type
            let typed = |x: f64| format!("{x:.12e}").parse().unwrap_or(x);
            Ok((0..n)
                .map(|k| Typed::of(typed(value(k)), &range.unit))
                .collect())
        }
        _ => Err(PlanError::Distribution(vary.path.clone())),
    }
}

/// Values at a point of the unit cube.
fn at(point: &[f64], sets: &[VarySet]) -> Vec<Typed> {
    point.iter().zip(sets).map(|(&u, set)| set.at(u)).collect()
}

impl VarySet {
    /// The value below which a share `u` of them lies, between 0 and 1.
    pub fn at(&self, u: f64) -> Typed {
        match self {
            VarySet::Values(values) => {
                let k = (u * values.len() as f64).floor() as usize;
                values[k.min(values.len() - 1)].clone()
            }
            VarySet::Even { range, .. } => range.value(u * (range.to - range.from)),
            VarySet::Whole { from, to } => {
                let k = (u * (to.abs_diff(*from) + 1) as f64).floor() as i64;
                Typed::Whole(from.saturating_add(k).min(*to))
            }
            VarySet::Normal {
                mean,
                deviation,
                unit,
            } => Typed::of(mean + deviation * normal_quantile(u), unit),
            VarySet::Triangular { range, mode } => {
                let width = range.to - range.from;
                let below = (mode - range.from) / width;
                let along = match u < below {
                    true => (u * below).sqrt(),
                    false => 1.0 - ((1.0 - u) * (1.0 - below)).sqrt(),
                };
                range.value(width * along)
            }
        }
    }
}

impl Range {
    fn value(&self, above: f64) -> Typed {
        Typed::of(self.from + above, &self.unit)
    }
}

/// The interval within which a chance lies with a confidence of 95 percent, of which `of` independent tries showed `n`: E. B. Wilson, Probable inference, the law of succession, and statistical
/// inference, J. Am. Stat. Assoc. 22 (1927) 209. Points of a Latin hypercube or a Sobol sequence are spread more evenly than independent ones, so it is rather too wide for them.
pub fn chance(n: u64, of: u64) -> [f64; 2] {
    if of == 0 {
        return [0.0, 1.0];
    }
    let (n, of) = (n as f64, of as f64);
    let z = normal_quantile(0.975);
    let (p, z2) = (n / of, z * z);
    let middle = (p + 0.5 * z2 / of) / (1.0 + z2 / of);
    let half = z * (p * (1.0 - p) / of + 0.25 * z2 / (of * of)).sqrt() / (1.0 + z2 / of);
    [(middle - half).max(0.0), (middle + half).min(1.0)]
}

/// The quantile of the standard normal distribution: a rational approximation (P. J. Acklam's, good to 1e-9; from memory), made exact by Halley's steps on the distribution itself.
pub(crate) fn normal_quantile(u: f64) -> f64 {
    const A: [f64; 6] = [
        -3.969_683_028_665_376e1,
        2.209_460_984_245_205e2,
        -2.759_285_104_469_687e2,
        1.383_577_518_672_69e2,
        -3.066_479_806_614_716e1,
        2.506_628_277_459_239,
    ];
    const B: [f64; 5] = [
        -5.447_609_879_822_406e1,
        1.615_858_368_580_409e2,
        -1.556_989_798_598_866e2,
        6.680_131_188_771_972e1,
        -1.328_068_155_288_572e1,
    ];
    // the middle's approximation serves everywhere once the steps follow it
    let clipped = u.clamp(0.02, 0.98);
    let q = clipped - 0.5;
    let r = q * q;
    let top = A.iter().fold(0.0, |s, a| s * r + a) * q;
    let bottom = B.iter().fold(0.0, |s, b| s * r + b) * r + 1.0;
    let mut x = top / bottom;
    for _ in 0..60 {
        let e = distribution(x) - u;
        let step = e * (2.0 * std::f64::consts::PI).sqrt() * (0.5 * x * x).exp();
        let next = x - step / (1.0 + 0.5 * x * step);
        if (next - x).abs() <= 1e-15 * x.abs().max(1.0) {
            return next;
        }
        x = next;
    }
    x
}

/// The standard normal distribution.
pub(crate) fn distribution(x: f64) -> f64 {
    0.5 * libm::erfc(-x / std::f64::consts::SQRT_2)
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    fn even(path: &str, from: f64, to: f64, count: u64) -> Vary {
        let unit = String::new();
        let range = Range { from, to, unit };
        Vary {
            path: path.into(),
            of: VarySet::Even {
                range,
                count: Some(count),
            },
        }
    }

    #[test]
    fn a_full_design_has_every_combination_the_last_fastest() {
        let values = VarySet::Values(vec![Typed::Text("a".into()), Typed::Text("b".into())]);
        let first = Vary {
            path: "h".into(),
            of: values,
        };
        let plan = Plan::new(Design::Full, &[first, even("x", 120.0, 126.0, 3)], None, 0).unwrap();
        assert_eq!(plan.rows(), 6);
        let told: Vec<String> = (0..6)
            .map(|k| {
                plan.values(k)
                    .iter()
                    .map(ToString::to_string)
                    .collect::<Vec<_>>()
                    .join(" ")
            })
            .collect();
        assert_eq!(told, ["a 120", "a 123", "a 126", "b 120", "b 123", "b 126"]);
    }

    #[test]
    fn what_is_no_plan_is_told() {
        let x = even("x", 0.0, 1.0, 3);
        let wrong =
            |design, varies: &[Vary], count| Plan::new(design, varies, count, 0).unwrap_err();
        assert_eq!(wrong(Design::Full, &[], None), PlanError::Nothing);
        assert_eq!(
            wrong(Design::Sobol, std::slice::from_ref(&x), None),
            PlanError::NoCount
        );
        assert_eq!(
            wrong(Design::Full, std::slice::from_ref(&x), Some(3)),
            PlanError::CountOfFull
        );
        assert_eq!(
            wrong(Design::Sobol, std::slice::from_ref(&x), Some(0)),
            PlanError::Rows(0)
        );
        let twice = [x.clone(), x.clone()];
        assert_eq!(
            wrong(Design::Full, &twice, None),
            PlanError::Twice("x".into())
        );
        let many: Vec<Vary> = (0..41)
            .map(|k| even(&format!("x{k}"), 0.0, 1.0, 3))
            .collect();
        assert_eq!(wrong(Design::Sobol, &many, Some(8)), PlanError::Factors(41));
        let normal = Vary {
            path: "n".into(),
            of: VarySet::Normal {
                mean: 1.0,
                deviation: 0.1,
                unit: String::new(),
            },
        };
        assert_eq!(
            wrong(Design::Full, &[normal], None),
            PlanError::Distribution("n".into())
        );
    }

    /// Quantiles of the standard normal distribution as tables give them (from memory, to the places written), and the way back.
    #[test]
    fn quantiles_of_the_normal_distribution() {
        for (u, x) in [
            (0.5, 0.0),
            (0.975, 1.959_963_985),
            (0.995, 2.575_829_304),
            (0.841_344_746_068_543, 1.0),
            (1e-6, -4.753_424_309),
        ] {
            assert!(
                (normal_quantile(u) - x).abs() < 1e-8,
                "{u}: {}",
                normal_quantile(u)
            );
        }
        for k in 1..1000 {
            let u = f64::from(k) / 1000.0;
            assert!((distribution(normal_quantile(u)) - u).abs() < 1e-14, "{u}");
        }
        for u in [1e-15, 1e-10, 1.0 - 1e-10] {
            let back = distribution(normal_quantile(u));
            assert!((back / u - 1.0).abs() < 1e-5, "{u} {back}");
        }
    }

    const CHANCES: [(u64, u64, [f64; 2]); 4] = [
        (0, 10, [0.0, 0.27753279986288926]),
        (3, 10, [0.10779126740630102, 0.6032218525388546]),
        (45, 100, [0.35614537979511984, 0.5475539700255787]),
        (997, 1000, [0.9912169859464968, 0.9989792161188613]),
    ];

    /// Ends of Wilson's interval as `scipy.stats.binomtest(n, of).proportion_ci(method="wilson")` of SciPy 1.17.1 gives them: other program.
    #[test]
    fn chances_have_their_interval() {
        for (n, of, ends) in CHANCES {
            let found = chance(n, of);
            for (found, end) in found.into_iter().zip(ends) {
                assert!((found - end).abs() < 1e-9, "{n} of {of}: {found} {end}");
            }
        }
    }

    #[test]
    fn a_triangle_keeps_to_its_ends() {
        let unit = String::from("N");
        let range = Range {
            from: 1.0,
            to: 4.0,
            unit,
        };
        let set = VarySet::Triangular { range, mode: 2.0 };
        let value = |u| set.at(u).quantity().unwrap().0;
        // below the mode lies a third of them
        for (u, x) in [(0.0, 1.0), (1.0 / 3.0, 2.0), (1.0, 4.0), (1.0 / 12.0, 1.5)] {
            assert!((value(u) - x).abs() < 1e-12, "{u}: {}", value(u));
        }
    }
}
