"""Reads the table of a study: the best rows in tolerance, and the chance of being in tolerance.

    ringwright study cli/examples/studies/chance.toml      # writes chance-out
    python read_study.py chance-out

Wants pandas. Columns are explained in cli/OUTPUT.md, "The tables of a study".
"""

import json
import sys
from pathlib import Path

import pandas as pd


def main(folder):
    # what the rows are of: title, design, names of the keys that vary, chances
    study = json.loads((folder / "study.json").read_text(encoding="utf-8"))
    assert study["format"] == "ringwright-study-1", study["format"]

    # an empty cell is a figure that is not known: pandas reads it as NaN
    table = pd.read_csv(folder / "results.csv", index_col="row")

    # a case without an answer is a row too, with the reason in its status
    solved = table[table["status"] == "ok"]
    print(f"{study['title']}: {len(table)} rows, {len(solved)} with an answer")
    for reason, rows in table[table["status"] != "ok"].groupby("status"):
        print(f"  {len(rows)} x {reason}")

    # flags are true, false or, where it is not known, empty: compare with True, so that what is not known is not counted
    good = solved[solved["in_tolerance"].eq(True)]

    # tolerance_used is the largest share of any limit that is used up: the best row is the one with the least
    best = good.sort_values("tolerance_used").head(5)
    shown = study["varies"] + ["released_roundness_bore_mm", "tolerance_used", "slip_safety", "safe"]
    print(f"\n{len(good)} in tolerance, the best of them:")
    print(best[shown].to_string(na_rep="not known"))

    # less force makes a rounder ring and a worse grip: below 1 the part slips by the estimate; the guideline for chucks asks for 1.5
    grips = good["slip_safety"]
    print(f"of those in tolerance {(grips < 1).sum()} SLIP by the estimate, {(grips >= 1.5).sum()} have 1.5 or more, "
          f"of {grips.isna().sum()} it is not known")

    # a chance is only told of a sampled design (sobol, latin-hypercube), as rows of a grid are no sample, and of a whole table
    share = study["told"]["in_tolerance"] if "told" in study else {"chance": None}
    if share["chance"]:
        low, high = share["chance"]
        print(f"\nin tolerance: {share['count']} of {share['of']}, chance {low:.0%} to {high:.0%} (confidence 95 percent)")

    # the same rows as Parquet, if they were written so: its metadata says what made them
    parquet = folder / "results.parquet"
    if parquet.exists():
        import pyarrow.parquet as pq

        schema = pq.read_schema(parquet)
        print(f"\n{parquet.name}: {len(schema.names)} columns")
        for key, value in (schema.metadata or {}).items():
            print(f"  {key.decode()}: {value.decode()[:100]}")

    # what has to be known beside every figure of a grip
    print()
    for caution in study["cautions"]:
        print(caution)


if __name__ == "__main__":
    if len(sys.argv) != 2:
        sys.exit(__doc__)
    main(Path(sys.argv[1]))
