//! Answers about a section: one JSON document a line, in mm, N and degrees. Unknown keys are refused: a misspelt one would otherwise
//! be a wrong hold without a word.

use ringwright_solver::geometry::Surface;
use ringwright_solver::scheme::{
    Body, Bounds, Drive, Face, PointForce, PressurePatch, Push, Section, Supports, number_in_words,
};

use super::fields::{Fields, Node, json_line, one_line};
use super::protocol::not_the_answer;

/// Most bodies or loads of one answer.
const MOST_BODIES: usize = Bounds::MOST_BODIES as usize;

/// Most notes of one answer, which all stand among what was assumed.
const MOST_NOTES: usize = 100;

/// Least width of a body, mm; what is narrower is a point.
const NARROWEST: f64 = 1e-3;

/// What a program answers.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Answer {
    Hold(Reply),
    Refused(Refusal),
}

/// Its own words.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Refusal {
    pub message: String,
    pub parameter: Option<String>,
}

/// A hold as it came.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Reply {
    bodies: Vec<BodyLine>,
    pressures: Vec<PressureLine>,
    points: Vec<PointLine>,
    notes: Vec<String>,
}

#[derive(Clone, Copy, Debug, PartialEq)]
enum OutlineWord {
    Concave,
    Flat,
    Convex,
}

#[derive(Clone, Copy, Debug, PartialEq)]
enum DriveWord {
    Force,
    Fixed,
}

const SURFACES: [(&str, Surface); 2] = [("outer", Surface::Outer), ("bore", Surface::Bore)];
const OUTLINES: [(&str, OutlineWord); 3] = [
    ("concave", OutlineWord::Concave),
    ("flat", OutlineWord::Flat),
    ("convex", OutlineWord::Convex),
];
const DRIVES: [(&str, DriveWord); 2] = [("force", DriveWord::Force), ("fixed", DriveWord::Fixed)];

#[derive(Clone, Debug, PartialEq)]
struct BodyLine {
    surface: Surface,
    angle: f64,
    outline: OutlineWord,
    radius: Option<f64>,
    width: f64,
    drive: DriveWord,
    force: Option<f64>,
    gap: Option<f64>,
    friction: Option<f64>,
}

#[derive(Clone, Debug, PartialEq)]
struct PressureLine {
    surface: Surface,
    angle: f64,
    half_angle: f64,
    force: f64,
}

#[derive(Clone, Debug, PartialEq)]
struct PointLine {
    surface: Surface,
    angle: f64,
    force: f64,
}

impl BodyLine {
    fn read(n: usize, node: Node) -> Result<Self, String> {
        let mut fields = Fields::new(node, &format!("body {n}"))?;
        let line = Self {
            surface: fields.word("surface", &SURFACES)?,
            angle: fields.number("angle")?,
            outline: fields.word("outline", &OUTLINES)?,
            radius: fields.number_if_any("radius")?,
            width: fields.number("width")?,
            drive: fields.word("drive", &DRIVES)?,
            force: fields.number_if_any("force")?,
            gap: fields.number_if_any("gap")?,
            friction: fields.number_if_any("friction")?,
        };
        let known = [
            "surface", "angle", "outline", "radius", "width", "drive", "force", "gap", "friction",
        ];
        fields.end(&known)?;
        Ok(line)
    }
}

impl PressureLine {
    fn read(n: usize, node: Node) -> Result<Self, String> {
        let mut fields = Fields::new(node, &format!("pressure {n}"))?;
        let line = Self {
            surface: fields.word("surface", &SURFACES)?,
            angle: fields.number("angle")?,
            half_angle: fields.number("half_angle")?,
            force: fields.number("force")?,
        };
        fields.end(&["surface", "angle", "half_angle", "force"])?;
        Ok(line)
    }
}

impl PointLine {
    fn read(n: usize, node: Node) -> Result<Self, String> {
        let mut fields = Fields::new(node, &format!("point {n}"))?;
        let line = Self {
            surface: fields.word("surface", &SURFACES)?,
            angle: fields.number("angle")?,
            force: fields.number("force")?,
        };
        fields.end(&["surface", "angle", "force"])?;
        Ok(line)
    }
}

impl Reply {
    fn read(node: Node) -> Result<Self, String> {
        let mut fields = Fields::new(node, "\"ok\"")?;
        let reply = Self {
            bodies: each(fields.list("bodies", MOST_BODIES)?, BodyLine::read)?,
            pressures: each(fields.list("pressures", MOST_BODIES)?, PressureLine::read)?,
            points: each(fields.list("points", MOST_BODIES)?, PointLine::read)?,
            notes: fields.texts("notes", MOST_NOTES)?,
        };
        fields.end(&["bodies", "pressures", "points", "notes"])?;
        Ok(reply)
    }
}

impl Refusal {
    fn read(node: Node) -> Result<Self, String> {
        let mut fields = Fields::new(node, "\"error\"")?;
        let no = Self {
            message: one_line(&fields.text("message")?),
            parameter: fields.text_if_any("parameter")?,
        };
        fields.end(&["message", "parameter"])?;
        Ok(no)
    }
}

/// What each of a list says, counted from 1.
fn each<T>(
    list: Vec<Node>,
    read: impl Fn(usize, Node) -> Result<T, String>,
) -> Result<Vec<T>, String> {
    let numbered = list.into_iter().enumerate();
    numbered.map(|(k, node)| read(k + 1, node)).collect()
}

/// Reads the answer to question `n`.
pub(super) fn answer(line: &str, n: u64) -> Result<Answer, String> {
    let read = |node: Node| {
        let mut fields = Fields::new(node, "the answer")?;
        let number = fields.number("n")?;
        let (ok, error) = (fields.take("ok"), fields.take("error"));
        fields.end(&["n", "ok", "error"])?;
        let answer = match (ok, error) {
            (Some(reply), None) => Answer::Hold(Reply::read(reply)?),
            (None, Some(no)) => Answer::Refused(Refusal::read(no)?),
            _ => return Err("expected one of \"ok\" and \"error\"".to_owned()),
        };
        Ok((number, answer))
    };
    let (number, answer) = read(json_line(line)?).map_err(not_the_answer)?;
    if number != n as f64 {
        return Err(format!(
            "answered question {} when asked {n}",
            number_in_words(number)
        ));
    }
    Ok(answer)
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
                surface: p.surface,
                angle: p.angle.to_radians(),
                half_angle: p.half_angle.to_radians(),
                force: p.force,
            })
            .collect(),
        points: reply
            .points
            .iter()
            .map(|p| PointForce {
                surface: p.surface,
                angle: p.angle.to_radians(),
                force: p.force,
            })
            .collect(),
        assumed: reply.notes.iter().map(|n| one_line(n)).collect(),
        ..Supports::default()
    })
}

fn body(line: &BodyLine, section: &Section) -> Result<(Body, Push), String> {
    let surface = line.surface;
    let diameter = 2.0 * section.radius(surface);
    if line.width > 0.0 && line.width < NARROWEST {
        return Err(format!(
            "its \"width\" is {} mm; it must be {NARROWEST} mm or more, and narrower than that is a point",
            number_in_words(line.width)
        ));
    }
    if !(line.width > 0.0 && line.width < diameter) {
        return Err(format!(
            "it is {} mm wide on a surface of {diameter:.3} mm diameter; it must be above zero and narrower than the part",
            number_in_words(line.width)
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
