//! The conformance kit against schemes that are wrong on purpose.

use std::collections::BTreeSet;
use std::sync::Arc;

use ringwright_solver::conformance::{Check, broken, check};
use ringwright_solver::scheme::{HoldingScheme, Registry};

/// Truth: analytical; by construction of the schemes
#[test]
fn each_broken_scheme_is_caught_by_the_fault_meant_for_it() {
    assert_eq!(broken().len(), 10);
    let mut used = BTreeSet::new();
    for scheme in broken().map(Arc::new) {
        let door = Arc::clone(&scheme) as Arc<dyn HoldingScheme>;
        let faults = check(&door, &Registry::default());
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
    let all = broken().map(|b| Arc::new(b) as Arc<dyn HoldingScheme>);
    let registry = Registry::with(all[4..6].to_vec());
    let words: Vec<String> = check(&all[4], &registry)
        .iter()
        .map(ToString::to_string)
        .collect();
    assert!(words[0].contains("choose a name of your own"), "{words:?}");
}
