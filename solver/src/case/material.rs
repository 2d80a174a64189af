//! The built-in table of materials: typical values at room temperature, each with how well it is known.
//!
//! A plastic's modulus is that of a short test; under a steady load it falls. Read [`BuiltIn`] and [`Level`] first.

use super::Material;
use crate::grip::Kienzle;

/// Modulus below which a material that a case describes itself is taken for a plastic, MPa. Every unfilled plastic of the trade
/// lies below 5 GPa, every metal that is turned above 40.
const SOFTER_THAN_METAL: f64 = 10e3;

/// How well a value is known.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Level {
    /// Read on a data sheet or in a published report.
    DataSheet,
    /// Read in a handbook.
    Handbook,
    /// From memory, not looked up.
    Memory,
}

impl Level {
    /// All, the best known first.
    pub const ALL: [Level; 3] = [Level::DataSheet, Level::Handbook, Level::Memory];

    /// In words.
    pub const fn words(self) -> &'static str {
        match self {
            Level::DataSheet => "data sheet",
            Level::Handbook => "handbook",
            Level::Memory => "memory",
        }
    }
}

/// A value and how well it is known.
#[derive(Clone, Copy, Debug, PartialEq, serde::Serialize)]
pub struct Known {
    /// The value, in the unit of its property.
    pub value: f64,
    /// How well it is known.
    pub level: Level,
}

/// What a material does beside being elastic.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Class {
    /// Stays as it is until it yields.
    Metal,
    /// Creeps under a steady load and softens with heat.
    Plastic,
    /// As a plastic, and swells with moisture.
    PlasticThatSwells,
}

impl Class {
    /// The class of a material that a case describes itself, by its modulus, MPa.
    pub fn by_modulus(young_modulus: f64) -> Self {
        if young_modulus < SOFTER_THAN_METAL {
            Class::Plastic
        } else {
            Class::Metal
        }
    }
}

/// Constants of the cutting force of a group of materials. Numbers: a cutting-tool catalogue's table by the groups of VDI 3323, for a chip of 1 mm2; the
/// names of the groups of cast iron from memory of VDI 3323. Which group a material is in was set here, the harder of two where it could be either.
#[derive(Clone, Copy, Debug, PartialEq, serde::Serialize)]
pub struct Cutting {
    /// Specific cutting force of a chip 1 mm wide and 1 mm thick, MPa.
    pub kc11: f64,
    /// Exponent by which it falls with the thickness of the chip.
    pub mc: f64,
    /// How well they are known.
    pub level: Level,
    /// The group.
    pub group: &'static str,
}

/// A material of the table.
#[derive(Clone, Copy, Debug, PartialEq, serde::Serialize)]
pub struct BuiltIn {
    /// Its name in a case file.
    pub name: &'static str,
    /// What it does beside being elastic.
    pub class: Class,
    /// Young's modulus, MPa.
    pub young_modulus: Known,
    /// Poisson's ratio.
    pub poisson_ratio: Known,
    /// Yield strength, MPa; `None` for what breaks first.
    pub yield_strength: Option<Known>,
    /// Density, kg/m3.
    pub density: Known,
    /// Thermal expansion, 1/K.
    pub thermal_expansion: Known,
    /// Constants of the cutting force; `None` where none were found.
    pub cutting: Option<Cutting>,
    /// What was read, and how far sources differ.
    pub note: &'static str,
}

const fn sheet(value: f64) -> Known {
    Known {
        value,
        level: Level::DataSheet,
    }
}

const fn handbook(value: f64) -> Known {
    Known {
        value,
        level: Level::Handbook,
    }
}

const fn memory(value: f64) -> Known {
    Known {
        value,
        level: Level::Memory,
    }
}

const fn cutting(kc11: f64, mc: f64, group: &'static str) -> Option<Cutting> {
    Some(Cutting {
        kc11,
        mc,
        level: Level::DataSheet,
        group,
    })
}

/// The table, metals first.
const TABLE: &[BuiltIn] = &[
    BuiltIn {
        name: "aluminium 6061-T6",
        class: Class::Metal,
        young_modulus: sheet(68.9e3),
        poisson_ratio: sheet(0.33),
        yield_strength: Some(sheet(270.0)),
        density: sheet(2700.0),
        thermal_expansion: memory(23.6e-6),
        cutting: cutting(800.0, 0.25, "aluminium, wrought and aged"),
        note: "read: 68.9 to 69 GPa, 0.33, yield 270 (276 typical)",
    },
    BuiltIn {
        name: "aluminium 7075-T6",
        class: Class::Metal,
        young_modulus: sheet(71e3),
        poisson_ratio: sheet(0.33),
        yield_strength: Some(sheet(480.0)),
        density: sheet(2810.0),
        thermal_expansion: memory(23.4e-6),
        cutting: cutting(800.0, 0.25, "aluminium, wrought and aged"),
        note: "read: 70 to 72 GPa, 0.32 to 0.33, yield 480 to 503",
    },
    BuiltIn {
        name: "brass C36000 half hard",
        class: Class::Metal,
        young_modulus: sheet(97e3),
        poisson_ratio: sheet(0.31),
        yield_strength: Some(sheet(310.0)),
        density: sheet(8490.0),
        thermal_expansion: memory(20.5e-6),
        cutting: cutting(700.0, 0.27, "copper alloys, free cutting, brass"),
        note: "free-cutting brass, one-inch rod; read: 14,000 ksi and 97 GPa, yield 45 ksi at 0.5 percent extension; soft rod has 18 ksi",
    },
    BuiltIn {
        name: "bronze C93200",
        class: Class::Metal,
        young_modulus: sheet(100e3),
        poisson_ratio: sheet(0.34),
        yield_strength: Some(sheet(125.0)),
        density: sheet(8930.0),
        thermal_expansion: memory(18.0e-6),
        cutting: cutting(700.0, 0.27, "copper alloys, free cutting, brass"),
        note: "bearing bronze; read: 100 GPa, 0.34 to 0.35, yield 125 to 138 at 0.5 percent extension (97 least, centrifugally cast), 8910 to 8930",
    },
    BuiltIn {
        name: "steel 1018 cold drawn",
        class: Class::Metal,
        young_modulus: sheet(205e3),
        poisson_ratio: sheet(0.29),
        yield_strength: Some(sheet(370.0)),
        density: sheet(7870.0),
        thermal_expansion: memory(11.7e-6),
        cutting: cutting(1350.0, 0.21, "steel below 0.25 % C"),
        note: "cold drawing leaves stress in the skin; read: 200 to 205 GPa, yield 370 to 380; as rolled some 220",
    },
    BuiltIn {
        name: "steel 1045 hot rolled",
        class: Class::Metal,
        young_modulus: sheet(205e3),
        poisson_ratio: sheet(0.29),
        yield_strength: Some(sheet(310.0)),
        density: sheet(7870.0),
        thermal_expansion: memory(11.5e-6),
        cutting: cutting(1500.0, 0.22, "steel from 0.25 % C, annealed"),
        note: "read: 200 to 206 GPa, yield 45 ksi hot rolled or turned and ground from it; 77 ksi cold drawn",
    },
    BuiltIn {
        name: "steel 4140 annealed",
        class: Class::Metal,
        young_modulus: sheet(205e3),
        poisson_ratio: sheet(0.29),
        yield_strength: Some(sheet(417.0)),
        density: sheet(7850.0),
        thermal_expansion: memory(12.3e-6),
        cutting: cutting(1775.0, 0.24, "low-alloy steel, annealed"),
        note: "read: 190 to 210 GPa, yield 417 annealed at 815 deg C",
    },
    BuiltIn {
        name: "steel 4140 quenched and tempered",
        class: Class::Metal,
        young_modulus: sheet(205e3),
        poisson_ratio: sheet(0.29),
        yield_strength: Some(sheet(655.0)),
        density: sheet(7850.0),
        thermal_expansion: memory(12.3e-6),
        cutting: cutting(
            1675.0,
            0.24,
            "low-alloy steel, quenched and tempered, 275 HB",
        ),
        note: "pre-hardened, 28 to 32 HRC; read: yield 655 tempered at 650 deg C, 665 to 770 on suppliers' sheets for 50 to 100 mm",
    },
    BuiltIn {
        name: "steel 52100 annealed",
        class: Class::Metal,
        young_modulus: sheet(207e3),
        poisson_ratio: sheet(0.30),
        yield_strength: Some(sheet(586.0)),
        density: sheet(7810.0),
        thermal_expansion: memory(12.0e-6),
        cutting: cutting(1775.0, 0.24, "low-alloy steel, annealed"),
        note: "bearing steel; read: 190 to 210 GPa, 0.27 to 0.30, yield 85 ksi",
    },
    BuiltIn {
        name: "stainless 304 annealed",
        class: Class::Metal,
        young_modulus: sheet(193e3),
        poisson_ratio: sheet(0.29),
        yield_strength: Some(sheet(215.0)),
        density: sheet(8000.0),
        thermal_expansion: memory(17.2e-6),
        cutting: cutting(2150.0, 0.20, "stainless, austenitic"),
        note: "read: 193 to 200 GPa, yield 215 (205 least for tube)",
    },
    BuiltIn {
        name: "stainless 316 annealed",
        class: Class::Metal,
        young_modulus: memory(193e3),
        poisson_ratio: sheet(0.28),
        yield_strength: Some(memory(205.0)),
        density: memory(8000.0),
        thermal_expansion: memory(16.0e-6),
        cutting: cutting(2150.0, 0.20, "stainless, austenitic"),
        note: "read for 316Ti: 200 GPa, 0.28, yield 230, 7900",
    },
    BuiltIn {
        name: "stainless 17-4 PH H900",
        class: Class::Metal,
        young_modulus: sheet(196e3),
        poisson_ratio: sheet(0.272),
        yield_strength: Some(memory(1170.0)),
        density: memory(7800.0),
        thermal_expansion: memory(10.8e-6),
        cutting: None,
        note: "NIST IR 4671 measured modulus and ratio in compression and reports agreement with these",
    },
    BuiltIn {
        name: "grey iron class 30",
        class: Class::Metal,
        young_modulus: memory(100e3),
        poisson_ratio: memory(0.26),
        yield_strength: None,
        density: memory(7150.0),
        thermal_expansion: memory(10.8e-6),
        cutting: cutting(1350.0, 0.28, "grey iron, pearlitic, 260 HB"),
        note: "breaks without yielding; sources conflict on the modulus: 66 to 97 GPa read for class 20, 90 to 113 from memory for class 30",
    },
    BuiltIn {
        name: "ductile iron 65-45-12",
        class: Class::Metal,
        young_modulus: sheet(165e3),
        poisson_ratio: sheet(0.29),
        yield_strength: Some(sheet(310.0)),
        density: sheet(7100.0),
        thermal_expansion: memory(11.5e-6),
        cutting: cutting(1225.0, 0.25, "nodular iron, ferritic, 160 HB"),
        note: "ASTM A536 asks for a yield of 45 ksi at least; read: 23.8 Msi and 170 GPa",
    },
    BuiltIn {
        name: "titanium Ti-6Al-4V annealed",
        class: Class::Metal,
        young_modulus: sheet(113.8e3),
        poisson_ratio: sheet(0.342),
        yield_strength: Some(sheet(830.0)),
        density: sheet(4430.0),
        thermal_expansion: memory(8.6e-6),
        cutting: cutting(2110.0, 0.22, "titanium, alpha and beta"),
        note: "read: 113.8 to 114 GPa, 0.33 to 0.342, yield 830 (828 least)",
    },
    BuiltIn {
        name: "acetal POM-H",
        class: Class::Plastic,
        young_modulus: handbook(3.0e3),
        poisson_ratio: memory(0.35),
        yield_strength: Some(handbook(72.0)),
        density: handbook(1410.0),
        thermal_expansion: memory(110.0e-6),
        cutting: None,
        note: "homopolymer; Engineering Plastics Handbook, table of acetals",
    },
    BuiltIn {
        name: "acetal POM-C",
        class: Class::Plastic,
        young_modulus: handbook(2.5e3),
        poisson_ratio: memory(0.35),
        yield_strength: Some(handbook(65.0)),
        density: handbook(1410.0),
        thermal_expansion: memory(110.0e-6),
        cutting: None,
        note: "copolymer; Engineering Plastics Handbook, table of acetals",
    },
    BuiltIn {
        name: "PTFE",
        class: Class::Plastic,
        young_modulus: handbook(0.48e3),
        poisson_ratio: memory(0.46),
        yield_strength: Some(memory(10.0)),
        density: handbook(2190.0),
        thermal_expansion: memory(135.0e-6),
        cutting: None,
        note: "read: 0.3 to 0.5 GPa, and 225 ksi on one sheet; it flows cold under any load",
    },
    BuiltIn {
        name: "nylon 6/6",
        class: Class::PlasticThatSwells,
        young_modulus: handbook(2.76e3),
        poisson_ratio: memory(0.39),
        yield_strength: Some(handbook(80.0)),
        density: handbook(1140.0),
        thermal_expansion: memory(80.0e-6),
        cutting: None,
        note: "dry; moist it has half the modulus or less; read: 2.4 to 2.8 GPa, strength 60 to 86",
    },
    BuiltIn {
        name: "PEEK",
        class: Class::Plastic,
        young_modulus: sheet(4.0e3),
        poisson_ratio: memory(0.38),
        yield_strength: Some(sheet(100.0)),
        density: sheet(1300.0),
        thermal_expansion: memory(47.0e-6),
        cutting: None,
        note: "unfilled; read: 580 ksi, 14.5 ksi, 0.047 lb/in3",
    },
    BuiltIn {
        name: "polycarbonate PC",
        class: Class::Plastic,
        young_modulus: sheet(2.35e3),
        poisson_ratio: sheet(0.38),
        yield_strength: Some(sheet(62.0)),
        density: sheet(1200.0),
        thermal_expansion: memory(68.0e-6),
        cutting: None,
        note: "read: 340 to 345 ksi, 0.37 and 0.38, yield 9000 psi (8400 on one sheet)",
    },
    BuiltIn {
        name: "UHMW-PE",
        class: Class::Plastic,
        young_modulus: sheet(0.76e3),
        poisson_ratio: memory(0.46),
        yield_strength: Some(memory(21.0)),
        density: sheet(940.0),
        thermal_expansion: memory(180.0e-6),
        cutting: None,
        note: "read: 110 ksi, 0.034 lb/in3",
    },
    BuiltIn {
        name: "PVC rigid",
        class: Class::Plastic,
        young_modulus: handbook(3.0e3),
        poisson_ratio: memory(0.38),
        yield_strength: Some(handbook(52.0)),
        density: handbook(1360.0),
        thermal_expansion: memory(60.0e-6),
        cutting: None,
        note: "read: 2.4 to 4.1 GPa, strength 41 to 55",
    },
    BuiltIn {
        name: "acrylic PMMA",
        class: Class::Plastic,
        young_modulus: handbook(3.0e3),
        poisson_ratio: memory(0.37),
        yield_strength: Some(handbook(70.0)),
        density: handbook(1190.0),
        thermal_expansion: memory(70.0e-6),
        cutting: None,
        note: "read: 2.6 to 3.0 GPa, strength 49 to 77; it cracks rather than yields in tension",
    },
];

/// The built-in table, in the order it is listed.
pub const fn table() -> &'static [BuiltIn] {
    TABLE
}

/// Names of the built-in materials, in the order they are listed.
pub fn names() -> impl Iterator<Item = &'static str> {
    TABLE.iter().map(|r| r.name)
}

/// The built-in material of this name; capitals do not matter.
pub fn built_in(name: &str) -> Option<Material> {
    let row = TABLE.iter().find(|r| r.name.eq_ignore_ascii_case(name))?;
    Some(Material {
        name: row.name.to_owned(),
        class: row.class,
        young_modulus: row.young_modulus.value,
        poisson_ratio: row.poisson_ratio.value,
        yield_strength: row.yield_strength.map(|y| y.value),
        density: Some(row.density.value),
        cutting: row.cutting.map(|c| Kienzle {
            kc11: c.kc11,
            mc: c.mc,
        }),
        thermal_expansion: Some(row.thermal_expansion.value),
        long_time_modulus: None,
    })
}

/// What the elastic answer leaves out of this material, in the user's words; `None` for a metal.
///
/// Common practice, no source: plastics creep under steady load, soften with heat, and some swell.
pub fn caution(material: &Material) -> Option<String> {
    let swells = match material.class {
        Class::Metal => return None,
        Class::Plastic => "",
        Class::PlasticThatSwells => {
            " It swells with moisture: turn and measure it at the moisture it will be used at."
        }
    };
    let what = if built_in(&material.name).is_some() {
        format!("{} is a plastic", material.name)
    } else {
        "A material as soft as this counts as a plastic".to_owned()
    };
    Some(format!(
        "{what}: it creeps while the jaws press and softens as the cut warms it, and neither is modelled, so the released shape may \
         differ. Hold it lightly and briefly, keep it cool, and let it relax before you measure.{swells}"
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A row that is off by a power of ten or a unit shows here: between the softest plastic and steel.
    #[test]
    fn the_table_is_sane() {
        let mut names: Vec<_> = names().collect();
        for row in TABLE {
            let e = row.young_modulus.value;
            assert!((400.0..=210e3).contains(&e), "{}", row.name);
            assert_eq!(
                row.class == Class::Metal,
                Class::by_modulus(e) == Class::Metal,
                "{}",
                row.name
            );
            assert!(
                (0.25..0.5).contains(&row.poisson_ratio.value),
                "{}",
                row.name
            );
            assert!((900.0..9000.0).contains(&row.density.value), "{}", row.name);
            if let Some(y) = row.yield_strength {
                // yield strain: a fifth of a percent of metal to some percent of plastic
                assert!((1e-3..0.05).contains(&(y.value / e)), "{}", row.name);
            }
            assert!(!row.note.is_empty());
        }
        names.sort_unstable();
        names.dedup();
        assert_eq!(names.len(), TABLE.len());
    }
}
