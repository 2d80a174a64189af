//! What a scheme answers to the requests of its examples.

use super::examples::Example;
use super::{Check, Fault, NO_REASON, Report, TWO_ANSWERS, calm};
use crate::scheme::{HoldingScheme, SchemeError, Section, Supports, Values, ask, loose};

/// How much larger the other section is that is asked for in between.
const OTHER: f64 = 1.1;

/// One request.
struct Request<'a> {
    asked: String,
    section: Section,
    values: &'a Values,
}

impl Request<'_> {
    /// The scheme's own reply; `None` if it panics.
    fn put(&self, scheme: &dyn HoldingScheme) -> Option<Result<Supports, SchemeError>> {
        calm(|| scheme.supports(&self.section, self.values))
    }

    /// A request on another section, whose reply does not matter here, but for a program that by then answers the request before it
    /// in another way.
    fn distract(&self, scheme: &dyn HoldingScheme) -> bool {
        let section = Section {
            outer_radius: OTHER * self.section.outer_radius,
            ..self.section
        };
        let reply = calm(|| scheme.supports(&section, self.values));
        !matches!(reply, Some(Err(e)) if e.message.ends_with(TWO_ANSWERS))
    }
}

/// What came of asking with the values of the examples.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Answers {
    /// Nothing that can be used: whatever is asked next would say nothing.
    None,
    /// Some were refused.
    Refused,
    /// All were taken.
    All,
}

/// Asks with the values of the examples. A check that the answers do not allow is not taken down as made.
pub(super) fn check(
    scheme: &dyn HoldingScheme,
    examples: &[Example],
    report: &mut Report,
) -> Answers {
    let requests: Vec<Request> = examples
        .iter()
        .flat_map(|e| {
            e.members(scheme.name()).map(|(section, m)| Request {
                asked: format!("the values of {}", e.label),
                section,
                values: &m.values,
            })
        })
        .collect();
    let mut faults = Vec::new();
    let mut first = Vec::new();
    for r in &requests {
        let reply = r.put(scheme);
        if let Some(fault) = no_answer(scheme, r, reply.as_ref()) {
            report.faults.push(fault);
            return Answers::None;
        }
        faults.extend(fault(r, reply.as_ref()));
        first.push(reply);
    }
    let steady = faults.is_empty();
    report.faults.extend(faults);
    let all = first.iter().all(|r| matches!(r, Some(Ok(_))));
    if all {
        report.made(Check::Replies);
    }
    if steady {
        report.add(Check::Repeats, repeats(scheme, &requests, &first));
    }
    if steady && all {
        let found: Vec<Option<Vec<Fault>>> = examples.iter().map(balance).collect();
        if found.iter().all(Option::is_some) {
            report.made(Check::Balance);
        }
        report.faults.extend(found.into_iter().flatten().flatten());
    }
    let unsteady = |f: &Fault| matches!(f, Fault::Unsteady { .. });
    if report.faults.iter().any(unsteady) {
        Answers::None
    } else if first.iter().any(|r| matches!(r, Some(Err(_)))) {
        Answers::Refused
    } else {
        Answers::All
    }
}

/// Why a program has not one answer to the values of an example.
fn no_answer(
    scheme: &dyn HoldingScheme,
    request: &Request,
    reply: Option<&Result<Supports, SchemeError>>,
) -> Option<Fault> {
    let asked = request.asked.clone();
    if let Some(failure) = scheme.restart() {
        let did = failure.did;
        return Some(Fault::NoReply { asked, did });
    }
    match reply {
        Some(Err(e)) if e.message.ends_with(TWO_ANSWERS) => Some(Fault::Unsteady { asked }),
        _ => None,
    }
}

/// What is wrong with the reply to the values of an example. They are no nonsense: that they are refused is told as the reader of
/// the example words it, and only a refusal without words is told here.
fn fault(request: &Request, reply: Option<&Result<Supports, SchemeError>>) -> Option<Fault> {
    let asked = request.asked.clone();
    match reply {
        None => Some(Fault::Panics { asked }),
        Some(Ok(s)) => {
            let why = s.check(&request.section).err()?;
            Some(Fault::Unsound { asked, why })
        }
        Some(Err(e)) => is_wordless(e).then_some(Fault::Wordless { asked }),
    }
}

/// Whether a refusal says nothing.
fn is_wordless(e: &SchemeError) -> bool {
    e.message.trim().is_empty() || e.message.ends_with(NO_REASON)
}

/// What is wrong with a refusal: it must name a parameter of the scheme, and say something. Two answers are no refusal.
pub(super) fn refusal(scheme: &dyn HoldingScheme, asked: String, e: &SchemeError) -> Option<Fault> {
    if e.message.ends_with(TWO_ANSWERS) {
        return Some(Fault::Unsteady { asked });
    }
    if is_wordless(e) {
        return Some(Fault::Wordless { asked });
    }
    let own = |key: &String| scheme.parameters().iter().any(|p| p.key == **key);
    let message = e.message.clone();
    (!e.parameter.as_ref().is_some_and(own)).then_some(Fault::Unnamed { asked, message })
}

/// Asks again in the reverse order, other sections in between.
fn repeats(
    scheme: &dyn HoldingScheme,
    requests: &[Request],
    first: &[Option<Result<Supports, SchemeError>>],
) -> Vec<Fault> {
    let mut faults = Vec::new();
    for (r, first) in requests.iter().zip(first).rev() {
        let steady = r.distract(scheme);
        if !steady || r.put(scheme) != *first || r.put(scheme) != *first {
            let asked = r.asked.clone();
            faults.push(Fault::Unsteady { asked });
        }
    }
    faults.reverse();
    faults
}

/// Simple statics of every hold of an example, with all its schemes; `None` if one of them gives nothing to add up.
fn balance(example: &Example) -> Option<Vec<Fault>> {
    let mut faults = Vec::new();
    for (section, hold, members) in example.met() {
        let all: Result<Vec<Supports>, _> = members
            .iter()
            .map(|m| ask(&*m.scheme, &section, &m.values))
            .collect();
        faults.extend(loose(&all.ok()?).map(|why| Fault::Loose {
            example: example.label.clone(),
            hold: hold.to_owned(),
            why,
        }));
    }
    Some(faults)
}
