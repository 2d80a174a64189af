//! The built-in materials in words.

use ringwright_solver::case::built_in;
use ringwright_solver::case::material::{BuiltIn, Known, Level, caution};
use ringwright_solver::case::quantity::PSI_MPA;

/// kg/m3 in a pound a cubic inch (exact up to rounding).
const LB_IN3: f64 = 0.45359237 / (0.0254 * 0.0254 * 0.0254);

/// The mark of a level in the table.
fn mark(level: Level) -> char {
    match level {
        Level::DataSheet => 'd',
        Level::Handbook => 'h',
        Level::Memory => 'm',
    }
}

/// A number with three or four figures that count.
fn figures(x: f64) -> String {
    if x >= 100.0 {
        format!("{x:.0}")
    } else if x >= 10.0 {
        format!("{x:.1}")
    } else if x >= 1.0 {
        format!("{x:.2}")
    } else if x >= 0.1 {
        format!("{x:.3}")
    } else {
        format!("{x:.4}")
    }
}

/// Poisson's ratio with two decimals, or three where it has them.
fn ratio(x: f64) -> String {
    let three = format!("{x:.3}");
    three.strip_suffix('0').unwrap_or(&three).to_owned()
}

/// A row a material, each value with the mark of its level.
pub(crate) fn list(materials: &[&BuiltIn]) -> String {
    let widest = materials
        .iter()
        .map(|m| m.name.len())
        .max()
        .unwrap_or(0)
        .max(8);
    let mut text = format!(
        "{:widest$}  Young's modulus   Poisson's  yield strength   density\n{:widest$}     GPa    Msi     ratio       MPa    ksi       kg/m3  lb/in3\n",
        "material", ""
    );
    let both = |known: Known, factor: f64, other: f64| {
        let (a, b) = (figures(known.value / factor), figures(known.value / other));
        format!("{a:>6} {b:>6} {}", mark(known.level))
    };
    for m in materials {
        let strength = match m.yield_strength {
            Some(known) => both(known, 1.0, 1000.0 * PSI_MPA),
            None => format!("{:^15}", "breaks"),
        };
        text += &format!(
            "{:widest$}  {}   {:<5} {}    {strength}    {:>5} {:>7} {}\n",
            m.name,
            both(m.young_modulus, 1000.0, 1e6 * PSI_MPA),
            ratio(m.poisson_ratio.value),
            mark(m.poisson_ratio.level),
            m.density.value,
            figures(m.density.value / LB_IN3),
            mark(m.density.level),
        );
    }
    text += "\nd  read on a data sheet or in a published report\nh  read in a handbook\n\
             m  from memory, not looked up: look it up before you rely on it\n\
             Typical values at room temperature; your own bar or casting may differ, yield strength most of all.\n\
             Plastics creep under load and soften with heat: `ringwright materials NAME` says more.\n\
             Of your own: material = { young_modulus = 100e3, poisson_ratio = 0.34, yield_strength = 125 }\n";
    text
}

/// One material in full.
pub(crate) fn detail(m: &BuiltIn) -> String {
    let line = |what: &str, value: String, known: Known| {
        format!("  {what:16} {value:28} {}\n", known.level.words())
    };
    let mut text = format!("{}\n", m.name);
    let e = m.young_modulus;
    text += &line(
        "Young's modulus",
        format!(
            "{} GPa ({} Msi)",
            figures(e.value / 1000.0),
            figures(e.value / (1e6 * PSI_MPA))
        ),
        e,
    );
    let nu = m.poisson_ratio;
    text += &line("Poisson's ratio", ratio(nu.value), nu);
    text += &match m.yield_strength {
        Some(y) => line(
            "yield strength",
            format!(
                "{} MPa ({} ksi)",
                y.value,
                figures(y.value / (1000.0 * PSI_MPA))
            ),
            y,
        ),
        None => "  yield strength   none: it breaks before it yields\n".to_owned(),
    };
    let rho = m.density;
    text += &line(
        "density",
        format!(
            "{} kg/m3 ({} lb/in3)",
            rho.value,
            figures(rho.value / LB_IN3)
        ),
        rho,
    );
    text += &match m.cutting {
        Some(c) => format!(
            "  cutting force    kc1.1 {} MPa, mc {:.2}            {} ({}: {})\n",
            c.kc11,
            c.mc,
            c.level.words(),
            "tool catalogue",
            c.group
        ),
        None => "  cutting force    no constants: give cutting = { kc11 = ..., mc = ... } in a material of your own\n".to_owned(),
    };
    text += &format!("  {}\n", m.note);
    if let Some(caution) = built_in(m.name).as_ref().and_then(caution) {
        text += &format!("Caution: {caution}\n");
    }
    text + &format!("In a case: material = \"{}\"\n", m.name)
}
