//! What a scheme answers to the requests of its examples.

use super::examples::Example;
use super::{Fault, calm};
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

    /// A request on another section, whose reply does not matter here.
    fn distract(&self, scheme: &dyn HoldingScheme) {
        let section = Section {
            outer_radius: OTHER * self.section.outer_radius,
            ..self.section
        };
        let _ = calm(|| scheme.supports(&section, self.values));
    }
}

pub(super) fn check(scheme: &dyn HoldingScheme, examples: &[Example]) -> Vec<Fault> {
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
        if let Some(failure) = scheme.restart() {
            let asked = r.asked.clone();
            faults.push(Fault::NoReply {
                asked,
                did: failure.did,
            });
            return faults;
        }
        faults.extend(fault(scheme, r, reply.as_ref()));
        first.push(reply);
    }
    if faults.is_empty() {
        faults.extend(repeats(scheme, &requests, &first));
        faults.extend(examples.iter().flat_map(balance));
    }
    faults
}

/// What is wrong with the reply to the values of an example, which must be taken.
fn fault(
    scheme: &dyn HoldingScheme,
    request: &Request,
    reply: Option<&Result<Supports, SchemeError>>,
) -> Option<Fault> {
    let asked = request.asked.clone();
    match reply {
        None => Some(Fault::Panics { asked }),
        Some(Ok(s)) => {
            let why = s.check(&request.section).err()?;
            Some(Fault::Unsound { asked, why })
        }
        Some(Err(e)) => refusal(scheme, asked, e),
    }
}

/// What is wrong with a refusal: it must name a parameter of the scheme, and say something.
pub(super) fn refusal(scheme: &dyn HoldingScheme, asked: String, e: &SchemeError) -> Option<Fault> {
    let own = |key: &String| scheme.parameters().iter().any(|p| p.key == key);
    if !e.parameter.as_ref().is_some_and(own) {
        let message = e.message.clone();
        return Some(Fault::Unnamed { asked, message });
    }
    (e.message.trim().is_empty()).then_some(Fault::Wordless { asked })
}

/// Asks again in the reverse order, other sections in between.
fn repeats(
    scheme: &dyn HoldingScheme,
    requests: &[Request],
    first: &[Option<Result<Supports, SchemeError>>],
) -> Vec<Fault> {
    let mut faults = Vec::new();
    for (r, first) in requests.iter().zip(first).rev() {
        r.distract(scheme);
        if r.put(scheme) != *first || r.put(scheme) != *first {
            let asked = r.asked.clone();
            faults.push(Fault::Unsteady { asked });
        }
    }
    faults.reverse();
    faults
}

/// Simple statics of every hold of an example, with all its schemes.
fn balance(example: &Example) -> Vec<Fault> {
    example
        .met()
        .filter_map(|(section, hold, members)| {
            let all: Result<Vec<Supports>, _> = members
                .iter()
                .map(|m| ask(m.scheme, &section, &m.values))
                .collect();
            Some(Fault::Loose {
                example: example.label.clone(),
                hold: hold.to_owned(),
                why: loose(&all.ok()?)?,
            })
        })
        .collect()
}
