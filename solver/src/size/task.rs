//! `[size]` of a case file.

use std::collections::BTreeMap;

use serde::Deserialize;
use toml::Spanned;

use crate::case::{Change, Problem, problem_at};
use crate::study::{Base, Typed};

/// What is to be sized.
#[derive(Clone, Debug, PartialEq)]
pub struct SizeTask {
    /// The hold.
    pub hold: String,
    /// What may vary, by its path.
    pub free: Vec<Free>,
    /// What cannot be held exactly.
    pub spread: Vec<Spread>,
}

/// A key that may vary.
#[derive(Clone, Debug, PartialEq)]
pub struct Free {
    /// Its path.
    pub path: String,
    /// Least and largest.
    pub bounds: [f64; 2],
    /// Unit of both, empty for plain numbers.
    pub unit: String,
    /// Whether it takes whole numbers alone.
    pub whole: bool,
    /// How far off either way the case has it, a share of its value; every value is tried with the same share.
    pub band: Option<f64>,
    /// A word of the case in its place, which may stand for a band: exact numbers are tried instead.
    pub replaces: Option<String>,
}

/// A key that is off by so much either way.
#[derive(Clone, Debug, PartialEq)]
pub struct Spread {
    /// Its path.
    pub path: String,
    /// Plus or minus.
    pub by: f64,
    /// Its unit.
    pub unit: String,
    /// What the case has, in that unit.
    pub nominal: f64,
}

impl Free {
    /// The change that puts a value in.
    pub fn change(&self, x: f64) -> Change {
        let number = |x: f64| Typed::of(x, &self.unit).in_toml();
        let typed = match (self.whole, self.band) {
            (true, _) => Typed::Whole(x.round() as i64).in_toml(),
            (false, None) => number(x),
            (false, Some(share)) => format!(
                "{{ nominal = {}, plus_minus = {} }}",
                number(x),
                number(share * x.abs())
            ),
        };
        Change::new(self.path.clone(), typed)
    }
}

impl Spread {
    /// The change that puts it off by so much.
    pub fn change(&self, off: f64) -> Change {
        let typed = Typed::of(self.nominal + off, &self.unit);
        Change::new(self.path.clone(), typed.in_toml())
    }
}

#[derive(Deserialize)]
struct Document {
    size: Option<Spanned<Table>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Table {
    hold: String,
    free: BTreeMap<String, [Typed; 2]>,
    #[serde(default)]
    spread: BTreeMap<String, Typed>,
}

/// Most keys that may vary.
const MOST_FREE: usize = 8;

/// Most keys that cannot be held exactly.
const MOST_SPREAD: usize = 6;

/// Why a table is none: its key, and what is wrong.
type Wrong = (String, String);

/// Reads what a case file asks to be sized.
///
/// # Errors
/// What is wrong with it; a file without `[size]` too.
pub fn read_size(base: &Base) -> Result<SizeTask, Vec<Problem>> {
    let at =
        |start: usize, (field, message): Wrong| vec![problem_at(base.text, start, &field, message)];
    let document: Document = toml::from_str(base.text).map_err(|e| {
        let start = e.span().map_or(0, |s| s.start);
        at(start, ("size".into(), e.message().to_owned()))
    })?;
    let Some(table) = document.size else {
        let message = "missing; give [size] with hold = \"NAME\", and [size.free] with \"PATH\" = [low, high]";
        return Err(at(0, ("size".into(), message.into())));
    };
    let start = table.span().start;
    task(base, table.into_inner()).map_err(|wrong| at(start, wrong))
}

fn task(base: &Base, table: Table) -> Result<SizeTask, Wrong> {
    let (free, spread) = (table.free.len(), table.spread.len());
    if free == 0 || free > MOST_FREE {
        let message = format!("{free} keys are free; give 1 to {MOST_FREE}");
        return Err(("size.free".into(), message));
    }
    if spread > MOST_SPREAD {
        let message = format!("{spread} keys are spread; {MOST_SPREAD} are the most");
        return Err(("size.spread".into(), message));
    }
    let mut all = Vec::new();
    for (path, by) in &table.spread {
        all.push(of_spread(base, (path.as_str(), table.free.get(path)), by)?);
    }
    Ok(SizeTask {
        hold: table.hold,
        free: table
            .free
            .iter()
            .map(|(path, bounds)| of_free(base, path, bounds))
            .collect::<Result<_, _>>()?,
        spread: all,
    })
}

fn of_free(base: &Base, path: &str, [low, high]: &[Typed; 2]) -> Result<Free, Wrong> {
    let wrong = |message: String| Err((format!("size.free.\"{path}\""), message));
    let (Some((a, unit)), Some((b, other))) = (low.quantity(), high.quantity()) else {
        return wrong("give [low, high], two numbers".into());
    };
    if unit != other {
        return wrong("both bounds have to be in one unit".into());
    }
    if !(a.is_finite() && b.is_finite()) {
        return wrong("give [low, high], two numbers that end".into());
    }
    if a >= b {
        return wrong(format!(
            "{a} to {b} is no range; give the lower bound first"
        ));
    }
    let whole = matches!((low, high), (Typed::Whole(_), Typed::Whole(_)));
    Ok(Free {
        whole: whole && path.ends_with(".count"),
        path: path.to_owned(),
        bounds: [a, b],
        unit: unit.to_owned(),
        band: band(base, path)?,
        replaces: match base.value(path) {
            Some(Typed::Text(word)) if Typed::Text(word.clone()).quantity().is_none() => Some(word),
            _ => None,
        },
    })
}

/// Half of the band that the case has under a path, as a share of its middle; `None` where it has no band.
fn band(base: &Base, path: &str) -> Result<Option<f64>, Wrong> {
    let Some(band) = base.band(path) else {
        return Ok(None);
    };
    let ends = band
        .as_ref()
        .map(|ends| ends.each_ref().map(Typed::quantity));
    match ends {
        Some([Some((low, a)), Some((high, b))])
            if a == b && high >= low && low >= 0.0 && high > 0.0 =>
        {
            Ok(Some((high - low) / (high + low)))
        }
        _ => Err((
            format!("size.free.\"{path}\""),
            "the case has a band there that no value can be tried with; give it as { low = ..., high = ... } in one unit, zero or more, or as one number".into(),
        )),
    }
}

/// A key that is spread; one that is free too is spread about whatever value is tried.
fn of_spread(
    base: &Base,
    (path, free): (&str, Option<&[Typed; 2]>),
    by: &Typed,
) -> Result<Spread, Wrong> {
    let wrong = |message: String| Err((format!("size.spread.\"{path}\""), message));
    let Some((by, unit)) = by.quantity().filter(|q| q.0 > 0.0 && q.0.is_finite()) else {
        return wrong("give plus or minus, a number above zero".into());
    };
    let nominal = free.map_or_else(|| base.value(path), |bounds| Some(bounds[0].clone()));
    let Some((nominal, own)) = nominal.as_ref().and_then(Typed::quantity) else {
        return wrong("the case has no number there".into());
    };
    if unit != own {
        return wrong(format!(
            "is in \"{unit}\", and the case has it in \"{own}\"; give both in one unit"
        ));
    }
    Ok(Spread {
        path: path.to_owned(),
        by,
        unit: unit.to_owned(),
        nominal,
    })
}
