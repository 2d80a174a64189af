//! The conformance kit against schemes that are wrong on purpose.

use std::collections::BTreeSet;

use ringwright_solver::conformance::{BROKEN, Check, check};
use ringwright_solver::scheme::{HoldingScheme, Registry};

/// Truth: analytical; by construction of the schemes
#[test]
fn each_broken_scheme_is_caught_by_the_fault_meant_for_it() {
    assert_eq!(BROKEN.len(), 10);
    let mut used = BTreeSet::new();
    for scheme in &BROKEN {
        let faults = check(scheme, &Registry::default());
        assert!(!faults.is_empty(), "{scheme:?} passes");
        for fault in &faults {
            assert!(scheme.shows(fault), "{scheme:?}: {fault:#?}");
            assert!(!fault.to_string().is_empty());
            used.insert(fault.check() as u8);
        }
    }
    // every check has caught something
    assert_eq!(used.len(), Check::ALL.len(), "{used:?}");
}

/// Truth: analytical; by construction of the schemes
#[test]
fn a_name_that_is_taken_is_told() {
    let (one, two): (&'static dyn HoldingScheme, _) = (&BROKEN[4], &BROKEN[5]);
    let registry = Registry::with(&[one, two]);
    let words: Vec<String> = check(one, &registry)
        .iter()
        .map(ToString::to_string)
        .collect();
    assert!(words[0].contains("choose a name of your own"), "{words:?}");
}
