//! Generated cases for the outside validator, which holds the JSON Schema of the case file against the reader.

use ringwright_tests::generator;

/// Cases that are written.
const CASES: u64 = 1000;

/// Writes cases into the folder that `RINGWRIGHT_CASES` names, for `tests/readers/schema_cases.py`.
#[test]
#[ignore = "writes files for a reader outside"]
fn cases_for_the_outside_validator() {
    let folder = std::env::var_os("RINGWRIGHT_CASES").expect("RINGWRIGHT_CASES names a folder");
    let folder = std::path::PathBuf::from(folder);
    let registry = ringwright_plugins::registry();
    for seed in 0..CASES {
        let of_its_own = folder.join(seed.to_string());
        std::fs::create_dir_all(&of_its_own).unwrap();
        let case = generator::case(seed, &registry);
        case.write(&of_its_own, "case.toml").unwrap();
    }
}
