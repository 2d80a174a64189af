//! The built-in table of materials, at data-sheet level.
//!
//! Plastics creep and swell: for a hold of minutes they want a lower modulus than the table's. "Read" means
//! that handbook or data-sheet values were looked up and the value stands among them; "from memory" that it was not.

use super::Material;

struct Row {
    name: &'static str,
    young_modulus: f64,
    poisson_ratio: f64,
    yield_strength: Option<f64>,
    density: f64,
}

const fn row(
    name: &'static str,
    young_modulus: f64,
    poisson_ratio: f64,
    yield_strength: Option<f64>,
    density: f64,
) -> Row {
    Row {
        name,
        young_modulus,
        poisson_ratio,
        yield_strength,
        density,
    }
}

/// Name, Young's modulus (MPa), Poisson's ratio, yield strength (MPa), density (kg/m3).
const TABLE: &[Row] = &[
    // read: 68.9 to 69 GPa, 0.33, 270 (276 typical), 2.70
    row("aluminium 6061-T6", 68.9e3, 0.33, Some(270.0), 2700.0),
    // read: 70 to 72 GPa, 0.32 to 0.33, 480 to 503, 2.81
    row("aluminium 7075-T6", 71e3, 0.33, Some(480.0), 2810.0),
    // read: 100 GPa, 0.34 to 0.35, 125 to 138 (0.5 % extension; 97 least, centrifugally cast), 8.91 to 8.93
    row("bronze C93200", 100e3, 0.34, Some(125.0), 8930.0),
    // read: 193 to 200 GPa, 0.29, 215 (205 least for tube), 8.0
    row("stainless 304 annealed", 193e3, 0.29, Some(215.0), 8000.0),
    // Poisson's ratio and yield of 316Ti read (200 GPa, 0.28, 230, 7.9); 193 GPa, 205 and 8.0 from memory
    row("stainless 316 annealed", 193e3, 0.28, Some(205.0), 8000.0),
    // from memory; NIST IR 4671 measured modulus and ratio in compression and reports agreement (read)
    row("stainless 17-4 PH H900", 196e3, 0.272, Some(1170.0), 7800.0),
    // read: 190 to 210 GPa, 0.27 to 0.30, 85 ksi annealed, 7.81
    row("steel 52100 annealed", 207e3, 0.30, Some(586.0), 7810.0),
    // sources conflict on the modulus (66 to 97 GPa for class 20 read; 90 to 113 for class 30 from memory);
    // no yield strength: grey iron breaks
    row("grey iron class 30", 100e3, 0.26, None, 7150.0),
    // read: 113.8 to 114 GPa, 0.33 to 0.342, 830 (828 least), 4.43
    row(
        "titanium Ti-6Al-4V annealed",
        113.8e3,
        0.342,
        Some(830.0),
        4430.0,
    ),
    // modulus, strength, density read; ratio from memory
    row("acetal POM-H", 3.0e3, 0.35, Some(72.0), 1410.0),
    // modulus 0.3 to 0.5 GPa and density read; ratio and yield from memory
    row("PTFE", 0.48e3, 0.46, Some(10.0), 2190.0),
    // modulus 2.4 to 2.8 GPa, strength 60 to 86, density read; ratio from memory; moist: half the modulus or less
    row("nylon 6/6", 2.76e3, 0.39, Some(80.0), 1140.0),
    // 580 ksi, 14.5 ksi, 0.047 lb/in3 read; ratio from memory
    row("PEEK", 4.0e3, 0.38, Some(100.0), 1300.0),
    // modulus 2.4 to 4.1 GPa, strength 41 to 55, density read; ratio from memory
    row("PVC rigid", 3.0e3, 0.38, Some(52.0), 1360.0),
    // modulus 2.6 to 3.0 GPa, strength 49 to 77, density read; ratio from memory
    row("acrylic PMMA", 3.0e3, 0.37, Some(70.0), 1190.0),
];

/// Names of the built-in materials, in the order they are listed.
pub fn names() -> impl Iterator<Item = &'static str> {
    TABLE.iter().map(|r| r.name)
}

/// The built-in material of this name; capitals do not matter.
pub fn built_in(name: &str) -> Option<Material> {
    let row = TABLE.iter().find(|r| r.name.eq_ignore_ascii_case(name))?;
    Some(Material {
        name: row.name.to_owned(),
        young_modulus: row.young_modulus,
        poisson_ratio: row.poisson_ratio,
        yield_strength: row.yield_strength,
        density: Some(row.density),
    })
}
