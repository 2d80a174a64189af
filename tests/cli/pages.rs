//! Completions and manual pages: made from the same definition as the help, so that none of them knows more or less.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::io::Write;
use std::process::{Command, Stdio};

use crate::call;

/// Commands that the program's help does not list; the lines below its list name them.
const UNLISTED: [&str; 2] = ["completions", "man"];

/// The names of the commands in a help text.
fn listed(help: &str) -> Vec<String> {
    let after = help.split_once("Commands:\n").map_or("", |(_, list)| list);
    let list = after.split("\n\n").next().unwrap();
    let names = list
        .lines()
        .filter(|l| l.starts_with("  ") && !l.starts_with("   "));
    let names = names.filter_map(|l| l.split_whitespace().next());
    names.filter(|n| *n != "help").map(str::to_owned).collect()
}

/// The long flags that stand at the beginning of a line of a help text.
fn flags(help: &str) -> BTreeSet<String> {
    let lines = help
        .lines()
        .map(str::trim_start)
        .filter(|l| l.starts_with('-'));
    lines
        .filter_map(|l| l.split([' ', ',']).find(|w| w.starts_with("--")))
        .map(str::to_owned)
        .collect()
}

/// Every command with the flags that its help names.
fn commands() -> BTreeMap<Vec<String>, BTreeSet<String>> {
    let mut found = BTreeMap::new();
    let mut waiting: Vec<Vec<String>> = vec![vec![]];
    waiting.extend(UNLISTED.map(|n| vec![n.to_owned()]));
    while let Some(path) = waiting.pop() {
        let mut args: Vec<&str> = path.iter().map(String::as_str).collect();
        args.push("--help");
        let help = call(&args);
        assert_eq!(help.exit, 0, "{path:?}");
        for name in listed(&help.out) {
            waiting.push([path.clone(), vec![name]].concat());
        }
        found.insert(path, flags(&help.out));
    }
    found
}

#[test]
fn every_shell_completes_every_command_and_flag() {
    let commands = commands();
    assert!(commands.len() > 14, "{commands:?}");
    for shell in ["bash", "zsh", "fish", "powershell", "elvish"] {
        let printed = call(&["completions", shell]);
        assert_eq!(printed.exit, 0, "{shell}");
        for (path, flags) in &commands {
            if let Some(name) = path.last() {
                // a shell may leave out those that the help leaves out
                let left_out = UNLISTED.contains(&name.as_str());
                assert!(left_out || printed.out.contains(name), "{shell}: {name}");
            }
            for flag in flags {
                let bare = flag.trim_start_matches('-');
                assert!(printed.out.contains(bare), "{shell}: {path:?} {flag}");
            }
        }
    }
    let unknown = call(&["completions", "csh"]);
    assert_eq!(unknown.exit, 2);
    assert!(unknown.err.contains("bash") && unknown.err.contains("elvish"));
}

#[test]
fn what_bash_is_given_is_bash() {
    let Ok(mut bash) = Command::new("bash").arg("-n").stdin(Stdio::piped()).spawn() else {
        // no such shell here
        return;
    };
    let script = call(&["completions", "bash"]).out;
    let mut input = bash.stdin.take().unwrap();
    input.write_all(script.as_bytes()).unwrap();
    drop(input);
    assert!(bash.wait().unwrap().success());
}

#[test]
fn every_command_has_a_page_with_every_flag_of_its_help() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("pages");
    let dir = out.to_str().unwrap();
    let written = call(&["man", "--out", dir]);
    assert_eq!(written.exit, 0, "{}", written.err);
    let commands = commands();
    assert_eq!(fs::read_dir(&out).unwrap().count(), commands.len());
    for (path, flags) in &commands {
        let name = [&["ringwright".to_owned()], path.as_slice()]
            .concat()
            .join("-");
        let file = out.join(format!("{name}.1"));
        let page = fs::read_to_string(&file).unwrap();
        assert!(page.contains(&format!(".TH {name} 1")), "{name}");
        // roff writes a hyphen that is typed as a minus
        let plain = page.replace("\\-", "-");
        for flag in flags {
            assert!(plain.contains(flag.as_str()), "{name}: {flag}");
        }
        formats_cleanly(&name, &page);
    }
    let main = fs::read_to_string(out.join("ringwright.1")).unwrap();
    assert_eq!(call(&["man"]).out, main);
    for said in ["Exit status", "competent practice", "ringwright\\-compare"] {
        assert!(main.contains(said), "{said}");
    }
    let new = fs::read_to_string(out.join("ringwright-new.1")).unwrap();
    assert!(
        new.contains(".SH EXAMPLES\n\\&ringwright new ring.toml\n"),
        "{new}"
    );
    // a second time they are replaced, and what is not such a page is left
    assert_eq!(call(&["man", "--out", dir]).exit, 0);
    fs::write(out.join("ringwright-run.1"), "notes of mine").unwrap();
    let refused = call(&["man", "--out", dir]);
    assert_eq!(refused.exit, 5, "{}", refused.err);
    assert!(refused.err.contains("ringwright-run.1"), "{}", refused.err);
}

/// What the formatter warns of, where it is installed.
fn formats_cleanly(name: &str, page: &str) {
    let formatter = Command::new("groff")
        .args(["-man", "-Tutf8", "-ww"])
        .stdin(Stdio::piped())
        .stdout(Stdio::null())
        .stderr(Stdio::piped())
        .spawn();
    let Ok(mut formatter) = formatter else {
        return;
    };
    let mut input = formatter.stdin.take().unwrap();
    input.write_all(page.as_bytes()).unwrap();
    drop(input);
    let done = formatter.wait_with_output().unwrap();
    let complaints = String::from_utf8_lossy(&done.stderr);
    assert!(
        done.status.success() && complaints.is_empty(),
        "{name}: {complaints}"
    );
}
