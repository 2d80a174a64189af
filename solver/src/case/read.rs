//! From the text of a case file to a checked [`Case`].

use std::path::Path;

use sha2::{Digest, Sha256};
use toml::de::DeTable;

use super::node::{Range, Reader, Table};
use super::problem::{Problem, ProblemKind, position, shown};
use super::quantity::{Dimension, UnitSystem};
use super::{Case, FixedMesh, hold, inspection, part, section_after, step, tolerance};
use crate::scheme::{Registry, Section};

/// Accuracy when the file asks for none.
const ACCURACY: f64 = 0.01;
/// The coarsest accuracy that may be asked.
pub(super) const MOST_ACCURACY: f64 = 0.5;
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

fn not_toml(text: &str, errors: &[toml::de::Error]) -> Vec<Problem> {
    let mut problems: Vec<Problem> = errors
        .iter()
        .map(|e| {
            let (line, column) = position(text, e.span().map_or(0, |s| s.start));
            Problem {
                line,
                column,
                field: String::new(),
                message: unquoted(text, line)
                    .unwrap_or_else(|| format!("not TOML: {}", e.message().replace('\n', "; "))),
                kind: ProblemKind::Input,
            }
        })
        .collect();
    problems.sort_by_key(|p| (p.line, p.column));
    // one slip often trips the rest of its line
    problems.dedup_by_key(|p| p.line);
    problems
}

/// What to say of a line that gives a number with a unit, or a fraction, without quotes: the usual slip.
fn unquoted(text: &str, line: usize) -> Option<String> {
    let (key, value) = text.lines().nth(line.checked_sub(1)?)?.split_once('=')?;
    let (key, value) = (key.trim(), value.split('#').next()?.trim());
    let is_number = value.starts_with(|c: char| c.is_ascii_digit() || "+-.".contains(c));
    let plain = |c: char| c.is_ascii_alphanumeric() || " ./+-^".contains(c);
    (is_number && value.chars().all(plain)).then(|| {
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
    let title = match root.get("title") {
        Some(i) => reader.text(&i).unwrap_or_default().to_owned(),
        None => "untitled".to_owned(),
    };
    let accuracy = match root.get("accuracy") {
        Some(i) => reader.number(&i, Dimension::Plain, Range::AboveUpTo(0.0, MOST_ACCURACY)),
        None => Some(ACCURACY),
    };
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
