"""Holds the sensitivity indices of `ringwright study` against scipy (PyPI): a study is worked out, its table read and put through `scipy.stats.sobol_indices`.

    indices_check.py RINGWRIGHT

The rows must be laid out as the page on the output files says, and their digest that of the keys' columns. Prints what failed and `N passed, M failed`; exit 1 if any failed.

Truth: other program; SciPy's estimators on the same table
"""

import csv
import hashlib
import io
import json
import pathlib
import subprocess
import sys
import tempfile

import numpy as np
from scipy.stats import sobol_indices

CASE = """title = "Ring"
[part]
outer_diameter = 120.0
bore_diameter = 110.0
length = 20.0
material = "bronze C93200"
[[hold.bare]]
scheme = "jaws"
count = 3
force = 150.0
bored_diameter = 121.2
width = 20.0
[[step]]
hold = "bare"
[[step.cut]]
surface = "bore"
diameter = 111.0
[mesh]
around = 120
through = 2
"""
BASE = 64
STUDY = f"""design = "sobol"
indices = true
count = {BASE}
seed = 11
[base]
case = "case.toml"
[[vary]]
path = "hold.bare[0].force"
from = 100
to = 200
[[vary]]
path = "part.outer_diameter"
mean = 120.0
standard_deviation = 0.1
[[vary]]
path = "hold.bare[0].width"
from = 10.0
mode = 20.0
to = 24.0
"""

passed = failed = 0


def check(good, what):
    global passed, failed
    if good:
        passed += 1
    else:
        failed += 1
        print("failed:", what)


def main(program):
    with tempfile.TemporaryDirectory() as folder:
        folder = pathlib.Path(folder)
        (folder / "case.toml").write_text(CASE)
        (folder / "study.toml").write_text(STUDY)
        call = [program, "study", "study.toml", "--out", "out", "--quiet"]
        subprocess.run(call, cwd=folder, check=True)
        document = json.loads((folder / "out/study.json").read_text())
        with open(folder / "out/results.csv", newline="", encoding="utf-8") as file:
            rows = list(csv.DictReader(file))
    sampling = document["sampling"]
    keys = sampling["factors"]
    group = len(keys) + 2
    check(len(rows) == sampling["base"] * group == BASE * group, "rows")

    text = io.StringIO()
    columns = [[row[path] for path in document["varies"]] for row in rows]
    csv.writer(text, lineterminator="\n").writerows(columns)
    digest = hashlib.sha256(text.getvalue().encode()).hexdigest()
    check(digest == sampling["sha256"], "digest of the keys' columns")

    points = [rows[k : k + group] for k in range(0, len(rows), group)]
    for n, point in enumerate(points):
        for k, path in enumerate(keys):
            column = [row[path] for row in point]
            a, b = column[0], column[-1]
            expected = [b if row in (k + 1, group - 1) else a for row in range(group)]
            check(column == expected and a != b, f"layout of point {n}, {path}")

    compared = 0
    for told in document["told"]["indices"]:
        if told["unavailable"] is not None:
            check(not told["indices"], f"{told['output']} has indices beside a reason")
            continue
        y = np.array([[float(row[told["output"]]) for row in point] for point in points])
        theirs = sobol_indices(
            func={"f_A": y[:, 0][None], "f_B": y[:, -1][None], "f_AB": y[:, 1:-1].T[:, None]},
            n=len(points),
        )
        by_path = {one["path"]: one for one in told["indices"]}
        for k, path in enumerate(keys):
            for order, values in [("first", theirs.first_order), ("total", theirs.total_order)]:
                ours = by_path[path][order]["value"]
                off = abs(ours - values[k])
                check(off < 1e-9, f"{told['output']}, {path}, {order}: {ours} {values[k]}")
                compared += 1
    check(compared >= 4 * 2 * len(keys), f"only {compared} indices compared")


main(sys.argv[1])
print(f"{passed} passed, {failed} failed")
sys.exit(failed > 0)
