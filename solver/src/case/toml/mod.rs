//! A case from the text of its file, in TOML. What the file may say and where each thing stands is decided here; what is right or
//! wrong about the case itself by the checks that a case made in code passes too.

mod changes;
mod hold;
mod inspection;
mod node;
mod part;
mod readings;
mod residual;
mod schema;
mod source;
mod step;
mod tolerance;
mod tube;
mod uncertain;

pub use changes::{Change, NoChange, hold_in_every_step, value_at};
pub use schema::schema;
pub use source::{MOST_CASE_BYTES, open_input, read_little_over};

use std::collections::BTreeMap;
use std::path::Path;

use sha2::{Digest, Sha256};
use toml::de::DeTable;

use super::check::metal::Workpiece;
use super::check::range::Range;
use super::check::{self, ACCURACIES, ACCURACY, AROUND, Parts, THROUGH, key_path};
use super::problem::{Found, Lines, Problem, ProblemKind, listed, shown, shown_whole};
use super::quantity::{Dimension, UnitSystem};
use super::{Case, Chuck, FixedMesh, Place, section_after};
use crate::scheme::Registry;
use changes::Changes;
use node::{Reader, Table};

/// What a case does not need to be solved, and messages about its file do: where its tables stand, and what it was written in.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Origin {
    /// SHA-256 of the file's text, lower-case hex; empty for a case made in code.
    pub sha256: String,
    /// Units of the file's plain numbers; results are shown in these first.
    pub units: UnitSystem,
    /// Lines, from 1, of the tables of the file by their key paths.
    lines: BTreeMap<String, usize>,
}

impl Origin {
    /// Line of the table that a place lies in, from 1; `None` if it is not known, as of a case made in code.
    pub fn line_of(&self, place: &Place) -> Option<usize> {
        let table = match place {
            Place::Step(step) | Place::HoldOfStep(step) => format!("step[{step}]"),
            Place::Scheme { hold, scheme, .. } => {
                format!("{}[{scheme}]", key_path("hold", hold))
            }
            Place::CutDiameter { step, cut } | Place::CutForce { step, cut } => {
                format!("step[{step}].cut[{cut}]")
            }
            _ => return None,
        };
        self.lines.get(&table).copied()
    }
}

/// Reads and checks a case that names no other files; see [`read_beside`].
///
/// # Errors
/// As [`read_beside`].
pub fn read(text: &str, registry: &Registry) -> Result<Case, Vec<Problem>> {
    checked(read_despite(text, registry))
}

/// Reads and checks a case file; the files that it names (readings of the stock) are looked for in `folder`.
///
/// Plain numbers are in the file's `units`; the case is in mm, N, MPa and rad (scheme values keep degrees).
///
/// # Errors
/// Everything that is wrong with the file, in file order; a text that is not TOML gives that alone.
pub fn read_beside(text: &str, registry: &Registry, folder: &Path) -> Result<Case, Vec<Problem>> {
    read_with_origin(text, registry, Some(folder)).map(|(case, _)| case)
}

/// As [`read_beside`], with what messages about the file need. Without a folder, files that the case names are a problem of it.
///
/// # Errors
/// As [`read_beside`].
pub fn read_with_origin(
    text: &str,
    registry: &Registry,
    folder: Option<&Path>,
) -> Result<(Case, Origin), Vec<Problem>> {
    checked(read_what_can_be(text, registry, (folder, &[])))
}

/// As [`read_with_origin`], with other values in place of some that the file has. The origin's digest is that of the text and the changes.
///
/// # Errors
/// As [`read_beside`], and every change whose path leads nowhere; problems with values that were set say so, and have no place in the file.
pub fn read_changed(
    text: &str,
    changes: &[Change],
    registry: &Registry,
    folder: Option<&Path>,
) -> Result<(Case, Origin), Vec<Problem>> {
    checked(read_what_can_be(text, registry, (folder, changes)))
}

fn checked<T>((read, problems): (Option<T>, Vec<Problem>)) -> Result<T, Vec<Problem>> {
    match read {
        Some(read) if problems.is_empty() => Ok(read),
        _ => Err(problems),
    }
}

/// As [`read`], but what could be read is given even where something is wrong with it.
pub(crate) fn read_despite(text: &str, registry: &Registry) -> (Option<Case>, Vec<Problem>) {
    let (read, problems) = read_what_can_be(text, registry, (None, &[]));
    (read.map(|(case, _)| case), problems)
}

fn read_what_can_be(
    text: &str,
    registry: &Registry,
    (folder, changes): (Option<&Path>, &[Change]),
) -> (Option<(Case, Origin)>, Vec<Problem>) {
    if text.len() > MOST_CASE_BYTES {
        return (None, vec![too_long()]);
    }
    if let Some(old) = old_line_ends(text) {
        return (None, listed(text, vec![old]));
    }
    let (document, errors) = DeTable::parse_recoverable(text);
    if !errors.is_empty() {
        return (None, not_toml(text, &errors));
    }
    let mut document = document.into_inner();
    let set = Changes::of(changes);
    if let Err(problems) = set.apply(&mut document) {
        return (None, problems);
    }
    let root = Table::root(&document);
    let mut reader = Reader::new(text);
    reader.folder = folder;
    let read = case(&mut reader, &root, registry).map(|mut case| {
        let told = changes.iter().map(|c| format!("set: {c}"));
        case.assumed.splice(0..0, told);
        let mut digest = Sha256::new_with_prefix(text.as_bytes());
        for change in changes {
            digest.update(format!("\n{change}").as_bytes());
        }
        let digest = digest.finalize();
        let origin = Origin {
            sha256: digest.iter().map(|b| format!("{b:02x}")).collect(),
            units: reader.findings.system,
            lines: reader.lines_of_tables(&root),
        };
        (case, origin)
    });
    (read, set.told(reader.into_problems(&root)))
}

/// What to say of a case file of more than [`MOST_CASE_BYTES`]: nobody reads farther, so its size is not known.
pub fn too_long() -> Problem {
    Problem {
        line: 1,
        column: 1,
        field: String::new(),
        message: format!(
            "longer than {:.0} MB, the most that is read of a case file; put long readings into files of their own",
            MOST_CASE_BYTES as f64 / 1e6
        ),
        kind: ProblemKind::Input,
    }
}

/// A text whose lines end with carriage returns alone is no TOML, and would be one line in every message.
fn old_line_ends(text: &str) -> Option<Found> {
    let at = text.find('\r').filter(|_| !text.contains('\n'))?;
    Some(Found {
        at,
        field: String::new(),
        message: "the lines end with carriage returns alone, which TOML does not know; save the file with line feeds (Unix) or both \
                  (Windows)"
            .into(),
        kind: ProblemKind::Input,
    })
}

fn not_toml(text: &str, errors: &[toml::de::Error]) -> Vec<Problem> {
    let lines = Lines::of(text);
    let at = |e: &toml::de::Error| e.span().map_or(0, |s| s.start);
    let mut errors: Vec<_> = errors.iter().map(|e| (at(e), e)).collect();
    errors.sort_by_key(|(at, _)| *at);
    // one slip often trips the rest of its line
    errors.dedup_by_key(|(at, _)| lines.line(*at));
    let found = errors.into_iter().map(|(at, e)| Found {
        at,
        field: String::new(),
        message: unquoted(&text[lines.bytes(lines.line(at), text)])
            .unwrap_or_else(|| format!("not TOML: {}", shown_whole(e.message()))),
        kind: ProblemKind::Input,
    });
    listed(text, found.collect())
}

/// What to say of a line that gives a number with a unit, or a fraction, without quotes: the usual slip.
fn unquoted(line: &str) -> Option<String> {
    let (key, value) = line.split_once('=')?;
    let (key, value) = (key.trim(), value.split('#').next()?.trim());
    let is_number = value.starts_with(|c: char| c.is_ascii_digit() || "+-.".contains(c));
    let plain = |c: char| c.is_ascii_alphanumeric() || " ./+-^".contains(c);
    let meant = !key.is_empty() && value.parse::<f64>().is_err();
    (is_number && meant && value.chars().all(plain)).then(|| {
        format!(
            "not TOML: a number with a unit, or a fraction, stands in quotes: write {} = \"{}\"",
            shown(key),
            shown(value)
        )
    })
}

fn case<'a>(reader: &mut Reader<'a>, root: &Table<'a>, registry: &Registry) -> Option<Case> {
    reader.check_keys(
        root,
        &[
            "title",
            "units",
            "accuracy",
            "tolerance",
            "part",
            "hold",
            "step",
            "mesh",
            "inspection",
            "tube",
            "chuck",
            // read by who sizes the case
            "size",
        ],
        &[],
    );
    if let Some(item) = root.get("units")
        && reader.choice(&item, &["mm", "inch"], &[]) == Some("inch")
    {
        reader.findings.system = UnitSystem::Inch;
    }
    let title = title(reader, root);
    let accuracy = accuracy(reader, root);
    let mut assumed = Vec::new();
    let part = part::part(reader, root, &mut assumed);
    let mesh = mesh(reader, root);
    let is_tube = root.get("tube").is_some();
    let tube = tube::tube(reader, root, part.as_ref());
    let length = part.as_ref().map(|p| p.length);
    let holds = hold::holds(reader, root, registry, length);
    let mut work = Workpiece::of(part.as_ref(), tube.as_ref(), is_tube);
    let steps = step::steps(reader, root, &mut work, &holds.names);
    let finished = part
        .as_ref()
        .zip(work.metal)
        .map(|(part, metal)| metal.finished(section_after(part.section(), tube.as_ref(), &steps)));
    let tolerance = tolerance::tolerance(reader, root, finished.as_ref());
    let mut of_inspection = Vec::new();
    let inspection = inspection::inspection(reader, root, &mut of_inspection);
    let parts = Parts {
        title,
        accuracy,
        asks_accuracy: root.get("accuracy").is_some(),
        part,
        mesh,
        tube,
        section_thickness: part::section_thickness(reader, root),
        chuck: chuck(reader, root),
        is_tube,
        holds: holds.holds,
        defaults: holds.defaults,
        steps,
        tolerance,
        inspection,
        assumed: [assumed, of_inspection],
    };
    parts.together(&mut reader.findings)
}

/// The title on one line, without what could steer a terminal or spoil a picture.
fn title<'a>(reader: &mut Reader<'a>, root: &Table<'a>) -> String {
    let Some(item) = root.get("title") else {
        return "untitled".to_owned();
    };
    let text = reader.text(&item).unwrap_or_default();
    check::title(&mut reader.findings, text)
}

fn accuracy<'a>(reader: &mut Reader<'a>, root: &Table<'a>) -> Option<f64> {
    let Some(item) = root.get("accuracy") else {
        return Some(ACCURACY);
    };
    let asked = reader.number(
        &item,
        Dimension::Plain,
        Range::AboveUpTo(0.0, ACCURACIES.most),
    )?;
    check::accuracy(&mut reader.findings, asked)
}

/// What the plate of the chuck says.
fn chuck<'a>(reader: &mut Reader<'a>, root: &Table<'a>) -> Chuck {
    let Some(table) = root.get("chuck").and_then(|i| reader.table(&i)) else {
        return Chuck::default();
    };
    let known = ["rated_force", "rated_speed", "lowest_steady_force"];
    reader.check_keys(&table, &known, &[]);
    let mut at = |key: &str, dimension| reader.optional(&table, key, dimension, Range::AboveZero);
    let chuck = Chuck {
        rated_force: at("rated_force", Dimension::Force),
        rated_speed: at("rated_speed", Dimension::Speed),
        lowest_steady_force: at("lowest_steady_force", Dimension::Force),
    };
    check::restraint::chuck(&mut reader.findings, &chuck);
    chuck
}

fn mesh<'a>(reader: &mut Reader<'a>, root: &Table<'a>) -> Option<FixedMesh> {
    let item = root.get("mesh")?;
    let table = reader.table(&item)?;
    reader.check_keys(&table, &["around", "through"], &[]);
    let mut count = |key: &str, [least, most]: [u64; 2]| {
        let item = reader.required(&table, key, "a number of elements")?;
        let n = reader.whole(&item, least, most)?;
        usize::try_from(n).ok()
    };
    let around = count("around", AROUND);
    let through = count("through", THROUGH);
    let (around, through) = (around?, through?);
    check::mesh(&mut reader.findings, FixedMesh { around, through })
}
