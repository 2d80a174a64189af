//! Independently computed answers, kept as data: exact series, own and general-purpose finite elements, all apart from this program. `conventions` in the file
//! says what every sign, gap, angle and harmonic means.

use serde_json::Value;

const SECTION: &str = include_str!("../references/section.json");
const MERIDIAN: &str = include_str!("../references/meridian.json");
const METROLOGY: &str = include_str!("../references/metrology.json");

/// A part of the set on reading profiles, by its path (`/limacon/example/e`).
///
/// # Panics
/// If there is none.
pub fn metrology(path: &str) -> Value {
    let set: Value = serde_json::from_str(METROLOGY).expect("the set is JSON");
    set.pointer(path)
        .unwrap_or_else(|| panic!("{path} is not in the set"))
        .clone()
}

/// One figure of a reference case. It is met within the larger of the two tolerances.
#[derive(Clone, Debug)]
pub struct Output {
    /// Name in the set.
    pub name: String,
    /// The answer.
    pub value: f64,
    /// Allowed share of it.
    pub relative: f64,
    /// Allowed in its own unit.
    pub absolute: f64,
}

impl Output {
    /// Whether a figure is within the tolerance.
    pub fn allows(&self, found: f64) -> bool {
        (found - self.value).abs() <= self.tolerance()
    }

    fn tolerance(&self) -> f64 {
        (self.relative * self.value.abs()).max(self.absolute)
    }
}

/// A case of the set.
#[derive(Clone, Debug)]
pub struct Reference {
    id: String,
    inputs: Value,
    /// Its figures.
    pub outputs: Vec<Output>,
}

/// A case of the section set.
///
/// # Panics
/// If there is none of that name, or it is not as described.
pub fn section(id: &str) -> Reference {
    case_of(SECTION, id)
}

/// A case of the set on tubes along their length.
///
/// # Panics
/// If there is none of that name, or it is not as described.
pub fn meridian(id: &str) -> Reference {
    case_of(MERIDIAN, id)
}

fn case_of(set: &str, id: &str) -> Reference {
    let set: Value = serde_json::from_str(set).expect("the set is JSON");
    let case = set["cases"]
        .as_array()
        .expect("a list of cases")
        .iter()
        .find(|c| c["id"] == id)
        .unwrap_or_else(|| panic!("{id} is not in the set"));
    let outputs = case["outputs"].as_array().expect("a list of outputs");
    Reference {
        id: id.to_owned(),
        inputs: case["inputs"].clone(),
        outputs: outputs
            .iter()
            .map(|o| Output {
                name: o["name"].as_str().expect("a name").to_owned(),
                value: o["value"].as_f64().expect("a value"),
                relative: o["rel_tol"].as_f64().unwrap_or(0.0),
                absolute: o["abs_tol"].as_f64().unwrap_or(0.0),
            })
            .collect(),
    }
}

impl Reference {
    /// A number that the case is given.
    ///
    /// # Panics
    /// If there is none.
    pub fn input(&self, path: &str) -> f64 {
        self.inputs
            .pointer(&format!("/{path}"))
            .and_then(Value::as_f64)
            .unwrap_or_else(|| panic!("{} has no input {path}", self.id))
    }

    /// A figure by name.
    ///
    /// # Panics
    /// If there is none.
    pub fn output(&self, name: &str) -> &Output {
        self.outputs
            .iter()
            .find(|o| o.name == name)
            .unwrap_or_else(|| panic!("{} has no output {name}", self.id))
    }

    /// The same case with only the figures wanted.
    pub fn only(&self, wanted: impl Fn(&str) -> bool) -> Self {
        let mut part = self.clone();
        part.outputs.retain(|o| wanted(&o.name));
        part
    }

    /// Compares every figure and reports all misses at once.
    ///
    /// # Panics
    /// If a figure is missed, or there is none to compare.
    pub fn compare(&self, read: impl Fn(&str) -> f64) {
        assert!(!self.outputs.is_empty(), "{}", self.id);
        let misses: Vec<String> = self
            .outputs
            .iter()
            .filter_map(|o| {
                let found = read(&o.name);
                let share = (found - o.value).abs() / o.tolerance();
                (!o.allows(found)).then(|| {
                    format!(
                        "{}: {found} instead of {} ({share:.2} of the tolerance)",
                        o.name, o.value
                    )
                })
            })
            .collect();
        assert!(misses.is_empty(), "{}:\n{}", self.id, misses.join("\n"));
    }
}
