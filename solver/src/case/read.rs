//! From the text of a case file to a checked [`Case`].

use std::path::Path;

use sha2::{Digest, Sha256};
use toml::de::DeTable;

use super::most::MOST_TITLE;
use super::node::{Range, Reader, Table};
use super::problem::{Found, Lines, Problem, ProblemKind, listed, shown, shown_whole, steers};
use super::quantity::{Dimension, UnitSystem};
use super::source::MOST_CASE_BYTES;
use super::{Case, FixedMesh, hold, inspection, part, section_after, step, tolerance};
use crate::scheme::{Bounds, Registry, Section};

/// Accuracy when the file asks for none.
const ACCURACY: f64 = 0.01;
/// The finest and the coarsest accuracy that may be asked. Finer than that the rounding of thin walls, which grows with the mesh,
/// is larger than the mesh error.
pub(super) const ACCURACIES: Bounds = Bounds {
    least: 1e-6,
    above: false,
    most: 0.5,
};
/// Least and most elements round.
pub(super) const AROUND: [u64; 2] = [12, 200_000];
/// Least and most elements through the wall.
pub(super) const THROUGH: [u64; 2] = [1, 1000];
/// Memory that a run takes for each element of a fixed mesh, bytes, the four times finer mesh of the estimate in it. Measured on a
/// lobed ring (its factor is the sparse one) in three jaws: 13,800 at 2880x16 and at 5760x16, 12,700 at 2880x8; a round ring takes
/// half. Rounded up, for more bodies and the sparse factor's slow growth.
const BYTES_AN_ELEMENT: u64 = 20_000;
/// The most memory that a fixed mesh may ask for, bytes: what a shop's computer with 16 GB has to spare. Twice this would drive such
/// a machine into its swap, half would refuse meshes that it holds.
const MOST_BYTES: u64 = 8_000_000_000;
/// The most elements of a fixed mesh: beyond, a run would end with memory.
pub(super) const MOST_ELEMENTS: u64 = MOST_BYTES / BYTES_AN_ELEMENT;

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
    checked(read_what_can_be(text, registry, Some(folder)))
}

fn checked((case, problems): (Option<Case>, Vec<Problem>)) -> Result<Case, Vec<Problem>> {
    match case {
        Some(case) if problems.is_empty() => Ok(case),
        _ => Err(problems),
    }
}

/// As [`read`], but what could be read is given even where something is wrong with it.
pub(crate) fn read_despite(text: &str, registry: &Registry) -> (Option<Case>, Vec<Problem>) {
    read_what_can_be(text, registry, None)
}

fn read_what_can_be(
    text: &str,
    registry: &Registry,
    folder: Option<&Path>,
) -> (Option<Case>, Vec<Problem>) {
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
    let root = Table::root(document.get_ref());
    let mut reader = Reader::new(text);
    reader.folder = folder;
    let case = case(&mut reader, &root, registry);
    (case, reader.into_problems())
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
        ],
        &[
            (
                "tube",
                "leave it out (one slice stands for the whole length)",
            ),
            ("chuck", "leave it out (grip is not checked)"),
            ("size", "leave it out"),
        ],
    );
    if let Some(item) = root.get("units")
        && reader.choice(&item, &["mm", "inch"], &[]) == Some("inch")
    {
        reader.system = UnitSystem::Inch;
    }
    let title = title(reader, root);
    let accuracy = accuracy(reader, root);
    let mut assumed = Vec::new();
    let part = part::part(reader, root, &mut assumed);
    let mesh = mesh(reader, root);
    let holds = hold::holds(reader, root, registry);
    let steps = step::steps(reader, root, part.as_ref(), &holds.names);
    let finished = part.as_ref().map(|p| section_after(p.section(), &steps));
    let tolerance = tolerance::tolerance(reader, root, finished.as_ref());
    if let Some(part) = &part {
        check_holds(reader, part.section(), &holds, &steps, &mut assumed);
    }
    if steps.iter().any(|s| !s.cuts.is_empty()) {
        assumed.push("no tool force".into());
    }
    let inspection = inspection::inspection(reader, root, &mut assumed);
    if root.get("accuracy").is_none() && mesh.is_none() {
        assumed.push(format!("accuracy {ACCURACY} (default)"));
    }
    let mut seen: Vec<String> = Vec::new();
    assumed.retain(|a| {
        let new = !seen.contains(a);
        if new {
            seen.push(a.clone());
        }
        new
    });
    Some(Case {
        title,
        sha256: Sha256::digest(reader.text.as_bytes())
            .iter()
            .map(|b| format!("{b:02x}"))
            .collect(),
        inch: reader.system == UnitSystem::Inch,
        accuracy: accuracy?,
        tolerance,
        inspection,
        part: part?,
        holds: holds.holds,
        steps,
        mesh,
        assumed,
    })
}

/// The title on one line, without what could steer a terminal or spoil a picture.
fn title<'a>(reader: &mut Reader<'a>, root: &Table<'a>) -> String {
    let Some(item) = root.get("title") else {
        return "untitled".to_owned();
    };
    let text = reader.text(&item).unwrap_or_default();
    let long = text.chars().count();
    if long > MOST_TITLE {
        let message = format!("has {long} characters; {MOST_TITLE} are the most");
        reader.wrong(&item, message);
    }
    text.chars()
        .take(MOST_TITLE)
        .map(|c| if steers(c) { ' ' } else { c })
        .collect()
}

fn accuracy<'a>(reader: &mut Reader<'a>, root: &Table<'a>) -> Option<f64> {
    let Some(item) = root.get("accuracy") else {
        return Some(ACCURACY);
    };
    let accuracy = reader.number(
        &item,
        Dimension::Plain,
        Range::AboveUpTo(0.0, ACCURACIES.most),
    )?;
    let least = ACCURACIES.least;
    if accuracy < least {
        let message = format!(
            "is finer than {least}, the least that can be told from rounding; {ACCURACY} or 0.001 will do for any ring"
        );
        reader.wrong(&item, message);
        return None;
    }
    Some(accuracy)
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
    let elements = (around * through) as u64;
    if elements > MOST_ELEMENTS {
        let gigabytes = |elements: u64| (elements * BYTES_AN_ELEMENT) as f64 / 1e9;
        reader.note(
            ProblemKind::TooLarge,
            item.span(),
            &item.path,
            format!(
                "asks for {elements} elements ({around} x {through}), which would take about {:.0} GB of memory; {MOST_ELEMENTS} \
                 elements ({:.0} GB) are the most: give fewer, or leave [mesh] out and the mesh is made fine where it matters",
                gigabytes(elements),
                gigabytes(MOST_ELEMENTS)
            ),
        );
        return None;
    }
    Some(FixedMesh { around, through })
}

/// Checks every hold on each section it meets; what a used hold takes for granted goes to `assumed`.
fn check_holds<'a>(
    reader: &mut Reader<'a>,
    stock: Section,
    holds: &hold::Holds<'a>,
    steps: &[super::Step],
    assumed: &mut Vec<String>,
) {
    let has_wall = |s: &Section| s.bore_radius < s.outer_radius;
    if !has_wall(&stock) {
        return;
    }
    let mut used = vec![false; holds.holds.len()];
    let mut section = stock;
    for step in steps {
        if let Some(k) = holds.holds.iter().position(|h| h.name == step.hold) {
            used[k] = true;
            if has_wall(&section) {
                assumed.extend(hold::check_on(reader, holds, k, &section));
            }
        }
        section = section_after(section, [step]);
    }
    for (k, used) in used.into_iter().enumerate() {
        if !used {
            hold::check_on(reader, holds, k, &stock);
        }
    }
}
