//! The points of a study for who asks for them one after another: beyond the plan's own rows, and made up by an optimiser.

use super::design::hashed;
use super::file::{Design, Range, Vary, VarySet};
use super::plan::{Plan, PlanError};
use super::value::Typed;

/// What a study's points may be, and their order.
#[derive(Clone, Debug)]
pub struct Space<'a> {
    plan: &'a Plan,
    design: Design,
    varies: &'a [Vary],
    seed: u64,
}

impl<'a> Space<'a> {
    /// The space of a plan; `varies` is empty for a table of cases.
    pub fn new(plan: &'a Plan, design: Design, varies: &'a [Vary], seed: u64) -> Self {
        Self {
            plan,
            design,
            varies,
            seed,
        }
    }

    /// How many points there are; `None` of a sampled design, which goes on.
    pub fn points(&self) -> Option<u64> {
        match self.design {
            Design::Full | Design::Csv => Some(self.plan.rows()),
            // rows that indices are made of belong together
            Design::Sobol if self.plan.scheme().is_some() => Some(self.plan.rows()),
            Design::Sobol | Design::LatinHypercube => None,
        }
    }

    /// Points from `from` on, as many as `count` and as there are. The first are the rows of the plan. A Sobol sequence goes on as it is; after a Latin hypercube comes another of as many
    /// points, with a seed made of the study's and its number.
    ///
    /// # Errors
    /// [`PlanError`] if another hypercube cannot be made.
    pub fn from(&self, from: u64, count: u64) -> Result<Vec<Vec<Typed>>, PlanError> {
        let end = from.saturating_add(count);
        let end = self.points().map_or(end, |all| end.min(all));
        let rows = self.plan.rows();
        if self.design != Design::LatinHypercube {
            return Ok((from..end).map(|k| self.plan.values(k)).collect());
        }
        let mut all = Vec::new();
        let mut cube: Option<(u64, Plan)> = None;
        for k in from..end {
            let number = k / rows;
            if number == 0 {
                all.push(self.plan.values(k));
                continue;
            }
            if cube.as_ref().is_none_or(|(n, _)| *n != number) {
                let seed = hashed(&[self.seed, NEXT_CUBE, number]);
                let plan = Plan::new(self.design, self.varies, Some(rows), seed)?;
                cube = Some((number, plan));
            }
            all.extend(cube.as_ref().map(|(_, plan)| plan.values(k % rows)));
        }
        Ok(all)
    }

    /// A point that somebody gives, in the order of the plan's paths, as the plan would have it: a plain number counts in the unit of its range, and the same value is typed the same way,
    /// so that its case is the same. A table of cases has no ranges, nor has a normal distribution ends.
    ///
    /// # Errors
    /// The path at fault, and what is wrong with its value.
    pub fn point(&self, given: &[Typed]) -> Result<Vec<Typed>, (String, String)> {
        let paths = self.plan.paths().iter().enumerate();
        paths
            .map(|(k, path)| {
                let typed = given.get(k).cloned().unwrap_or(Typed::Text(String::new()));
                if typed == Typed::Text(String::new()) {
                    return Err((path.clone(), "is empty; give a value".to_owned()));
                }
                match self.varies.get(k) {
                    Some(vary) => value(&vary.of, &typed).map_err(|why| (path.clone(), why)),
                    None => Ok(typed),
                }
            })
            .collect()
    }
}

/// Tells the seed of a further hypercube from all else that is made of a study's seed.
const NEXT_CUBE: u64 = 0x6e65_7874;

/// A value of a key as its plan would have it.
fn value(set: &VarySet, typed: &Typed) -> Result<Typed, String> {
    let number = |unit: &str| -> Result<f64, String> {
        let (number, own) = typed
            .quantity()
            .filter(|(x, _)| x.is_finite())
            .ok_or_else(|| format!("is {typed}; give a number"))?;
        match own {
            "" => Ok(number),
            own if own == unit => Ok(number),
            own if unit.is_empty() => Err(format!(
                "is in {own}, and the study has plain numbers; leave the unit out"
            )),
            own => Err(format!("is in {own}, and the study has it in {unit}")),
        }
    };
    let within = |range: &Range| -> Result<Typed, String> {
        let x = number(&range.unit)?;
        // values of a full design are rounded to twelve digits behind the first
        let slack = 1e-12 * range.from.abs().max(range.to.abs());
        match (range.from - slack..=range.to + slack).contains(&x) {
            true => Ok(Typed::of(x, &range.unit)),
            false => Err(format!(
                "is {typed}, outside of the study's {}",
                ends(range)
            )),
        }
    };
    match set {
        VarySet::Values(values) => {
            let same = |v: &&Typed| match (v.quantity(), typed.quantity()) {
                (Some(a), Some(b)) => a == b,
                _ => v.to_string() == typed.to_string(),
            };
            values.iter().find(same).cloned().ok_or_else(|| {
                let all: Vec<String> = values.iter().map(ToString::to_string).collect();
                format!("is {typed}, none of the study's {}", all.join(", "))
            })
        }
        VarySet::Even { range, .. } | VarySet::Triangular { range, .. } => within(range),
        VarySet::Whole { from, to } => match number("")? {
            x if x.fract() != 0.0 => Err(format!("is {typed}; give a whole number")),
            x if (*from as f64..=*to as f64).contains(&x) => Ok(Typed::Whole(x as i64)),
            _ => Err(format!("is {typed}, outside of the study's {from} to {to}")),
        },
        VarySet::Normal { unit, .. } => Ok(Typed::of(number(unit)?, unit)),
    }
}

fn ends(range: &Range) -> String {
    let unit = match range.unit.as_str() {
        "" => String::new(),
        unit => format!(" {unit}"),
    };
    format!("{} to {}{unit}", range.from, range.to)
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    fn range(from: f64, to: f64, unit: &str) -> Range {
        let unit = unit.to_owned();
        Range { from, to, unit }
    }

    fn even(path: &str, unit: &str) -> Vary {
        Vary {
            path: path.into(),
            of: VarySet::Even {
                range: range(0.0, 8.0, unit),
                count: None,
            },
        }
    }

    /// Truth: invariance; by construction of the design
    #[test]
    fn sampled_points_go_on_beyond_the_plan() {
        let varies = [even("a", ""), even("b", "")];
        for design in [Design::Sobol, Design::LatinHypercube] {
            let plan = Plan::new(design, &varies, Some(8), 3).unwrap();
            let space = Space::new(&plan, design, &varies, 3);
            let all = space.from(0, 24).unwrap();
            assert_eq!(all.len(), 24);
            for k in 0..8 {
                assert_eq!(all[k as usize], plan.values(k));
            }
            // wherever it is asked from
            assert_eq!(space.from(5, 14).unwrap(), all[5..19]);
            // each eight points have one in each eighth of every factor
            for eight in all.chunks(8) {
                for factor in 0..2 {
                    let part = |p: &Vec<Typed>| p[factor].quantity().unwrap().0.floor() as u64;
                    let mut parts: Vec<u64> = eight.iter().map(part).collect();
                    parts.sort_unstable();
                    assert_eq!(parts, (0..8).collect::<Vec<u64>>(), "{design:?}");
                }
            }
            assert_ne!(all[0..8], all[8..16]);
            assert_ne!(all[8..16], all[16..24]);
        }
        let full = [even("a", "")];
        let plan = Plan::new(Design::Full, &full, None, 0).unwrap();
        let space = Space::new(&plan, Design::Full, &full, 0);
        assert_eq!(space.points(), Some(10));
        assert_eq!(space.from(7, 9).unwrap().len(), 3);
        assert_eq!(space.from(10, 9).unwrap().len(), 0);
    }

    #[test]
    fn points_are_taken_as_the_plan_would_have_them() {
        let values = VarySet::Values(vec![
            Typed::Whole(3),
            Typed::Text("2.5 kN".into()),
            Typed::Text("soft".into()),
        ]);
        let plain = VarySet::Even {
            range: range(1.0, 2.0, ""),
            count: None,
        };
        let inch = VarySet::Triangular {
            range: range(1.0, 2.0, "in"),
            mode: 1.5,
        };
        let normal = VarySet::Normal {
            mean: 0.0,
            deviation: 1.0,
            unit: String::new(),
        };
        let text = |t: &str| Typed::Text(t.into());
        for (set, given, taken) in [
            (&values, Typed::Number(3.0), Ok(Typed::Whole(3))),
            (&values, text("2.5 kN"), Ok(text("2.5 kN"))),
            (&values, text("soft"), Ok(text("soft"))),
            (
                &values,
                Typed::Whole(4),
                Err("none of the study's 3, 2.5 kN, soft"),
            ),
            (&plain, Typed::Whole(2), Ok(Typed::Number(2.0))),
            (
                &plain,
                Typed::Number(2.5),
                Err("outside of the study's 1 to 2"),
            ),
            (&plain, text("1 mm"), Err("leave the unit out")),
            (&plain, text("x"), Err("give a number")),
            (&inch, Typed::Number(1.25), Ok(text("1.25 in"))),
            (&inch, text("1.25 in"), Ok(text("1.25 in"))),
            (&inch, text("30 mm"), Err("the study has it in in")),
            (
                &inch,
                Typed::Whole(3),
                Err("outside of the study's 1 to 2 in"),
            ),
            (&normal, Typed::Whole(-9), Ok(Typed::Number(-9.0))),
        ] {
            match (value(set, &given), taken) {
                (Ok(found), Ok(wanted)) => assert_eq!(found, wanted),
                (Err(found), Err(words)) => assert!(found.contains(words), "{found}"),
                (found, _) => panic!("{given:?}: {found:?}"),
            }
        }
        let varies = [even("a", ""), even("b", "")];
        let plan = Plan::new(Design::Sobol, &varies, Some(8), 3).unwrap();
        let space = Space::new(&plan, Design::Sobol, &varies, 3);
        let (path, why) = space.point(&[Typed::Whole(1), text("")]).unwrap_err();
        assert_eq!(
            (path.as_str(), why.as_str()),
            ("b", "is empty; give a value")
        );
        // a plan's own rows are what they were
        let row = plan.values(5);
        assert_eq!(space.point(&row).unwrap(), row);
    }
}
