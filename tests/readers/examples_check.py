"""Runs the Python examples on a study and a ring of the examples: the best row that pandas finds is the least of the table, the picture of the released ring is
not blank and says its factor, and the points of the file have the three lobes of three jaws.

    examples_check.py RINGWRIGHT EXAMPLES

Prints what failed and `N passed, M failed`; exit 1 if any failed.

Truth: other program, analytical; a CSV reader, numpy's FFT, symmetry of three jaws
"""

import json
import pathlib
import re
import sys
import tempfile

import numpy as np
import pyvista as pv

from support import Tally, call, rows

# lobes that are looked at
LOBES = range(2, 13)


def study(tally, ringwright, examples, work):
    out = work / "chance-out"
    call([ringwright, "study", examples / "studies/chance.toml", "--out", out, "--quiet"])
    said = call([sys.executable, examples / "python/read_study.py", out])
    table = rows(out / "results.csv")
    good = [r for r in table if r["in_tolerance"] == "true"]
    tally.check(0 < len(good) < len(table), f"{len(good)} rows of {len(table)} in tolerance: nothing to choose from")
    least = min(good, key=lambda r: float(r["tolerance_used"]))
    # the line under the one that names the index
    lines = said.splitlines()
    first = lines[next(k for k, line in enumerate(lines) if line.split() == ["row"]) + 1].split()
    tally.check(first[0] == least["row"], f"the best row is {first[0]} instead of {least['row']}")
    force = next(float(cell) for cell in first[2:])
    tally.check(abs(force - float(least["hold.bored[0].force"])) < 1e-5, f"its force is {force}")
    tally.check(f"{len(good)} in tolerance" in said, "the count of those in tolerance")
    told = json.loads((out / "study.json").read_text())["told"]["in_tolerance"]
    tally.check(told["count"] == len(good), f"study.json counts {told['count']} in tolerance, the table {len(good)}")
    chance = re.search(r"chance (\d+)% to (\d+)%", said)
    share = 100 * len(good) / len(table)
    tally.check(chance and int(chance[1]) < share < int(chance[2]), f"the chance does not hold the share {share}: {said}")
    tally.check("can kill" in said, "no caution beside figures of a grip")


def ring(tally, ringwright, examples, work):
    out, png = work / "ring-out", work / "ring.png"
    call([ringwright, "run", examples / "ring.toml", "--out", out, "--quiet"])
    said = call([sys.executable, examples / "python/show_ring.py", out, png])
    pixels = np.asarray(pv.read(png).active_scalars)[:, :3].astype(float)
    white = np.mean(np.all(pixels > 250, axis=1))
    tally.check(0.2 < white < 0.95, f"{white:.0%} of the picture is white")
    tally.check(len(np.unique(pixels.round(-1), axis=0)) > 20, "the picture has hardly any colours")
    tally.check(re.search(r"drawn \d+ times as large", said), f"no factor is told: {said}")

    mesh = pv.read(out / "step-1-released.vtu")
    radius = np.hypot(mesh.points[:, 0], mesh.points[:, 1])
    bore = mesh["boundary_bore"] == 1 if "boundary_bore" in mesh.point_data else radius < radius.min() + 1e-6
    at = mesh.points[bore]
    angle, r = np.arctan2(at[:, 1], at[:, 0]), np.hypot(at[:, 0], at[:, 1])
    # points are not spaced evenly: on even angles first, then a transform
    order = np.argsort(angle)
    even = np.linspace(-np.pi, np.pi, 3600, endpoint=False)
    amplitudes = 2 * np.abs(np.fft.rfft(np.interp(even, angle[order], r[order], period=2 * np.pi))) / len(even)
    most = max(LOBES, key=lambda n: amplitudes[n])
    tally.check(most == 3, f"{most} lobes are the largest")
    waves = r - r.mean()
    crossings = np.count_nonzero(np.diff(np.sign(waves[order])) != 0) + (np.sign(waves[order[0]]) != np.sign(waves[order[-1]]))
    tally.check(crossings == 6, f"the bore crosses its mean circle {crossings} times; three lobes cross it six times")
    result = json.loads((out / "result.json").read_text())
    told = next(h["amplitude"] for h in result["steps"][0]["released"]["bore"]["harmonics"] if h["count"] == 3)
    # straight between points: short of the arc by h^2 / 8 of the curvature, 1e-5 of the amplitude at 400 points and three lobes
    near = told * (3 * 2 * np.pi / bore.sum()) ** 2
    tally.check(abs(amplitudes[3] - told) < near + 1e-6, f"three lobes of {amplitudes[3]} instead of {told} within {near}")


def main():
    ringwright, examples = pathlib.Path(sys.argv[1]).resolve(), pathlib.Path(sys.argv[2]).resolve()
    tally = Tally()
    with tempfile.TemporaryDirectory() as folder:
        study(tally, ringwright, examples, pathlib.Path(folder))
        ring(tally, ringwright, examples, pathlib.Path(folder))
    return tally.end()


if __name__ == "__main__":
    sys.exit(main())
