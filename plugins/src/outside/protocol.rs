//! Questions, and what a program says of itself: one JSON document a line, in mm, N and degrees.

use ringwright_solver::case::FREE;
use ringwright_solver::case::quantity::{self, Dimension, UnitSystem};
use ringwright_solver::scheme::{
    Limits, Parameter, ParameterKind, Section, Value, Values, Words, is_reserved, number_in_words,
};
use serde_json::json;

use super::fields::{Fields, Node, json_line, one_line, shown};

/// The protocol spoken here.
const NUMBER: f64 = 1.0;

/// The first question.
pub(super) const HELLO: &str = r#"{"ringwright": 1, "ask": "hello"}"#;

/// Most parameters.
const MOST_PARAMETERS: usize = 100;

/// Most words of one parameter.
const MOST_CHOICES: usize = 100;

/// Longest name of a scheme or a parameter.
const MOST_NAME: usize = 60;

/// What the answer to [`HELLO`] is called.
const THE_HELLO: &str = "the answer to the hello";

/// What a program says of itself, checked.
#[derive(Debug)]
pub(super) struct Hello {
    pub name: String,
    pub version: String,
    pub about: String,
    pub parameters: Vec<Parameter>,
}

/// A parameter as it came.
struct ParameterLine {
    key: String,
    unit: String,
    default: Option<DefaultLine>,
    about: String,
    /// The words it may be, for one that is a word.
    choices: Vec<String>,
    /// Whether whole numbers alone are taken.
    whole: bool,
    /// The least and the most it may be, in its unit, themselves allowed.
    min: Option<f64>,
    max: Option<f64>,
}

impl ParameterLine {
    /// The `n`th, from 1.
    fn read(n: usize, node: Node) -> Result<Self, String> {
        let mut fields = Fields::new(node, &format!("parameter {n}"))?;
        let line = Self {
            key: fields.text("key")?,
            unit: fields.text("unit")?,
            default: match fields.take("default") {
                None => None,
                Some(Node::Number(x)) => Some(DefaultLine::Number(x)),
                Some(Node::Text(text)) => Some(DefaultLine::Text(text)),
                Some(_) => {
                    return Err(format!(
                        "the key \"default\" of parameter {n} is neither a number nor text"
                    ));
                }
            },
            about: fields.text("about")?,
            choices: fields.texts("choices", MOST_CHOICES)?,
            whole: fields.flag("whole")?,
            min: fields.number_if_any("min")?,
            max: fields.number_if_any("max")?,
        };
        let known = [
            "key", "unit", "default", "about", "choices", "whole", "min", "max",
        ];
        fields.end(&known)?;
        Ok(line)
    }

    /// Its limits, which must leave a number; words have none.
    fn limits(&self) -> Result<Limits, String> {
        let limits = Limits {
            whole: self.whole,
            least: self.min,
            most: self.max,
        };
        let wrong = |why: &str| Err(format!("gives the parameter \"{}\" {why}", self.key));
        if !self.choices.is_empty() {
            if limits != Limits::NONE {
                return wrong("choices, which have no \"whole\", \"min\" or \"max\"");
            }
            if !self.unit.is_empty() {
                return wrong("choices and a unit; words have the unit \"\"");
            }
        }
        let (least, most) = (
            self.min.unwrap_or(f64::NEG_INFINITY),
            self.max.unwrap_or(f64::INFINITY),
        );
        if least > most || (self.whole && least.ceil() > most.floor()) {
            return wrong("a \"min\" and a \"max\" between which there is no number");
        }
        Ok(limits)
    }
}

enum DefaultLine {
    Number(f64),
    Text(String),
}

/// Reads the answer to [`HELLO`]. The protocol's number is looked at before anything else, for what follows may differ.
pub(super) fn hello(line: &str) -> Result<Hello, String> {
    let mut fields = Fields::new(json_line(line)?, THE_HELLO).map_err(not_the_answer)?;
    match fields.take("ringwright") {
        Some(Node::Number(n)) if n == NUMBER => {}
        Some(Node::Number(n)) => {
            return Err(format!(
                "speaks protocol {}, and this program speaks {NUMBER}",
                number_in_words(n)
            ));
        }
        _ => {
            return Err(format!(
                "did not answer the hello with \"ringwright\": {NUMBER}, the number of the protocol"
            ));
        }
    }
    let name = fields.text("scheme").map_err(not_the_answer)?;
    check_name(&name)?;
    let (version, about, parameters) = described(fields).map_err(not_the_answer)?;
    let mut known: Vec<Parameter> = Vec::new();
    for p in parameters {
        let p = parameter(p)?;
        if known.iter().any(|q| q.key == p.key) {
            return Err(format!("has the parameter \"{}\" twice", p.key));
        }
        known.push(p);
    }
    Ok(Hello {
        name,
        version: one_line(&version),
        about: one_line(&about),
        parameters: known,
    })
}

/// What a hello says beside protocol and name: version, about, parameters.
fn described(mut fields: Fields) -> Result<(String, String, Vec<ParameterLine>), String> {
    let version = fields.text("version")?;
    let about = fields.text("about")?;
    let list = fields.list("parameters", MOST_PARAMETERS)?;
    fields.end(&["ringwright", "scheme", "version", "about", "parameters"])?;
    let numbered = list.into_iter().enumerate();
    let parameters = numbered.map(|(k, node)| ParameterLine::read(k + 1, node));
    Ok((version, about, parameters.collect::<Result<_, _>>()?))
}

/// Refuses names that a case could not give, or that mean something else there.
fn check_name(name: &str) -> Result<(), String> {
    if !is_name(name, '-') {
        return Err(format!(
            "calls its scheme \"{}\"; expected 1 to {MOST_NAME} lower-case letters, digits and hyphens, a letter first",
            shown(name)
        ));
    }
    if name == FREE {
        return Err(format!(
            "calls its scheme \"{FREE}\", which is the built-in hold in which nothing touches the part; it must choose another name"
        ));
    }
    Ok(())
}

fn is_name(text: &str, joint: char) -> bool {
    text.len() <= MOST_NAME
        && text.starts_with(|c: char| c.is_ascii_lowercase())
        && text
            .chars()
            .all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == joint)
}

fn parameter(p: ParameterLine) -> Result<Parameter, String> {
    if !is_name(&p.key, '_') || is_reserved(&p.key) {
        return Err(format!(
            "has a parameter \"{}\"; expected 1 to {MOST_NAME} lower-case letters, digits and underscores, a letter first, and not \
             \"scheme\", \"grip_from\" or \"grip_length\"",
            shown(&p.key)
        ));
    }
    let limits = p.limits()?;
    let (kind, dimension) = match p.unit.as_str() {
        "mm" => (ParameterKind::Offset, Dimension::Length),
        "N" => (ParameterKind::Force, Dimension::Force),
        "deg" => (ParameterKind::Angle, Dimension::Angle),
        "MPa" => (ParameterKind::Modulus, Dimension::Stress),
        "N/mm" => (ParameterKind::Stiffness, Dimension::Stiffness),
        "" if !p.choices.is_empty() => {
            let words = p.choices.iter().map(|w| one_line(w).replace('"', "'"));
            (
                ParameterKind::Choice(Words::Told(words.collect())),
                Dimension::Plain,
            )
        }
        "" => (ParameterKind::Number, Dimension::Plain),
        other => {
            return Err(format!(
                "gives the parameter \"{}\" the unit \"{}\"; expected \"mm\", \"N\", \"deg\", \"MPa\", \"N/mm\" or \"\"",
                p.key,
                shown(other)
            ));
        }
    };
    let bad = |shown: &str, why: &str| {
        Err(format!(
            "gives the parameter \"{}\" the default {shown}; {why}",
            p.key
        ))
    };
    let default = match (p.default, &kind) {
        (None, _) => None,
        (Some(DefaultLine::Text(w)), ParameterKind::Choice(words)) => {
            if !words.has(&w) {
                return bad(
                    &format!("\"{}\"", shown(&w)),
                    "it is not one of its choices",
                );
            }
            Some(format!("\"{w}\""))
        }
        (Some(DefaultLine::Number(x)), ParameterKind::Choice(_)) => {
            return bad(&number_in_words(x), "it is not one of its choices");
        }
        (Some(DefaultLine::Number(x)), _) if limits.whole => Some(format!("{x}")),
        (Some(DefaultLine::Number(x)), _) => Some(format!("{x:?}")),
        (Some(DefaultLine::Text(t)), _) => {
            if quantity::parse(&t, dimension, UnitSystem::Millimetre).is_err() {
                return bad(
                    &format!("\"{}\"", shown(&t)),
                    "give a number, a number with its unit, or \"choices\" for a parameter that is a word",
                );
            }
            Some(format!("\"{t}\""))
        }
    };
    let parameter = Parameter {
        key: p.key.into(),
        kind,
        required: default.is_none(),
        default: default.map(Into::into),
        about: one_line(&p.about).into(),
        limits,
        band: false,
    };
    let bounds = parameter.bounds();
    if let (Some(bounds), Some(Value::Number(x))) = (bounds, default_of(&parameter, dimension))
        && (!bounds.hold(x) || (parameter.is_whole() && x.fract() != 0.0))
    {
        return Err(format!(
            "gives the parameter \"{}\" the default {}; it must be {}",
            parameter.key,
            number_in_words(x),
            bounds.in_words(parameter.is_whole(), parameter.kind.unit())
        ));
    }
    Ok(parameter)
}

/// The value of a default that is a number.
fn default_of(p: &Parameter, dimension: Dimension) -> Option<Value> {
    let text = p.default.as_ref()?.trim_matches('"');
    quantity::parse(text, dimension, UnitSystem::Millimetre)
        .ok()
        .map(Value::Number)
}

/// A number of some size within the limits of a parameter that has no default.
fn some_number(p: &Parameter, usual: f64) -> String {
    let Some(bounds) = p.bounds() else {
        return String::new();
    };
    let x = usual.min(bounds.most).max(bounds.least);
    if !p.is_whole() {
        return format!("{x:?}");
    }
    let up = x.ceil();
    format!("{}", if up <= bounds.most { up } else { x.floor() })
}

/// A case file that shows the scheme: its defaults, and numbers of some size for what has none.
pub(super) fn example(hello: &Hello) -> String {
    let mut text = format!(
        "title = \"Ring held by {name}\"\n\n[part]\nouter_diameter = 120.0\nbore_diameter = 108.0\nlength = 20.0\n\
         material = \"aluminium 6061-T6\"\n\n[[hold.outside]]\nscheme = \"{name}\"\n",
        name = hello.name
    );
    for p in &hello.parameters {
        let value = p.default.as_deref().map_or_else(
            || match &p.kind {
                ParameterKind::Offset | ParameterKind::Angle => some_number(p, 10.0),
                ParameterKind::Choice(words) => words.iter().next().unwrap_or_default().to_owned(),
                ParameterKind::Number => some_number(p, 1.0),
                _ => some_number(p, 100.0),
            },
            str::to_owned,
        );
        let quote = if p.default.is_none() && matches!(p.kind, ParameterKind::Choice(_)) {
            "\""
        } else {
            ""
        };
        text += &format!("{} = {quote}{value}{quote}\n", p.key);
    }
    text += "\n[[step]]\nhold = \"outside\"\n";
    text
}

/// A question about a section, without its number. Equal questions are equal texts.
pub(super) fn question(section: &Section, values: &Values) -> String {
    let parameters: serde_json::Map<String, serde_json::Value> = values
        .iter()
        .map(|(key, value)| {
            let value = match value {
                Value::Number(x) => json!(x),
                Value::Numbers(list) => json!(list),
                // no parameter of an outside scheme takes these
                Value::Band(band) => json!(band.nominal),
                Value::Flag(flag) => json!(flag),
                Value::Text(text) => json!(text),
            };
            (key.to_owned(), value)
        })
        .collect();
    json!({
        "section": {
            "outer_radius": section.outer_radius,
            "bore_radius": section.bore_radius,
            "length": section.length,
        },
        "parameters": parameters,
    })
    .to_string()
}

/// A question with its number.
pub(super) fn numbered(n: u64, question: &str) -> String {
    format!(r#"{{"ask": "hold", "n": {n}, {}"#, &question[1..])
}

/// The start of a line, to show what came.
pub(super) fn quoted(line: &str) -> String {
    format!("it said: {}", shown(line.trim_end()))
}

/// What to say of a line of JSON that does not answer.
pub(super) fn not_the_answer(why: String) -> String {
    format!("gave a line that is not the answer: {why}")
}
