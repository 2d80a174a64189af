//! Questions and answers: one JSON document a line, in mm, N and degrees. Unknown fields are refused: a misspelt one would
//! otherwise be a wrong hold without a word.

use ringwright_solver::case::FREE;
use ringwright_solver::case::quantity::{self, Dimension, UnitSystem};
use ringwright_solver::geometry::Surface;
use ringwright_solver::scheme::{
    Body, Bounds, Drive, Face, Limits, Parameter, ParameterKind, PointForce, PressurePatch, Push,
    Section, Supports, Value, Values, number_in_words,
};
use serde::Deserialize;
use serde_json::json;

/// The protocol spoken here.
const NUMBER: u64 = 1;

/// The first question.
pub(super) const HELLO: &str = r#"{"ringwright": 1, "ask": "hello"}"#;

/// Most parameters, and bodies or loads of one answer.
const MOST_PARAMETERS: usize = 100;
const MOST_BODIES: usize = Bounds::MOST_BODIES as usize;

/// What a program says of itself, checked.
#[derive(Debug)]
pub(super) struct Hello {
    pub name: String,
    pub version: String,
    pub about: String,
    pub parameters: Vec<Parameter>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct HelloLine {
    #[serde(rename = "ringwright")]
    _number: u64,
    scheme: String,
    version: String,
    about: String,
    #[serde(default)]
    parameters: Vec<ParameterLine>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct ParameterLine {
    key: String,
    unit: String,
    default: Option<DefaultLine>,
    about: String,
    /// The words it may be, for one that is a word.
    #[serde(default)]
    choices: Vec<String>,
    /// Whether whole numbers alone are taken.
    #[serde(default)]
    whole: bool,
    /// The least and the most it may be, in its unit, themselves allowed.
    min: Option<f64>,
    max: Option<f64>,
}

impl ParameterLine {
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

#[derive(Deserialize)]
#[serde(untagged)]
enum DefaultLine {
    Number(f64),
    Text(String),
}

/// Reads the answer to [`HELLO`]. The protocol's number is looked at before anything else, for what follows may differ.
pub(super) fn hello(line: &str) -> Result<Hello, String> {
    let value: serde_json::Value = json_line(line)?;
    match &value["ringwright"] {
        n if n.as_u64() == Some(NUMBER) => {}
        serde_json::Value::Null => {
            return Err(format!(
                "did not answer the hello with \"ringwright\": {NUMBER}, the number of the protocol"
            ));
        }
        n => {
            return Err(format!(
                "speaks protocol {n}, and this program speaks {NUMBER}"
            ));
        }
    }
    let hello = HelloLine::deserialize(value).map_err(not_the_answer)?;
    if !is_name(&hello.scheme, '-') {
        return Err(format!(
            "calls its scheme {:?}; expected lower-case letters, digits and hyphens, a letter first",
            hello.scheme
        ));
    }
    if hello.scheme == FREE {
        return Err(format!(
            "calls its scheme \"{FREE}\", which is the built-in hold in which nothing touches the part; it must choose another name"
        ));
    }
    if hello.parameters.len() > MOST_PARAMETERS {
        return Err(format!(
            "has {} parameters; {MOST_PARAMETERS} are the most",
            hello.parameters.len()
        ));
    }
    let mut parameters: Vec<Parameter> = Vec::new();
    for p in hello.parameters {
        let p = parameter(p)?;
        if parameters.iter().any(|q| q.key == p.key) {
            return Err(format!("has the parameter \"{}\" twice", p.key));
        }
        parameters.push(p);
    }
    Ok(Hello {
        name: hello.scheme,
        version: one_line(&hello.version),
        about: one_line(&hello.about),
        parameters,
    })
}

fn is_name(text: &str, joint: char) -> bool {
    text.len() <= 60
        && text.starts_with(|c: char| c.is_ascii_lowercase())
        && text
            .chars()
            .all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == joint)
}

/// Cut short, without control characters: what is shown stays on its line and does not steer the terminal.
fn one_line(text: &str) -> String {
    text.chars()
        .take(300)
        .map(|c| if c.is_control() { ' ' } else { c })
        .collect()
}

/// The descriptions of built-in parameters are constants; so that these fit the same type their few strings, read once
/// a program, live as long as the process.
fn keep(text: String) -> &'static str {
    Box::leak(text.into_boxed_str())
}

fn parameter(p: ParameterLine) -> Result<Parameter, String> {
    if !is_name(&p.key, '_') || p.key == "scheme" {
        return Err(format!(
            "has a parameter {:?}; expected lower-case letters, digits and underscores, a letter first, and not \"scheme\"",
            p.key
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
            let words: Vec<&'static str> = p
                .choices
                .iter()
                .map(|w| keep(one_line(w).replace('"', "'")))
                .collect();
            (ParameterKind::Choice(Vec::leak(words)), Dimension::Plain)
        }
        "" => (ParameterKind::Number, Dimension::Plain),
        other => {
            return Err(format!(
                "gives the parameter \"{}\" the unit {other:?}; expected \"mm\", \"N\", \"deg\", \"MPa\", \"N/mm\" or \"\"",
                p.key
            ));
        }
    };
    let bad = |shown: &str, why: &str| {
        Err(format!(
            "gives the parameter \"{}\" the default {shown}; {why}",
            p.key
        ))
    };
    let default = match (p.default, kind) {
        (None, _) => None,
        (Some(DefaultLine::Text(w)), ParameterKind::Choice(words)) => {
            if !words.contains(&w.as_str()) {
                return bad(&format!("{w:?}"), "it is not one of its choices");
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
                    &format!("{t:?}"),
                    "give a number, a number with its unit, or \"choices\" for a parameter that is a word",
                );
            }
            Some(format!("\"{t}\""))
        }
    };
    let parameter = Parameter {
        key: keep(p.key),
        kind,
        required: default.is_none(),
        default: default.map(keep),
        about: keep(one_line(&p.about)),
        limits,
    };
    let bounds = parameter.bounds();
    if let (Some(bounds), Some(Value::Number(x))) = (bounds, default_of(&parameter, dimension))
        && (!bounds.hold(x) || (parameter.is_whole() && x.fract() != 0.0))
    {
        return Err(format!(
            "gives the parameter \"{}\" the default {}; it must be {}",
            parameter.key,
            number_in_words(x),
            bounds.in_words(parameter.is_whole(), kind.unit())
        ));
    }
    Ok(parameter)
}

/// The value of a default that is a number.
fn default_of(p: &Parameter, dimension: Dimension) -> Option<Value> {
    let text = p.default?.trim_matches('"');
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
        let value = p.default.map_or_else(
            || match p.kind {
                ParameterKind::Offset | ParameterKind::Angle => some_number(p, 10.0),
                ParameterKind::Choice(words) => words[0].to_owned(),
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

/// What a program answers.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Answer {
    Hold(Reply),
    Refused(Refusal),
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct AnswerLine {
    n: u64,
    ok: Option<Reply>,
    error: Option<Refusal>,
}

/// Its own words.
#[derive(Clone, Debug, Deserialize, PartialEq)]
#[serde(deny_unknown_fields)]
pub(super) struct Refusal {
    pub message: String,
    pub parameter: Option<String>,
}

/// A hold as it came.
#[derive(Clone, Debug, Deserialize, PartialEq)]
#[serde(deny_unknown_fields)]
pub(super) struct Reply {
    #[serde(default)]
    bodies: Vec<BodyLine>,
    #[serde(default)]
    pressures: Vec<PressureLine>,
    #[serde(default)]
    points: Vec<PointLine>,
    #[serde(default)]
    notes: Vec<String>,
}

#[derive(Clone, Copy, Debug, Deserialize, PartialEq)]
#[serde(rename_all = "lowercase")]
enum SurfaceWord {
    Outer,
    Bore,
}

impl From<SurfaceWord> for Surface {
    fn from(word: SurfaceWord) -> Self {
        match word {
            SurfaceWord::Outer => Surface::Outer,
            SurfaceWord::Bore => Surface::Bore,
        }
    }
}

#[derive(Clone, Copy, Debug, Deserialize, PartialEq)]
#[serde(rename_all = "lowercase")]
enum OutlineWord {
    Concave,
    Flat,
    Convex,
}

#[derive(Clone, Copy, Debug, Deserialize, PartialEq)]
#[serde(rename_all = "lowercase")]
enum DriveWord {
    Force,
    Fixed,
}

#[derive(Clone, Debug, Deserialize, PartialEq)]
#[serde(deny_unknown_fields)]
struct BodyLine {
    surface: SurfaceWord,
    angle: f64,
    outline: OutlineWord,
    radius: Option<f64>,
    width: f64,
    drive: DriveWord,
    force: Option<f64>,
    gap: Option<f64>,
    friction: Option<f64>,
}

#[derive(Clone, Debug, Deserialize, PartialEq)]
#[serde(deny_unknown_fields)]
struct PressureLine {
    surface: SurfaceWord,
    angle: f64,
    half_angle: f64,
    force: f64,
}

#[derive(Clone, Debug, Deserialize, PartialEq)]
#[serde(deny_unknown_fields)]
struct PointLine {
    surface: SurfaceWord,
    angle: f64,
    force: f64,
}

/// Reads the answer to question `n`.
pub(super) fn answer(line: &str, n: u64) -> Result<Answer, String> {
    let value: serde_json::Value = json_line(line)?;
    let answer = AnswerLine::deserialize(value).map_err(not_the_answer)?;
    if answer.n != n {
        return Err(format!("answered question {} when asked {n}", answer.n));
    }
    match (answer.ok, answer.error) {
        (Some(reply), None) => Ok(Answer::Hold(reply)),
        (None, Some(no)) => Ok(Answer::Refused(Refusal {
            message: one_line(&no.message),
            ..no
        })),
        _ => Err("gave a line that is not the answer: expected one of \"ok\" and \"error\"".into()),
    }
}

/// One JSON document; NaN and infinities are not JSON. What the reader of JSON has to say of lines and columns helps nobody beside the
/// line itself, but for a number that looks like one.
fn json_line(line: &str) -> Result<serde_json::Value, String> {
    serde_json::from_str(line).map_err(|e| {
        let why = if e.to_string().starts_with("number out of range") {
            ": a number in it is too large"
        } else if line.contains("NaN") || line.contains("Infinity") {
            ": NaN and infinity are no numbers of JSON"
        } else {
            ""
        };
        format!("gave a line that is not JSON{why}")
    })
}

fn not_the_answer(e: serde_json::Error) -> String {
    format!("gave a line that is not the answer: {e}")
}

/// The start of a line, to show what came.
pub(super) fn quoted(line: &str) -> String {
    const SHOWN: usize = 60;
    let line = line.trim_end();
    let start: String = one_line(line).chars().take(SHOWN).collect();
    let more = if line.chars().count() > SHOWN {
        "..."
    } else {
        ""
    };
    format!("it said: {start}{more}")
}

/// The hold of a reply, numbers as they came: what can exist is checked on the result.
pub(super) fn supports(reply: &Reply, section: &Section) -> Result<Supports, String> {
    let many = reply.bodies.len() + reply.pressures.len() + reply.points.len();
    if many == 0 {
        return Err("nothing touches the part; give bodies, pressures or points".into());
    }
    if many > MOST_BODIES {
        return Err(format!(
            "{many} bodies and loads; {MOST_BODIES} are the most"
        ));
    }
    let mut bodies = Vec::new();
    let mut pushes = Vec::new();
    for (k, line) in reply.bodies.iter().enumerate() {
        let (body, push) = body(line, section).map_err(|e| format!("body {}: {e}", k + 1))?;
        bodies.push(body);
        pushes.push(push);
    }
    Ok(Supports {
        bodies,
        drive: Drive::Each(pushes),
        pressures: reply
            .pressures
            .iter()
            .map(|p| PressurePatch {
                surface: p.surface.into(),
                angle: p.angle.to_radians(),
                half_angle: p.half_angle.to_radians(),
                force: p.force,
            })
            .collect(),
        points: reply
            .points
            .iter()
            .map(|p| PointForce {
                surface: p.surface.into(),
                angle: p.angle.to_radians(),
                force: p.force,
            })
            .collect(),
        assumed: reply.notes.iter().map(|n| one_line(n)).collect(),
        ..Supports::default()
    })
}

fn body(line: &BodyLine, section: &Section) -> Result<(Body, Push), String> {
    let surface = Surface::from(line.surface);
    let diameter = 2.0 * section.radius(surface);
    if !(line.width > 0.0 && line.width < diameter) {
        return Err(format!(
            "it is {} mm wide on a surface of {diameter:.3} mm diameter; it must be above zero and narrower than the part",
            line.width
        ));
    }
    let radius = || {
        line.radius
            .ok_or("a concave or convex outline needs its \"radius\"")
    };
    let face = match line.outline {
        OutlineWord::Flat if line.radius.is_some() => {
            return Err("a flat outline has no \"radius\"; leave it out".into());
        }
        OutlineWord::Flat => Face::Flat,
        OutlineWord::Concave => Face::Concave { radius: radius()? },
        OutlineWord::Convex => Face::Convex { radius: radius()? },
    };
    let push = match (line.drive, line.force, line.gap) {
        (DriveWord::Force, Some(force), None) => Push::Force(force),
        (DriveWord::Fixed, None, Some(gap)) => Push::Gap(gap),
        (DriveWord::Force, ..) => {
            return Err("driven by \"force\" it needs its \"force\" and no \"gap\"".into());
        }
        (DriveWord::Fixed, ..) => {
            return Err("\"fixed\" it needs its \"gap\" and no \"force\"".into());
        }
    };
    // a chord of the gripped circle: width = diameter * sin(half angle)
    let half_angle = (line.width / diameter).asin();
    let mut body = Body::new(surface, line.angle.to_radians(), half_angle, face);
    body.friction = line.friction;
    Ok((body, push))
}
