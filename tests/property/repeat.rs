//! The same bits every time, on one thread and on two.

use ringwright_solver::case::Origin;
use ringwright_solver::process::{KeepFields, Options, run};
use ringwright_solver::report::{Program, document};
use ringwright_tests::files;

use crate::{jaws, ring, step};

/// Documents of a case solved in a pool of so many threads: `result.json` and `profiles.csv`.
fn answer(text: &str, threads: usize) -> (String, Vec<u8>) {
    let pool = rayon::ThreadPoolBuilder::new()
        .num_threads(threads)
        .build()
        .unwrap();
    pool.install(|| {
        assert_eq!(rayon::current_num_threads(), threads);
        let case = files::read(text);
        let options = Options {
            fields: KeepFields::All,
            estimate: true,
            ..Options::default()
        };
        let outcome = run(&case, &options).unwrap();
        let folder = tempfile::tempdir().unwrap();
        let document = document(&case, &Origin::default(), &outcome, &Program::default()).unwrap();
        ringwright_solver::report::write_all(folder.path(), &case, &outcome, &document).unwrap();
        let read = |name: &str| std::fs::read(folder.path().join(name)).unwrap();
        let json = String::from_utf8(read("result.json")).unwrap();
        // every state's fields too
        let mut bytes = read("profiles.csv");
        for name in ["step-1-held.vtu", "step-1-cut.vtu", "step-1-released.vtu"] {
            bytes.extend(read(name));
        }
        (json, bytes)
    })
}

/// Two runs on one thread and one on two give `result.json`, `profiles.csv` and the fields to the byte: a round ring (the repeated factor) and a lobed one (the
/// sparse factor), cut. One promise for one program on one machine.
/// Truth: invariance; the same bits
#[test]
fn threads_and_runs_give_the_same_bits() {
    let lobes = "[[part.lobes]]\nsurface = \"both\"\ncount = 2\namplitude = 0.05\nangle = 10\n";
    let mut ran = 0;
    for part in [ring(), ring() + lobes] {
        let text = part + &jaws(55.125, 600.0, 0.0) + &step(Some(("bore", 95.7)));
        let first = answer(&text, 1);
        assert!(first.0.len() > 10_000 && first.1.len() > 100_000);
        assert!(first == answer(&text, 1), "two runs differ");
        assert!(first == answer(&text, 2), "two threads differ from one");
        ran += 1;
    }
    assert_eq!(ran, 2);
}
