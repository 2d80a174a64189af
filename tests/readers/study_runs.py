"""Rows of a study against single runs: each row of two sampled studies over force, bored diameter, blank and pad width, of a ring that is bored and of one that is
only held, against `ringwright run --set ...` with the values of that row.

    study_runs.py RINGWRIGHT [ROWS]

Allowed is what the row and the run estimate of the figure, one after the other: the relative error times the figure, or of the run the error beside the figure
where it is larger. Status and flags are equal. A row without an answer has the kind of failure of its run. ROWS of each study are taken, spread over all 250 (left
out: 10). Prints how many figures are the same to all digits of the table too, and `N passed, M failed`; exit 1 if any failed.

Truth: invariance; one case by two ways through the program
"""

import json
import pathlib
import subprocess
import sys
import tempfile
import time

from support import Tally, call, rows, studies

ALL = 250
SURFACES = ("outer", "bore")
# half of the last of ten digits of a table's figure
ROUNDED = 5e-10


class Row:
    """A row of the table beside the document of its run."""

    def __init__(self, tally, cells, run):
        self.tally, self.cells, self.run = tally, cells, run
        self.step = run["steps"][-1]
        self.errors = [float(cells["estimate_relative_error"]), self.step["estimate"]["relative_error"]]
        self.figures = self.same = 0

    def near(self, name, wanted, error, rounding=0.0):
        """Whether a cell is the run's figure within what both estimate. What is below `rounding` the table tells as zero."""
        cell = self.cells[name]
        if wanted is None or cell == "":
            self.tally.check((wanted is None) == (cell == ""), f"row {self.cells['row']}, {name}: {cell or 'unknown'} and {wanted}")
            return
        found = float(cell)
        rounded = ROUNDED * abs(wanted)
        if abs(wanted) > rounding:
            self.figures += 1
            self.same += abs(found - wanted) <= rounded
        words = f"row {self.cells['row']}, {name}: {found} instead of {wanted} within {error}"
        self.tally.check(abs(found - wanted) <= max(error, rounded), words)

    def share(self, figure, beside=0.0):
        """What both estimate of a figure: their relative errors, and the run's own beside it."""
        return max(sum(self.errors) * abs(figure), beside)

    def check(self):
        step, verdict = self.step, self.run["verdict"]
        for state, shapes in (("held", step["held"]), ("released", step["released"])):
            for surface in SURFACES:
                shape = shapes[surface]
                # a surface that is round by construction has rounding alone
                error = max(self.share(shape["roundness_least_squares"], shape["error"]["roundness"]), 1e-9)
                self.near(f"{state}_roundness_{surface}_mm", shape["roundness_least_squares"], error, 1e-9)
        lobed = step["released"] if step["cuts"] else step["held"]
        for surface in SURFACES:
            shape = lobed[surface]
            largest = max(h["amplitude"] for h in shape["harmonics"] if 2 <= h["count"] <= 12)
            for lobes in shape["harmonics"]:
                if not 2 <= lobes["count"] <= 12:
                    continue
                rounding = max(1e-7, 1e-5 * largest)
                error = max(self.share(shape["roundness_least_squares"], shape["error"]["harmonics"]), rounding)
                self.near(f"{surface}_{lobes['count']}_lobes_mm", lobes["amplitude"], error, rounding)
            mean = 2 * shape["mean_radius"]
            released = 2 * step["released"][surface]["mean_radius"]
            self.near(f"average_diameter_{surface}_mm", released, 2 * step["released"][surface]["error"]["mean_radius"] + 1e-9 * mean)
        worst = verdict["worst_stress"]["yield_margin"]
        self.near("yield_margin", worst, 2 * step["estimate"]["stress_relative_error"] * worst)
        self.near("estimate_relative_error", step["estimate"]["relative_error"], self.errors[1])
        self.near("slip_safety", step["grip"]["slip_safety"] if step["cuts"] else None, 0.0)
        for name in ("in_tolerance", "safe"):
            wanted = {True: "true", False: "false", None: ""}[verdict[name]]
            self.tally.check(self.cells[name] == wanted, f"row {self.cells['row']}, {name}: {self.cells[name]} instead of {wanted}")


def study(tally, ringwright, folder, case, count):
    file = studies.write(folder / f"study-{case}", case, ALL, 11)
    out = folder / f"{case}-out"
    start = time.monotonic()
    call([ringwright, "study", file, "--out", out, "--quiet"])
    took = time.monotonic() - start
    varies = json.loads((out / "study.json").read_text())["varies"]
    table = rows(out / "results.csv")
    tally.check(len(table) == ALL, f"{len(table)} rows of {ALL}")
    taken = [table[k * ALL // count] for k in range(count)]
    figures = same = failed = 0
    start = time.monotonic()
    for cells in taken:
        sets = [word for path in varies for word in ("--set", f"{path}={cells[path]}")]
        words = [str(ringwright), "run", str(studies.CASES / case), *sets, "--json", "--fields", "none", "--out", str(folder / "run-out")]
        run = subprocess.run(words, capture_output=True, text=True)
        document = json.loads(run.stdout)
        if document["format"] == "ringwright-error-1":
            failed += 1
            wanted = f"failed: {document['kind']}"
            tally.check(cells["status"].startswith(wanted), f"row {cells['row']}: {cells['status']} instead of {wanted}")
            continue
        if not tally.check(cells["status"] == "ok", f"row {cells['row']}: {cells['status']}, and its run has an answer"):
            continue
        row = Row(tally, cells, document)
        row.check()
        figures, same = figures + row.figures, same + row.same
    single = time.monotonic() - start
    tally.check(figures > 10 * (count - failed) > 0, f"only {figures} figures were compared")
    ok = sum(r["status"] == "ok" for r in table)
    good = sum(r["in_tolerance"] == "true" for r in table)
    print(f"{case}: {ALL} rows in {took:.1f} s, {ok} with an answer, {good} in tolerance; {count} of them against single runs ({single:.1f} s), "
          f"{failed} without an answer: {figures} figures that are more than rounding, {same} the same to all digits")


def main():
    ringwright = pathlib.Path(sys.argv[1]).resolve()
    count = int(sys.argv[2]) if len(sys.argv) > 2 else 10
    tally = Tally()
    with tempfile.TemporaryDirectory() as folder:
        for case in ("bored.toml", "held.toml"):
            study(tally, ringwright, pathlib.Path(folder), case, count)
    return tally.end()


if __name__ == "__main__":
    sys.exit(main())
