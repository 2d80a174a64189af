"""Holds the typed table of a study against its CSV file, read by pandas and pyarrow (PyPI), and lets SciPy's optimiser (PyPI) drive `study ask` and
`study tell` by the shipped example, whose choice a table of all diameters confirms.

    study_check.py RINGWRIGHT EXAMPLES FOLDER

EXAMPLES is the folder of the shipped examples; FOLDER is made anew. Prints what failed and `N passed, M failed`; exit 1 if any failed.

Truth: other program; general-purpose readers of the formats and an optimiser
"""

import csv
import json
import math
import pathlib
import re
import shutil
import subprocess
import sys

import pandas as pd
import pyarrow.parquet as pq

ringwright, examples, work = sys.argv[1], pathlib.Path(sys.argv[2]), pathlib.Path(sys.argv[3])
passed, failed = 0, 0


def check(what, good):
    global passed, failed
    if good:
        passed += 1
    else:
        failed += 1
        print(f"FAILED: {what}")


def call(*words, **more):
    return subprocess.run([ringwright, *map(str, words)], stdout=subprocess.PIPE, text=True, check=True, **more).stdout


def study(name, design, varies, *words):
    """Writes a study of the shipped ring with three holds and works it out; its folder."""
    file = work / f"{name}.toml"
    text = f'title = "{name}"\n{design}\n[base]\ncase = "three-ways.toml"\n'
    for path, values in varies.items():
        text += f'[[vary]]\npath = "{path}"\n{values}\n'
    file.write_text(text, encoding="utf-8")
    call("study", file, "--out", work / name, "--quiet", *words)
    return work / name


def columns(name):
    """What a column holds, from its name."""
    if name == "row":
        return "int64"
    if name in ("in_tolerance", "safe"):
        return "bool"
    if name in ("status", "case", "contacts", "cautions"):
        return "string"
    return "double"


def same(cell, value):
    """A cell of the CSV file and a value of the other."""
    if value is None:
        return cell == ""
    if isinstance(value, bool):
        return cell == ("true" if value else "false")
    if isinstance(value, (int, float)):
        # both are read from the same digits, so there is nothing between them
        return math.isfinite(value) and cell != "" and float(cell) == value
    return cell == value


def typed(folder, varied, rows):
    """Every value of the typed table, its types and the document in it."""
    with open(folder / "results.csv", newline="", encoding="utf-8") as file:
        header, *cells = list(csv.reader(file))
    table = pq.read_table(folder / "results.parquet")
    name = folder.name
    check(f"{name}: rows", len(cells) == table.num_rows == rows)
    check(f"{name}: names", table.column_names == header)
    for k, column in enumerate(header):
        wanted = varied.get(column, columns(column))
        check(f"{name}: type of {column}: {table.schema.field(column).type}", str(table.schema.field(column).type) == wanted)
        values = table.column(k).to_pylist()
        wrong = [r for r, value in enumerate(values) if not same(cells[r][k], value)]
        check(f"{name}: {column} in rows {wrong[:5]}", not wrong)
    document = json.loads(table.schema.metadata[b"ringwright-study-1"])
    check(f"{name}: document", document == json.loads((folder / "study.json").read_text(encoding="utf-8")))
    check(f"{name}: plan in it", document["format"] == "ringwright-study-1" and document["told"]["rows"] == rows)
    # two programs for either file, asked as a user would ask them
    ours, theirs = pd.read_parquet(folder / "results.parquet"), pd.read_csv(folder / "results.csv")
    check(f"{name}: shape in pandas", ours.shape == theirs.shape)
    numbers = [c for c in header if varied.get(c, columns(c)) == "double"]
    gap = (ours[numbers].astype(float) - theirs[numbers].astype(float)).abs().max().max()
    empty = (ours[numbers].isna() == theirs[numbers].isna()).all().all()
    # pandas reads decimal numbers to within their last bits
    check(f"{name}: numbers in pandas, off by {gap}", gap < 1e-9 and empty)
    return table


shutil.rmtree(work, ignore_errors=True)
work.mkdir(parents=True)
case = (examples / "three-ways.toml").read_text(encoding="utf-8")
(work / "three-ways.toml").write_text(case, encoding="utf-8")

# every type of column; rows that fail, with commas in their reasons; a title in letters that are not of ASCII
varies = {
    "step[0].hold": 'values = ["bored", "nobody, \\"or\\" so"]',
    "hold.bored[0].bored_diameter": 'values = ["130 mm", 130.2]',
    "hold.bored[0].force": "values = [0, 800]",
    "hold.bored[0].axial_stop": "values = [true, false]",
}
kinds = {
    "step[0].hold": "string",
    "hold.bored[0].bored_diameter": "string",
    "hold.bored[0].force": "double",
    "hold.bored[0].axial_stop": "bool",
}
full = study("Größen", 'design = "full"', varies)
table = typed(full, kinds, 16)
status = table.column("status").to_pylist()
check("rows that failed", sum(s.startswith("failed: ") for s in status) == 12 and status.count("ok") == 4)
check("quotes and commas", any("\"or\"" in s and "," in s for s in status))

# a sample in shares, put together
sampled = {"hold.flat[0].force": "mean = 900\nstandard_deviation = 60", "part.length": 'from = "24 mm"\nto = "26 mm"'}
for k in (1, 2, 3):
    folder = study("sample", 'design = "sobol"\ncount = 16\nseed = 5', sampled, "--shard", f"{k}/3")
    check("no typed table of a share", not (folder / "results.parquet").exists())
call("study", "merge", folder, "--quiet")
typed(folder, {"hold.flat[0].force": "double", "part.length": "string"}, 16)

# an optimiser by plain files, and all that it could have found
script = examples / "python" / "bored_diameter.py"
found = subprocess.run([sys.executable, script, ringwright, work / "search"], stdout=subprocess.PIPE, text=True, check=True).stdout
diameter, roundness = map(float, re.search(r"to ([0-9.]+) mm: the bore is then ([0-9.]+) mm", found).groups())
told = pd.read_csv(work / "search" / "told.csv")
check("no case twice", told["case"].is_unique)
asked = pd.read_csv(work / "search" / "asked-1.csv", comment="#")
check("points asked for", len(asked) == 8 and asked.columns.tolist() == ["hold.bored[0].bored_diameter"])
grid = {
    "step[0].hold": 'values = ["bored"]',
    "hold.bored[0].width": "values = [90]",
    "hold.bored[0].bored_diameter": "from = 129.9\nto = 130.1\ncount = 21",
}
grid = pd.read_csv(study("grid", 'design = "full"', grid) / "results.csv")
best = grid.loc[grid["released_roundness_bore_mm"].idxmin()]
check(f"{diameter} is within a hundredth of the best of all, {best['hold.bored[0].bored_diameter']}", abs(diameter - best["hold.bored[0].bored_diameter"]) < 0.0101)
check(f"{roundness} is near {best['released_roundness_bore_mm']}", roundness < best["released_roundness_bore_mm"] + 1e-3)
own = told.loc[told["hold.bored[0].bored_diameter"] == diameter, "released_roundness_bore_mm"].iloc[0]
same_row = grid.loc[(grid["hold.bored[0].bored_diameter"] - diameter).abs() < 1e-9, "released_roundness_bore_mm"].iloc[0]
check("a point that was told is the row of a table", own == same_row)

print(f"{passed} passed, {failed} failed")
sys.exit(1 if failed else 0)
