//! `[size]` of a case file.

use std::collections::BTreeMap;

use serde::Deserialize;
use toml::Spanned;

use crate::case::{Change, Problem};
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
        let typed = match self.whole {
            true => Typed::Whole(x.round() as i64),
            false => Typed::of(x, &self.unit),
        };
        Change::new(self.path.clone(), typed.in_toml())
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
const MOST_FREE: usize = 3;

/// Most keys that cannot be held exactly.
const MOST_SPREAD: usize = 6;

/// Reads what a case file asks to be sized.
///
/// # Errors
/// What is wrong with it; a file without `[size]` too.
pub fn read_size(base: &Base) -> Result<SizeTask, Vec<Problem>> {
    let text = base.text;
    let at = |start: usize, field: &str, message: String| {
        let before = &text[..start.min(text.len())];
        let line_start = before.rfind('\n').map_or(0, |k| k + 1);
        vec![Problem {
            line: before.matches('\n').count() + 1,
            column: before[line_start..].chars().count() + 1,
            field: field.to_owned(),
            message,
            kind: Default::default(),
        }]
    };
    let document: Document = toml::from_str(text).map_err(|e| {
        let start = e.span().map_or(0, |s| s.start);
        at(start, "size", e.message().to_owned())
    })?;
    let Some(table) = document.size else {
        let message = "missing; give [size] with hold = \"NAME\", and [size.free] with \"PATH\" = [low, high]";
        return Err(at(0, "size", message.into()));
    };
    let start = table.span().start;
    let table = table.into_inner();
    let wrong = |field: String, message: String| at(start, &field, message);
    if table.free.is_empty() || table.free.len() > MOST_FREE {
        let message = format!("{} keys are free; give 1 to {MOST_FREE}", table.free.len());
        return Err(wrong("size.free".into(), message));
    }
    if table.spread.len() > MOST_SPREAD {
        let message = format!(
            "{} keys are spread; {MOST_SPREAD} are the most",
            table.spread.len()
        );
        return Err(wrong("size.spread".into(), message));
    }
    let mut free = Vec::new();
    for (path, [low, high]) in &table.free {
        let field = format!("size.free.\"{path}\"");
        let (Some((a, unit)), Some((b, other))) = (low.quantity(), high.quantity()) else {
            return Err(wrong(field, "give [low, high], two numbers".into()));
        };
        if unit != other {
            return Err(wrong(field, "both bounds have to be in one unit".into()));
        }
        if a >= b {
            return Err(wrong(
                field,
                format!("{a} to {b} is no range; give the lower bound first"),
            ));
        }
        free.push(Free {
            whole: matches!((low, high), (Typed::Whole(_), Typed::Whole(_)))
                && path.ends_with(".count"),
            path: path.clone(),
            bounds: [a, b],
            unit: unit.to_owned(),
        });
    }
    let mut spread = Vec::new();
    for (path, by) in &table.spread {
        let field = format!("size.spread.\"{path}\"");
        if table.free.contains_key(path) {
            let message = "is free too; a key that is sized is bored as it is told, so give the spread of what is bored or clamped instead";
            return Err(wrong(field, message.into()));
        }
        let Some((by, unit)) = by.quantity().filter(|q| q.0 > 0.0) else {
            return Err(wrong(
                field,
                "give plus or minus, a number above zero".into(),
            ));
        };
        let nominal = base.value(path);
        let Some((nominal, own)) = nominal.as_ref().and_then(Typed::quantity) else {
            return Err(wrong(field, "the case has no number there".into()));
        };
        if unit != own {
            let message = format!(
                "is in \"{unit}\", and the case has it in \"{own}\"; give both in one unit"
            );
            return Err(wrong(field, message));
        }
        spread.push(Spread {
            path: path.clone(),
            by,
            unit: unit.to_owned(),
            nominal,
        });
    }
    Ok(SizeTask {
        hold: table.hold,
        free,
        spread,
    })
}
