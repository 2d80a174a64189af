//! The case files that a scheme brings: read, explained, solved.

use super::{Fault, calm};
use crate::case::{Case, HoldMember, Problem, read_despite};
use crate::process::{self, KeepFields, Options};
use crate::scheme::{HoldingScheme, Registry, Section, Supports, ask};

/// One case file of the scheme, as far as it could be read.
pub(super) struct Example {
    /// How faults call it.
    pub label: String,
    /// Its text.
    pub text: String,
    /// What it says.
    pub case: Case,
    /// What the reader found wrong.
    problems: Vec<Problem>,
}

impl Example {
    /// Whether the reader found nothing wrong.
    pub fn is_clean(&self) -> bool {
        self.problems.is_empty()
    }

    /// Holds with the sections on which steps meet them, in order.
    pub fn met(&self) -> impl Iterator<Item = (Section, &str, &[HoldMember])> {
        let steps = self.case.steps.iter().enumerate();
        steps.filter_map(|(k, step)| {
            let hold = self.case.hold(&step.hold)?;
            Some((self.case.section_at(k), step.hold.as_str(), &*hold.members))
        })
    }

    /// Members of the scheme, with the sections they meet.
    pub fn members(&self, name: &str) -> impl Iterator<Item = (Section, &HoldMember)> {
        self.met().flat_map(move |(section, _, members)| {
            let own = members.iter().filter(move |m| m.scheme.name() == name);
            own.map(move |m| (section, m))
        })
    }
}

/// The scheme's own example and those of its recipes; `None` if the first cannot be used at all.
pub(super) fn read(
    scheme: &dyn HoldingScheme,
    registry: &Registry,
    faults: &mut Vec<Fault>,
) -> Option<Vec<Example>> {
    let recipes = scheme.recipes().iter();
    let texts = [("example".to_owned(), scheme.example())]
        .into_iter()
        .chain(recipes.map(|r| (format!("recipe {}", r.name), r.example)));
    let mut examples = Vec::new();
    for (label, text) in texts {
        let Some((case, problems)) = calm(|| read_despite(text, registry)) else {
            let asked = format!("the values of {label}");
            faults.push(Fault::Panics { asked });
            continue;
        };
        let Some(case) = case else {
            faults.extend(problems.iter().map(|p| unreadable(&label, p)));
            continue;
        };
        let example = Example {
            label,
            text: text.to_owned(),
            case,
            problems,
        };
        if example.members(scheme.name()).next().is_some() {
            examples.push(example);
        } else if example.problems.is_empty() {
            let example = example.label;
            faults.push(Fault::NotUsed { example });
        } else {
            explain(&[example], faults);
        }
    }
    (!examples.is_empty()).then_some(examples)
}

fn unreadable(example: &str, problem: &Problem) -> Fault {
    Fault::Unreadable {
        example: example.to_owned(),
        line: problem.line,
        message: if problem.field.is_empty() {
            problem.message.clone()
        } else {
            format!("{}: {}", problem.field, problem.message)
        },
    }
}

/// What the reader found wrong, where no check of the kit has a name for it.
pub(super) fn explain(examples: &[Example], faults: &mut Vec<Fault>) {
    for e in examples {
        faults.extend(e.problems.iter().map(|p| unreadable(&e.label, p)));
    }
}

/// Solves the examples.
pub(super) fn run(examples: &[Example]) -> Vec<Fault> {
    examples.iter().flat_map(solve).collect()
}

fn solve(example: &Example) -> Vec<Fault> {
    let options = Options {
        fields: KeepFields::None,
        ..Options::default()
    };
    let label = || example.label.clone();
    let outcome = match process::run(&example.case, &options) {
        Ok(outcome) => outcome,
        Err(e) => {
            return vec![Fault::NoAnswer {
                example: label(),
                message: e.to_string(),
            }];
        }
    };
    let mut faults = Vec::new();
    for (k, step) in outcome.steps.iter().enumerate() {
        if !step.estimate.converged {
            faults.push(Fault::NotConverged {
                example: label(),
                step: k + 1,
            });
        }
        let (found, least) = (
            step.held.rigid_body_modes.len(),
            rigid_body_modes(&example.case, k),
        );
        if found < least {
            faults.push(Fault::RigidBodyMode {
                example: label(),
                step: k + 1,
                found,
                least,
            });
        }
    }
    faults
}

/// How many motions nothing resists for certain: a frictionless body never resists turning, a dead load nothing.
fn rigid_body_modes(case: &Case, step: usize) -> usize {
    let section = case.section_at(step);
    let members = case
        .hold(&case.steps[step].hold)
        .map_or(&[][..], |h| &h.members);
    let all: Vec<Supports> = members
        .iter()
        .filter_map(|m| ask(&*m.scheme, &section, &m.values).ok())
        .collect();
    if all.iter().any(|s| s.end_clamp.is_some()) {
        0
    } else if all.iter().any(|s| !s.bodies.is_empty()) {
        1
    } else {
        3
    }
}
