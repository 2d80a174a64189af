"""Finds the diameter to bore soft jaws to, their pads made 90 mm wide: ringwright works out what SciPy's differential evolution wants to know.

    python3 bored_diameter.py [RINGWRIGHT] [FOLDER]

Any optimiser can stand in its place: `study ask` hands out first points, `study tell` prints the rows of whatever points it is given.
"""

import json
import pathlib
import subprocess
import sys

import numpy as np
from scipy.optimize import differential_evolution

STUDY = str(pathlib.Path(__file__).parent.parent / "studies" / "diameter.toml")
PATH, LOW, HIGH = "hold.bored[0].bored_diameter", 129.0, 131.0
RINGWRIGHT = sys.argv[1] if len(sys.argv) > 1 else "ringwright"
FOLDER = sys.argv[2] if len(sys.argv) > 2 else "diameter-out"
CASE = ["--hold", "bored", "--set", "hold.bored[0].width=90"]


def study(*words, points=None):
    words = [RINGWRIGHT, "study", *words, *CASE, "--out", FOLDER, "--json", "--quiet"]
    return json.loads(subprocess.run(words, input=points, stdout=subprocess.PIPE, text=True, check=True).stdout)


def roundness(population):
    # jaws are bored to a hundredth; what was asked before costs nothing
    table = "\n".join([PATH, *(f"{x:.2f}" for x in population[0])])
    rows = study("tell", "-", "--study", STUDY, points=table)["rows"]
    # rows that failed, or are not safe by the estimate, are no choice
    good = [r["status"] == "ok" and r["safe"] is not False and (r["slip_safety"] or 1) >= 1 for r in rows]
    return np.array([r["released_roundness_bore_mm"] if g else 1.0 for r, g in zip(rows, good)])


first = [[point[PATH]] for point in study("ask", STUDY, "--count", "8")["points"]]
search = {"init": np.array(first), "vectorized": True, "updating": "deferred", "polish": False, "maxiter": 12, "rng": 1}
best = differential_evolution(roundness, [(LOW, HIGH)], **search)
print(f"Bore the jaws to {best.x[0]:.2f} mm: the bore is then {best.fun:.4f} mm out of round by this estimate.")
print("Grip figures are estimates and no rating; a part that leaves the chuck can kill.")
