//! The head of a case: the ring as received, limits, inspection, mesh.

use ringwright_solver::case::{built_in, material_names};

use super::readings;
use super::text::{Lines, Units};
use crate::random::Random;

/// What the rest of a case is sized by.
pub(super) struct Ring {
    /// Outside diameter, mm.
    pub(super) outer: f64,
    /// Bore diameter, mm.
    pub(super) bore: f64,
    /// Axial length, mm.
    pub(super) length: f64,
    /// Young's modulus, MPa.
    pub(super) young_modulus: f64,
    /// A name of the table of materials, if it is made of one.
    material: Option<&'static str>,
}

impl Ring {
    pub(super) fn random(random: &mut Random) -> Self {
        let outer = if random.chance(0.85) {
            random.size(15.0, 600.0)
        } else {
            random.size(0.5, 1e4)
        };
        let share = if random.chance(0.8) {
            random.size(0.03, 0.3)
        } else {
            random.size(0.005, 0.9)
        };
        let names: Vec<&str> = material_names().collect();
        let material = random.chance(0.7).then(|| names[random.below(names.len())]);
        let young_modulus = match material.and_then(built_in) {
            Some(found) => found.young_modulus,
            None => random.size(1.0, 1e6),
        };
        Self {
            outer,
            bore: outer * (1.0 - share),
            length: outer * random.size(0.02, 2.0),
            young_modulus,
            material,
        }
    }

    /// A ring as most shops see it: of a metal of the table, 15 to 600 mm outside, walls of 3 to 30 percent of that.
    pub(super) fn usual(random: &mut Random) -> Self {
        let outer = random.size(15.0, 600.0);
        let names: Vec<&str> = material_names().collect();
        let material = names[random.below(names.len())];
        Self {
            outer,
            bore: outer * (1.0 - random.size(0.03, 0.3)),
            length: outer * random.size(0.05, 1.0),
            young_modulus: built_in(material).map_or(2e5, |m| m.young_modulus),
            material: Some(material),
        }
    }

    /// The part by itself: a ring, with one to three sets of lobes if it is to be worked.
    pub(super) fn alone(&self, random: &mut Random, lobed: bool) -> String {
        let mut lines = Lines::default();
        lines.head("[part]");
        for (key, mm) in [
            ("outer_diameter", self.outer),
            ("bore_diameter", self.bore),
            ("length", self.length),
        ] {
            lines.set(key, format!("{mm:?}"));
        }
        match self.material {
            Some(name) => lines.set("material", quoted(name)),
            None => {
                let ratio = random.between(0.0, 0.45);
                let modulus = self.young_modulus;
                let table = format!("young_modulus = {modulus:?}, poisson_ratio = {ratio:?}");
                lines.set("material", format!("{{ {table} }}"));
            }
        }
        let lobes = if lobed { 1 + random.below(3) } else { 0 };
        for _ in 0..lobes {
            lines.head("[[part.lobes]]");
            lines.set("surface", quoted(random.pick(&["outer", "bore", "both"])));
            lines.set("count", random.size(2.0, 12.0) as usize);
            let amplitude = self.wall() * random.size(1e-4, 0.02);
            lines.set("amplitude", format!("{amplitude:?}"));
            let angle = random.between(0.0, 360.0);
            lines.set("angle", format!("{angle:?}"));
        }
        lines.into_text()
    }

    /// Thickness, mm.
    pub(super) fn wall(&self) -> f64 {
        0.5 * (self.outer - self.bore)
    }

    /// A force (N) that three jaws would bend the ring by about `share` of its wall with (thin ring, `0.03 W R^3 / E I`).
    pub(super) fn force_for(&self, share: f64) -> f64 {
        let radius = 0.25 * (self.outer + self.bore);
        let inertia = self.length * self.wall().powi(3) / 12.0;
        share * self.wall() * self.young_modulus * inertia / (0.03 * radius.powi(3))
    }

    /// Everything above the holds.
    pub(super) fn write(&self, random: &mut Random, units: Units) -> Head {
        let mut lines = Lines::default();
        lines.set("title", "\"generated\"");
        if units == Units::Inch || random.chance(0.3) {
            let name = if units == Units::Inch { "inch" } else { "mm" };
            lines.set("units", format!("\"{name}\""));
        }
        if random.chance(0.9) {
            // most are rough, for thousands have to be solved
            let accuracy = if random.chance(0.95) {
                random.size(0.02, 0.3)
            } else {
                random.size(1e-4, 0.5)
            };
            lines.set("accuracy", accuracy);
        }
        self.limits(&mut lines, random, units);
        inspection(&mut lines, random, units);
        if random.chance(0.12) {
            lines.head("[mesh]");
            let most = if random.chance(0.9) { 400.0 } else { 3000.0 };
            lines.set("around", random.size(12.0, most) as usize);
            lines.set("through", random.size(1.0, 9.0) as usize);
        }
        self.part(&mut lines, random, units);
        let readings = self.shape(&mut lines, random, units);
        Head {
            text: lines.into_text(),
            readings,
        }
    }

    fn limits(&self, lines: &mut Lines, random: &mut Random, units: Units) {
        let zone = |random: &mut Random| {
            let zone = self.wall() * random.size(1e-5, 0.2);
            units.length(random, zone)
        };
        if random.chance(0.4) {
            lines.head("[tolerance]");
            lines.set("roundness", zone(random));
        }
        for surface in ["outer", "bore"] {
            if random.chance(0.85) {
                continue;
            }
            lines.head(&format!("[tolerance.{surface}]"));
            for key in ["roundness", "wall_variation", "runout"] {
                if random.chance(0.4) {
                    lines.set(key, zone(random));
                }
            }
            if random.chance(0.3) {
                lines.set("filter_upr", random.size(1.5, 1500.0));
            }
            if random.chance(0.3) {
                lines.set("circle", quoted(random.pick(&CIRCLES)));
            }
            if random.chance(0.5) {
                let size = if surface == "outer" {
                    self.outer
                } else {
                    self.bore
                };
                let least = size + self.wall() * random.between(-0.1, 0.1);
                let most = least + self.wall() * random.size(1e-4, 0.1);
                let ends = [least, most].map(|d| units.length(random, d));
                let key = random.pick(&["diameter", "average_diameter"]);
                lines.set(key, format!("[{}, {}]", ends[0], ends[1]));
            }
        }
    }

    fn part(&self, lines: &mut Lines, random: &mut Random, units: Units) {
        lines.head("[part]");
        for (key, mm) in [
            ("outer_diameter", self.outer),
            ("bore_diameter", self.bore),
            ("length", self.length),
        ] {
            lines.set(key, units.length(random, mm));
        }
        match self.material {
            Some(name) => lines.set("material", quoted(name)),
            None => {
                let modulus = units.stress(random, self.young_modulus);
                let ratio = random.between(-0.9, 0.49);
                let mut table = format!("young_modulus = {modulus}, poisson_ratio = {ratio}");
                if random.chance(0.6) {
                    let strength = self.young_modulus * random.size(1e-4, 1e-1);
                    table += &format!(", yield_strength = {}", units.stress(random, strength));
                }
                if random.chance(0.6) {
                    table += &format!(", density = {}", random.size(100.0, 2e4));
                }
                lines.set("material", format!("{{ {table} }}"));
            }
        }
        if random.chance(0.12) {
            lines.set("residual_hoop_stress", self.residual(random, units));
        }
    }

    fn residual(&self, random: &mut Random, units: Units) -> String {
        if random.chance(0.5) {
            let stress = self.young_modulus * random.between(-2e-3, 2e-3);
            // typed alike, so that it cancels to the last bit
            return format!("{{ outer = {0:?}, bore = {1:?} }}", stress, -stress);
        }
        let wall = self.wall();
        if random.chance(0.5) {
            let [gap, saw] = [random.size(1e-2, 1.0), random.size(1e-3, 0.5)];
            let [gap, saw] = [gap, saw].map(|share| units.length(random, share * wall));
            return format!("{{ slit = {{ gap = {gap}, saw_width = {saw} }} }}");
        }
        let opened = self.outer + wall * random.between(-0.3, 0.3);
        let [before, after] = [self.outer, opened].map(|d| units.length(random, d));
        format!(
            "{{ slit = {{ diameter_before = {before}, diameter_after = {after}, surface = \"outer\" }} }}"
        )
    }

    /// Lobes, an offset of the bore, or readings of the stock; the last are given back.
    fn shape(&self, lines: &mut Lines, random: &mut Random, units: Units) -> Vec<Beside> {
        if random.chance(0.15) {
            let distance = self.wall() * random.size(1e-4, 0.5);
            lines.head("[part.bore_offset]");
            lines.set("distance", units.length(random, distance));
            let angle = random.between(-360.0, 360.0);
            lines.set("angle", units.angle(random, angle));
        }
        if random.chance(0.1) {
            return self.readings(lines, random);
        }
        let lobes = if random.chance(0.3) {
            1 + random.below(3)
        } else {
            0
        };
        for _ in 0..lobes {
            lines.head("[[part.lobes]]");
            lines.set("surface", quoted(random.pick(&["outer", "bore", "both"])));
            let most = if random.chance(0.9) { 12.0 } else { 360.0 };
            lines.set("count", random.size(1.0, most) as usize);
            let amplitude = self.wall() * random.size(1e-6, 0.15);
            lines.set("amplitude", units.length(random, amplitude));
            lines.set("angle", random.between(-400.0, 400.0));
        }
        Vec::new()
    }

    fn readings(&self, lines: &mut Lines, random: &mut Random) -> Vec<Beside> {
        lines.head("[part.readings]");
        let mut all = Vec::new();
        for surface in ["outer", "bore"] {
            if !all.is_empty() && random.chance(0.5) {
                if random.chance(0.5) {
                    lines.set(surface, "\"round\"");
                }
                continue;
            }
            let amplitude = self.wall() * random.size(1e-4, 0.05);
            let readings = readings::deviations(random, amplitude);
            let line = format!(
                "{surface} = {{ readings = \"{}\", unit = \"um\", reads = \"deviation\" }}",
                readings.typed()
            );
            lines.head(&line);
            all.push(Beside {
                file: format!("{surface}.csv"),
                instead: format!("{surface} = \"{surface}.csv\""),
                text: readings.csv(),
                line,
            });
        }
        all
    }
}

/// Readings that may stand in a file of their own.
struct Beside {
    line: String,
    instead: String,
    file: String,
    text: String,
}

/// Everything above the holds.
pub(super) struct Head {
    pub(super) text: String,
    readings: Vec<Beside>,
}

impl Head {
    /// Moves some of the readings that stand in a case into files beside it.
    pub(super) fn beside(
        self,
        random: &mut Random,
        mut text: String,
    ) -> (String, Vec<(String, String)>) {
        let mut files = Vec::new();
        for readings in self.readings {
            if random.chance(0.5) {
                text = text.replace(&readings.line, &readings.instead);
                files.push((readings.file, readings.text));
            }
        }
        (text, files)
    }
}

const CIRCLES: [&str; 4] = [
    "minimum-zone",
    "least-squares",
    "minimum-circumscribed",
    "maximum-inscribed",
];

fn inspection(lines: &mut Lines, random: &mut Random, units: Units) {
    if random.chance(0.85) {
        return;
    }
    lines.head("[inspection]");
    if random.chance(0.4) {
        lines.set("circle", quoted(random.pick(&CIRCLES)));
    }
    if random.chance(0.3) {
        lines.set("filter_upr", random.size(1.5, 1500.0));
    }
    if random.chance(0.7) {
        let kind = random.pick(&["vee", "two-point", "three-point", "radius", "plate"]);
        let angle = if kind == "vee" {
            format!(", included_angle = {:?}", random.between(20.0, 170.0))
        } else {
            String::new()
        };
        lines.set("gauge", format!("{{ kind = \"{kind}\"{angle} }}"));
        if random.chance(0.5) {
            let force = random.size(1e-3, 100.0);
            lines.set("measuring_force", units.force(random, force));
        }
    }
    match random.below(4) {
        0 => lines.set("support", "\"edge\""),
        1 => {
            lines.set("support", "\"vee\"");
            lines.set("vee_angle", random.between(30.0, 150.0));
        }
        _ => {}
    }
    if random.chance(0.3) {
        lines.set("temperature", random.between(-40.0, 90.0));
    }
}

pub(super) fn quoted(word: &str) -> String {
    format!("\"{word}\"")
}
