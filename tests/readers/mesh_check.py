"""Reads the meshes of `ringwright mesh` in the MSH format with PyPI `meshio`: named groups, boundaries that lie on the circles of the case, the area of
the wall by integration over the elements (eight-node quadrilaterals, 3 x 3 Gauss points; shape functions from memory), and the same nodes
and elements as the VTK file of the same mesh.

    mesh_check.py RINGWRIGHT FOLDER_OF_EXAMPLES

Truth: other program; analytical, the area between two circles
"""

import math
import pathlib
import subprocess
import sys
import tempfile

import meshio
import numpy as np

passed = failed = 0


def that(truth, words):
    global passed, failed
    passed, failed = passed + bool(truth), failed + (not truth)
    if not truth:
        print(f"FAILED: {words}")


def area(points, cells):
    """Integral of one over eight-node quadrilaterals."""
    root = math.sqrt(0.6)
    rule = [(-root, 5 / 9), (0.0, 8 / 9), (root, 5 / 9)]
    corner = [(-1, -1), (1, -1), (1, 1), (-1, 1)]
    total = 0.0
    for x, wx in rule:
        for y, wy in rule:
            dx, dy = [], []
            for a, b in corner:
                dx.append(0.25 * a * (1 + b * y) * (2 * a * x + b * y))
                dy.append(0.25 * b * (1 + a * x) * (a * x + 2 * b * y))
            for a, b in [(0, -1), (1, 0), (0, 1), (-1, 0)]:
                if a == 0:
                    dx.append(-x * (1 + b * y))
                    dy.append(0.5 * b * (1 - x * x))
                else:
                    dx.append(0.5 * a * (1 - y * y))
                    dy.append(-y * (1 + a * x))
            p = points[cells][:, :, :2]
            jx = np.einsum("k,nkc->nc", np.array(dx), p)
            jy = np.einsum("k,nkc->nc", np.array(dy), p)
            total += wx * wy * np.sum(jx[:, 0] * jy[:, 1] - jx[:, 1] * jy[:, 0])
    return total


def group(mesh, name):
    """Nodes of the cells of a physical group, cell by cell."""
    number = mesh.field_data[name][0]
    found = []
    for block, numbers in zip(mesh.cells, mesh.cell_data["gmsh:physical"]):
        found.extend(block.data[numbers == number])
    return np.array(found)


def check(ringwright, case, folder, radii):
    files = [folder / "mesh.msh", folder / "mesh.vtu"]
    for file in files:
        subprocess.run([ringwright, "mesh", case, "--out", file, "--quiet"], check=True)
    msh, vtu = (meshio.read(file) for file in files)
    name = pathlib.Path(case).name
    that(set(msh.field_data) == {"outer", "bore", "part"}, f"{name}: groups {msh.field_data}")
    part = group(msh, "part")
    that(np.array_equal(msh.points[:, :2], vtu.points[:, :2]), f"{name}: nodes as in the VTK file")
    that(np.array_equal(part, vtu.cells[0].data), f"{name}: elements as in the VTK file")
    for surface in ("outer", "bore"):
        lines = group(msh, surface)
        named = set(np.flatnonzero(vtu.point_data[f"boundary_{surface}"]))
        that(set(lines.flat) == named, f"{name}: the {surface}'s nodes are those of the VTK file")
        # every end of a line is the end of two: a closed curve, of a tube's plane all but the last
        _, times = np.unique(lines[:, :2], return_counts=True)
        ends = np.count_nonzero(times == 1)
        that(ends == (0 if radii else 2) and times.max() == 2, f"{name}: {surface}, {ends} ends")
        if radii:
            r = np.hypot(*msh.points[lines.flat, :2].T)
            off = np.abs(r - radii[surface]).max()
            that(off < 1e-9, f"{name}: {surface} off its circle by {off}")
    if radii:
        exact = math.pi * (radii["outer"] ** 2 - radii["bore"] ** 2)
        share = area(msh.points, part) / exact - 1
        # sides are parabolas through points of the circle
        that(abs(share) < 1e-6, f"{name}: area off by {share}")


ringwright, examples = sys.argv[1:]
with tempfile.TemporaryDirectory() as work:
    work = pathlib.Path(work)
    check(ringwright, f"{examples}/pads.toml", work, {"outer": 65.0, "bore": 58.5})
    check(ringwright, f"{examples}/sleeve.toml", work, None)
print(f"{passed} passed, {failed} failed")
sys.exit(1 if failed else 0)
