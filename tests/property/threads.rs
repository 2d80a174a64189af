//! Threads where threads run, in pools of one, two and three: the search for the worst way to turn the part (`turned = "any"`), and large fixed
//! meshes, on which elements, arcs of the factor and compliances are worked on side by side.

use std::sync::{Arc, Mutex};

use ringwright_solver::case::Origin;
use ringwright_solver::process::{KeepFields, Options, run};
use ringwright_solver::report::{Program, document};
use ringwright_tests::files;

use crate::{jaws, mesh, ring, step};

/// Nanoseconds that the calling thread has been on a processor, where the system tells (Linux).
fn time_on_processor() -> Option<u64> {
    let text = std::fs::read_to_string("/proc/thread-self/schedstat").ok()?;
    text.split_whitespace().next()?.parse().ok()
}

/// What `work` gives in a pool of so many threads, and how long each of them worked, ns; empty where the system does not tell.
fn in_pool<T: Send>(threads: usize, work: impl FnOnce() -> T + Send) -> (T, Vec<u64>) {
    let times = Arc::new(Mutex::new(Vec::new()));
    let mut started = Vec::new();
    let pool = rayon::ThreadPoolBuilder::new()
        .num_threads(threads)
        .spawn_handler(|thread| {
            let times = Arc::clone(&times);
            started.push(std::thread::spawn(move || {
                thread.run();
                times.lock().unwrap().extend(time_on_processor());
            }));
            Ok(())
        })
        .build()
        .unwrap();
    let answer = pool.install(|| {
        assert_eq!(rayon::current_num_threads(), threads);
        work()
    });
    drop(pool);
    for thread in started {
        thread.join().unwrap();
    }
    let times = times.lock().unwrap().clone();
    (answer, times)
}

/// One, two and three threads give the same `result.json` to the byte for a case whose search runs on all of them; and more than one thread did
/// work, else the test would say nothing.
/// Truth: invariance; the same bits
#[test]
fn the_search_for_the_worst_way_gives_the_same_bits_on_any_number_of_threads() {
    let text = ring()
        + "[[part.lobes]]\nsurface = \"both\"\ncount = 2\namplitude = 0.05\nangle = 10\n"
        + &jaws(55.125, 600.0, 0.0)
        + &mesh(360, 3)
        + "[[step]]\nhold = \"h\"\nturned = \"any\"\n[[step.cut]]\nsurface = \"bore\"\ndiameter = 95.7\n";
    same_bits(&text);
}

/// The same of a lobed ring on a mesh that is large enough to be shared, held and bored: the mean ring's factor is divided into arcs, and pads have
/// hundreds of pressures.
/// Truth: invariance; the same bits
#[test]
fn a_large_fixed_mesh_gives_the_same_bits_on_any_number_of_threads() {
    let text = ring()
        + "[[part.lobes]]\nsurface = \"both\"\ncount = 2\namplitude = 0.05\nangle = 10\n"
        + &jaws(52.6, 400.0, 0.0)
        + &mesh(1600, 16)
        + &step(Some(("bore", 95.5)));
    same_bits(&text);
}

/// Solves a case in pools of one, two and three threads; more than one must work where there are more.
fn same_bits(text: &str) {
    let solve = |threads: usize| {
        in_pool(threads, || {
            let case = files::read(text);
            let options = Options {
                fields: KeepFields::None,
                estimate: true,
                ..Options::default()
            };
            let outcome = run(&case, &options).unwrap();
            let document =
                document(&case, &Origin::default(), &outcome, &Program::default()).unwrap();
            document.to_json().unwrap()
        })
    };
    let (one, _) = solve(1);
    assert!(one.len() > 10_000);
    for threads in [1, 2, 3] {
        let (again, times) = solve(threads);
        assert!(again == one, "{threads} threads differ from one");
        let Some(total) = Some(times.iter().sum::<u64>()).filter(|t| *t > 0) else {
            continue;
        };
        assert_eq!(times.len(), threads);
        let busy = times.iter().filter(|t| **t > total / 50).count();
        assert!(busy >= threads.min(2), "{threads} threads: {times:?}");
    }
}
