//! What the tests of several schemes share.
#![allow(clippy::unwrap_used)]

use ringwright_solver::scheme::{HoldingScheme, Section, Value, Values};

pub(crate) const SECTION: Section = Section {
    outer_radius: 60.0,
    bore_radius: 57.0,
    length: 20.0,
};

pub(crate) fn values(numbers: &[(&str, f64)]) -> Values {
    let mut values = Values::default();
    for &(key, x) in numbers {
        values.set(key, Value::Number(x));
    }
    values
}

/// Each change of values that are sound is refused, and names the parameter at fault.
pub(crate) fn refused(scheme: &dyn HoldingScheme, sound: &Values, changes: &[(&str, Value, &str)]) {
    scheme.supports(&SECTION, sound).unwrap();
    for (key, value, parameter) in changes {
        let mut changed = sound.clone();
        changed.set(key, value.clone());
        let e = scheme.supports(&SECTION, &changed).unwrap_err();
        assert_eq!(e.parameter.as_deref(), Some(*parameter), "{key}: {e}");
    }
}
