//! `--threads` where threads run: here in the search for the worst way to turn the part, on a mesh too small to be shared itself.

use std::fs;
use std::process::{Command, Stdio};
use std::time::Duration;

use crate::CASE;

/// What the program prints with so many threads, and the most threads that it was seen to have at once (Linux; else `None`).
fn solve(threads: &str) -> (Vec<u8>, Option<usize>) {
    let folder = tempfile::tempdir().unwrap();
    let case = CASE.replace("hold = \"bare\"\n", "hold = \"bare\"\nturned = \"any\"\n");
    assert_ne!(case, CASE);
    fs::write(folder.path().join("ring.toml"), case).unwrap();
    let answer = folder.path().join("answer.json");
    let mut child = Command::new(env!("CARGO_BIN_EXE_ringwright"))
        .current_dir(folder.path())
        .args([
            "run",
            "ring.toml",
            "--json",
            "--fields",
            "none",
            "--threads",
            threads,
        ])
        .stdin(Stdio::null())
        .stdout(fs::File::create(&answer).unwrap())
        .spawn()
        .unwrap();
    let tasks = format!("/proc/{}/task", child.id());
    let mut most = None;
    let status = loop {
        if let Ok(list) = fs::read_dir(&tasks) {
            most = most.max(Some(list.count()));
        }
        if let Some(status) = child.try_wait().unwrap() {
            break status;
        }
        std::thread::sleep(Duration::from_millis(1));
    };
    assert_eq!(status.code(), Some(0));
    (fs::read(answer).unwrap(), most)
}

/// One, two and three threads print the same to the byte, and so many are really started beside the program's own; one needs no other.
#[test]
fn threads_do_not_show_where_they_run() {
    let (one, alone) = solve("1");
    assert!(one.len() > 10_000);
    for threads in [2, 3] {
        let (again, most) = solve(&threads.to_string());
        assert!(again == one, "{threads} threads differ from one");
        if let (Some(alone), Some(most)) = (alone, most) {
            assert_eq!(most, alone + threads, "{threads} threads were asked for");
        }
    }
}
