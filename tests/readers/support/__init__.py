"""What the readers of studies share: counting checks, calling the program, tables without the time that their rows took."""

import csv
import subprocess
import sys


class Tally:
    """Checks that passed and failed; one that failed is printed."""

    def __init__(self):
        self.passed = self.failed = 0

    def check(self, good, words):
        if good:
            self.passed += 1
        else:
            self.failed += 1
            print(f"FAILED: {words}")
        return good

    def end(self):
        """Prints the last line that CI reads; the exit status."""
        print(f"{self.passed} passed, {self.failed} failed")
        return 1 if self.failed else 0


def call(words, expected=0, **options):
    """Runs a command and gives what it printed; any other exit status than that expected ends the reader."""
    words = [str(w) for w in words]
    run = subprocess.run(words, capture_output=True, text=True, **options)
    if run.returncode != expected:
        sys.exit(f"{' '.join(words)}\nended with {run.returncode} instead of {expected}:\n{run.stdout}{run.stderr}\n0 passed, 1 failed")
    return run.stdout


def rows(path):
    """Rows of a study's table, by column, without the one column that differs from run to run."""
    with open(path, newline="", encoding="utf-8") as file:
        table = list(csv.DictReader(file))
    for row in table:
        del row["seconds"]
    return table


def differences(found, wanted):
    """In how many cells two tables differ, and the first of them in words."""
    if len(found) != len(wanted):
        return max(len(found), len(wanted)), f"{len(found)} rows instead of {len(wanted)}"
    count, first = 0, ""
    for k, (a, b) in enumerate(zip(found, wanted)):
        for name in a.keys() | b.keys():
            if a.get(name) != b.get(name):
                first = first or f"row {k}, {name}: {a.get(name)} instead of {b.get(name)}"
                count += 1
    return count, first
