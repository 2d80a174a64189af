//! The reference page of the schemes, from what each says of itself.

use ringwright_solver::scheme::{GRIP, HoldingScheme, Parameter, Recipe, Registry};

use super::schemes::{FREE_SUMMARY, need, takes};

/// Head of a table of keys.
const HEAD: &str = "| key | takes | | meaning |\n| --- | --- | --- | --- |\n";

pub(crate) fn page(registry: &Registry) -> String {
    let mut text = "# Holding schemes\n\n\
        Made by `ringwright schemes --markdown` from what each scheme says of itself; change the scheme, not this page.\n\n\
        Plain numbers are in the units of the case file; any value may carry its own unit as text (\"2.5 kN\", \"5 thou\"). \
        Defaults are in mm, N, MPa and degrees. Forces are computed for distortion and do not say that a grip is safe: keep to \
        the chuck maker's ratings, local codes and competent practice.\n\n\
        | scheme | what it is |\n| --- | --- |\n"
        .to_owned();
    for s in registry.all() {
        text += &format!("| [`{0}`](#{0}) | {1} |\n", s.name(), cell(s.summary()));
    }
    text += &common(registry);
    for s in registry.all() {
        text += &scheme(&**s);
    }
    if !registry.free_recipes().is_empty() {
        text += &format!(
            "\n## free\n\n{FREE_SUMMARY}.\n{}",
            recipes(registry.free_recipes())
        );
    }
    text
}

/// What all schemes take that press along the part, beside their own keys.
fn common(registry: &Registry) -> String {
    let (along, not): (Vec<_>, Vec<_>) = registry.all().iter().partition(|s| s.grips_along());
    if along.is_empty() {
        return String::new();
    }
    let not: Vec<String> = not.iter().map(|s| format!("`{}`", s.name())).collect();
    let but = match not.is_empty() {
        true => String::new(),
        false => format!(" but {}", not.join(", ")),
    };
    let rows: String = GRIP.iter().map(row).collect();
    format!("\nCommon to all{but}, beside their own keys:\n\n{HEAD}{rows}")
}

/// Text of a table's cell.
fn cell(text: &str) -> String {
    text.replace('|', "\\|")
}

fn scheme(s: &dyn HoldingScheme) -> String {
    let mut text = format!("\n## {}\n\n{}.\n\n{HEAD}", s.name(), s.summary());
    text += &s.parameters().iter().map(row).collect::<String>();
    let planned: Vec<String> = s.planned().iter().map(super::schemes::planned).collect();
    if !planned.is_empty() {
        text += &format!("\nNot supported yet: {}.\n", planned.join(", "));
    }
    text += &format!("\n```toml\n{}\n```\n", s.example().trim_end());
    text + &recipes(s.recipes())
}

fn recipes(list: &[Recipe]) -> String {
    list.iter()
        .map(|r| {
            let case = r.example.trim_end();
            format!("\n### {}\n\n{}\n\n```toml\n{case}\n```\n", r.name, r.about)
        })
        .collect()
}

fn row(p: &Parameter) -> String {
    let (takes, need) = (cell(&takes(p)), cell(&need(p)));
    format!("| `{}` | {takes} | {need} | {} |\n", p.key, cell(&p.about))
}
