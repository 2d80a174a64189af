"""Reads every .vtu and .pvd of an output folder with two independent readers (PyPI `vtk` and `meshio`), wants
identical numbers from both, and compares them with result.json. Then integrates the strain energy of each state
from the file alone: eight-node quadrilaterals (serendipity shape functions, e.g. Zienkiewicz and Taylor, "The
Finite Element Method", vol. 1, from memory), 3 x 3 Gauss points, plane stress.

    check_files.py DIR [--young 105000] [--poisson 0.34] [--thickness 20] [--json FILE]

Modulus, Poisson's ratio and thickness are result.json's unless given. Prints what failed, the energies (N mm) as one JSON line, and `N passed, M failed`; exit 1 if any failed. With
residual stress the integral is the energy of the displacement, without the stress that was there before.

Truth: other program; readers of two other projects, and the energy integrated from the file alone
"""

import argparse
import json
import math
import pathlib
import re
import sys
import xml.etree.ElementTree as ElementTree

import meshio
import numpy as np

# the reader's own modules: `import vtk` would load the rendering ones too, which want a display's libraries
from vtkmodules.util.numpy_support import vtk_to_numpy
from vtkmodules.vtkIOXML import vtkXMLUnstructuredGridReader

ARRAYS = {
    "displacement_mm": 3,
    "deviation_mm": 3,
    "stress_mpa": 6,
    "von_mises_mpa": 1,
    "boundary_outer": 1,
    "boundary_bore": 1,
}
NAME = re.compile(r"step-(\d+)-(held|cut|released)\.vtu")


class Checks:
    def __init__(self):
        self.passed = 0
        self.failed = 0

    def that(self, truth, words):
        if truth:
            self.passed += 1
        else:
            self.failed += 1
            print(f"FAILED: {words}")


def read_vtk(path):
    """Points, cells (n x 8), cell types, point arrays."""
    errors = []
    reader = vtkXMLUnstructuredGridReader()
    reader.AddObserver("ErrorEvent", lambda *_: errors.append("error"))
    reader.SetFileName(str(path))
    reader.Update()
    if errors:
        raise ValueError(f"vtk reports an error in {path}")
    grid = reader.GetOutput()
    data = grid.GetPointData()
    arrays = {data.GetArrayName(i): vtk_to_numpy(data.GetArray(i)) for i in range(data.GetNumberOfArrays())}
    cells = vtk_to_numpy(grid.GetCells().GetConnectivityArray()).reshape(-1, 8)
    types = np.array([grid.GetCellType(i) for i in range(grid.GetNumberOfCells())])
    return vtk_to_numpy(grid.GetPoints().GetData()), cells, types, arrays


def shape_functions(x, y):
    """Derivatives by x and y of the eight shape functions at a point of the reference square: corners
    counter-clockwise from (-1, -1), then the middles of the sides in the same order (VTK type 23)."""
    corners = [(-1, -1), (1, -1), (1, 1), (-1, 1)]
    dx, dy = [], []
    for a, b in corners:
        # N = (1 + a x)(1 + b y)(a x + b y - 1) / 4
        dx.append(a * (1 + b * y) * (2 * a * x + b * y) / 4)
        dy.append(b * (1 + a * x) * (2 * b * y + a * x) / 4)
    for a, b in [(0, -1), (1, 0), (0, 1), (-1, 0)]:
        if a == 0:  # N = (1 - x^2)(1 + b y) / 2
            dx.append(-x * (1 + b * y))
            dy.append(b * (1 - x * x) / 2)
        else:  # N = (1 + a x)(1 - y^2) / 2
            dx.append(a * (1 - y * y) / 2)
            dy.append(-y * (1 + a * x))
    return np.array(dx), np.array(dy)


def integrate(points, cells, u, young, poisson, thickness):
    """Strain energy (N mm), area (mm2), smallest Jacobian determinant at the Gauss points and at the nodes."""
    c = young / (1 - poisson**2)
    gauss = [(-math.sqrt(0.6), 5 / 9), (0.0, 8 / 9), (math.sqrt(0.6), 5 / 9)]
    xy, v = points[cells][:, :, :2], u[cells][:, :, :2]

    def at(x, y):
        d = np.array(shape_functions(x, y))
        jac = np.einsum("an,enk->eak", d, xy)
        return d, jac, np.linalg.det(jac)

    energy, area, least = 0.0, 0.0, math.inf
    for x, wx in gauss:
        for y, wy in gauss:
            d, jac, det = at(x, y)
            least = min(least, det.min())
            inverse = np.linalg.solve(jac, np.broadcast_to(d, (len(cells), 2, 8)))
            grad = np.einsum("ekn,enj->ekj", inverse, v)
            exx, eyy, gxy = grad[:, 0, 0], grad[:, 1, 1], grad[:, 0, 1] + grad[:, 1, 0]
            density = 0.5 * c * (exx**2 + eyy**2 + 2 * poisson * exx * eyy + 0.5 * (1 - poisson) * gxy**2)
            energy += wx * wy * float(np.dot(density, det)) * thickness
            area += wx * wy * float(det.sum())
    for x, y in [(-1, -1), (1, -1), (1, 1), (-1, 1), (0, -1), (1, 0), (0, 1), (-1, 0)]:
        least = min(least, at(x, y)[2].min())
    return energy, area, least


def boundary(points, cells):
    """Nodes of the outside and of the bore: sides that belong to one cell alone, told apart by their radius."""
    sides = {}
    for a, b, m in [(0, 1, 4), (1, 2, 5), (2, 3, 6), (3, 0, 7)]:
        for cell in cells:
            key = tuple(sorted((cell[a], cell[b])))
            sides.setdefault(key, []).append((cell[a], cell[b], cell[m]))
    free = [s[0] for s in sides.values() if len(s) == 1]
    radius = np.hypot(points[:, 0], points[:, 1])
    middle = 0.5 * (radius.min() + radius.max())
    outer = sorted({n for s in free for n in s if radius[n] > middle})
    bore = sorted({n for s in free for n in s if radius[n] <= middle})
    return np.array(outer), np.array(bore)


def radial(points, vectors, nodes):
    r = np.hypot(points[nodes, 0], points[nodes, 1])
    return (points[nodes, 0] * vectors[nodes, 0] + points[nodes, 1] * vectors[nodes, 1]) / r


def check_state(path, step, stage, arguments, checks):
    name = path.name
    points, cells, types, arrays = read_vtk(path)
    other = meshio.read(path)
    checks.that(bool((types == 23).all()), f"{name}: a cell is not of VTK type 23")
    checks.that([b.type for b in other.cells] == ["quad8"], f"{name}: meshio does not see one block of quad8")
    checks.that(np.array_equal(points, other.points), f"{name}: the readers disagree on the points")
    checks.that(np.array_equal(cells, other.cells[0].data), f"{name}: the readers disagree on the cells")
    checks.that(sorted(arrays) == sorted(ARRAYS), f"{name}: arrays {sorted(arrays)}")
    for key, parts in ARRAYS.items():
        mine, theirs = arrays.get(key), other.point_data.get(key)
        same = mine is not None and theirs is not None and np.array_equal(mine.ravel(), np.asarray(theirs).ravel())
        checks.that(same, f"{name}: the readers disagree on {key}")
        checks.that(mine is not None and mine.size == parts * len(points), f"{name}: {key} has a wrong size")
        checks.that(mine is not None and bool(np.isfinite(mine).all()), f"{name}: {key} is not finite")
    radius = np.hypot(points[:, 0], points[:, 1])
    for key, extreme in [("boundary_outer", radius.max()), ("boundary_bore", radius.min())]:
        named = radius[arrays[key] == 1]
        wall = radius.max() - radius.min()
        checks.that(named.size > 0 and bool((abs(named - extreme) < 0.2 * wall).all()), f"{name}: {key} is elsewhere")
    u, s = arrays["displacement_mm"], arrays["stress_mpa"]
    checks.that(bool((points[:, 2] == 0).all() and (u[:, 2] == 0).all()), f"{name}: something leaves the plane")
    mises = np.sqrt(s[:, 0] ** 2 - s[:, 0] * s[:, 1] + s[:, 1] ** 2 + 3 * s[:, 3] ** 2)
    checks.that(np.allclose(mises, arrays["von_mises_mpa"], rtol=1e-12, atol=1e-12), f"{name}: von Mises stress")
    checks.that(bool((s[:, [2, 4, 5]] == 0).all()), f"{name}: stress out of the plane")

    mesh = step.get("mesh", {})
    # jaws that turn: held at rest is a solution of its own, on a mesh of its own
    if mesh and not (stage == "held" and "held_at_speed" in step):
        checks.that(len(cells) == mesh["around"] * mesh["through"], f"{name}: the number of cells is not result.json's")
    energy, area, least = integrate(points, cells, u, arguments.young, arguments.poisson, arguments.thickness)
    checks.that(least > 0, f"{name}: a Jacobian determinant is not positive ({least})")
    checks.that(math.isfinite(energy) and energy >= 0, f"{name}: energy {energy}")

    outer, bore = boundary(points, cells)
    used = np.unique(cells)
    checks.that(len(used) == len(points), f"{name}: a point belongs to no cell")
    for surface, nodes in (("outer", outer), ("bore", bore)):
        deviation = radial(points, arrays["deviation_mm"], nodes)
        spread = deviation.max() - deviation.min()
        if stage != "cut":
            shape = step[stage][surface]
            expected = shape["roundness_least_squares"]
            slack = 0.01 * expected + 1e-6 * shape["mean_radius"] * 1e-2
            checks.that(abs(spread - expected) <= slack,
                        f"{name}: deviation_mm spans {spread} at the {surface}, roundness is {expected}")
            mean = (np.hypot(points[nodes, 0], points[nodes, 1]) + radial(points, u, nodes)).mean()
            checks.that(abs(mean - shape["mean_radius"]) <= 0.5 * expected + 1e-6 * mean,
                        f"{name}: mean radius of the {surface} {mean}, result.json has {shape['mean_radius']}")
    if stage == "held":
        check_displacement(name, points, u, {"outer": outer, "bore": bore}, step, arguments.residual, checks)
    return {"file": name, "energy": energy, "area": area, "points": len(points), "cells": len(cells)}


def check_displacement(name, points, u, nodes_of, step, residual, checks):
    """The held radial displacement at the boundary against the lists of result.json. The lists count from the stock
    shape and the file from the stress-free one: they are the same where the stock has no residual stress and no cut
    lies behind (first step)."""
    for surface, nodes in nodes_of.items():
        listed = step["held"][surface]["displacement"]
        angles, values = np.array(listed["angles_deg"]), np.array(listed["radial"])
        checks.that(len(angles) == 360 and len(values) == 360, f"{name}: the {surface} list is not 360 long")
        if name != "step-1-held.vtu" or residual:
            continue
        mine = radial(points, u, nodes)
        theta = np.degrees(np.arctan2(points[nodes, 1], points[nodes, 0])) % 360
        spread = values.max() - values.min()
        # between two listed angles the curve bends; 1 percent of the range covers one degree of 50 lobes' worth
        linear = np.interp(theta, np.append(angles, 360.0), np.append(values, values[0]))
        worst = np.abs(linear - mine).max()
        checks.that(worst <= 0.01 * spread + 1e-12, f"{name}: {surface} displacement off by {worst} of {spread}")
        for end, pick in (("least", np.min), ("largest", np.max)):
            difference = abs(pick(mine) - pick(values))
            checks.that(difference <= 0.005 * spread + 1e-12,
                        f"{name}: {end} {surface} displacement differs by {difference} from result.json's")


def check_collection(folder, checks):
    path = folder / "stages.pvd"
    present = sorted(p.name for p in folder.glob("step-*.vtu"))
    if not path.exists():
        checks.that(not present, "states are there, but no stages.pvd")
        return
    root = ElementTree.parse(path).getroot()
    sets = root.findall("./Collection/DataSet")
    named = [d.get("file") for d in sets]
    checks.that(root.get("type") == "Collection", "stages.pvd is not a collection")
    checks.that(sorted(named) == present, f"stages.pvd names {named}, the folder has {present}")
    checks.that([float(d.get("timestep")) for d in sets] == list(range(len(sets))), "pseudo-time is not the running index")
    order = {"held": 0, "cut": 1, "released": 2}
    keys = [(int(m.group(1)), order[m.group(2)]) for m in map(NAME.fullmatch, named) if m]
    checks.that(keys == sorted(keys) and len(keys) == len(named), "stages.pvd is not in order")


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=pathlib.Path)
    parser.add_argument("--young", type=float, help="MPa")
    parser.add_argument("--poisson", type=float)
    parser.add_argument("--thickness", type=float, help="mm, along the axis")
    parser.add_argument("--json", type=pathlib.Path, help="also write the energies here")
    arguments = parser.parse_args()
    checks = Checks()
    result = json.loads((arguments.folder / "result.json").read_text(encoding="utf-8"))
    part = result["part"]
    if arguments.young is None:
        arguments.young = part["material"]["young_modulus"]
    if arguments.poisson is None:
        arguments.poisson = part["material"]["poisson_ratio"]
    if arguments.thickness is None:
        arguments.thickness = part["length"]
    arguments.residual = part["residual_hoop_stress"] is not None
    checks.that(result["format"] == "ringwright-result-1", "the format's name")
    check_collection(arguments.folder, checks)
    energies = []
    paths = sorted(arguments.folder.glob("step-*.vtu"))
    checks.that(bool(paths), "no .vtu in the folder")
    for path in paths:
        match = NAME.fullmatch(path.name)
        checks.that(match is not None, f"{path.name}: not a name of the program")
        if match:
            step = result["steps"][int(match.group(1)) - 1]
            energies.append(check_state(path, step, match.group(2), arguments, checks))
    for step, energy in ((result["steps"][int(NAME.fullmatch(e["file"]).group(1)) - 1], e) for e in energies):
        # with residual stress the two are different things, see the top
        if energy["file"].endswith("-held.vtu") and not arguments.residual:
            stated = step["held"]["energy"]
            checks.that(abs(energy["energy"] - stated) <= 1e-9 * abs(stated) + 1e-12,
                        f"{energy['file']}: energy {energy['energy']} in the file, {stated} stated")
    line = json.dumps({"energies": energies})
    print(line)
    if arguments.json:
        arguments.json.write_text(line + "\n", encoding="utf-8")
    print(f"{checks.passed} passed, {checks.failed} failed")
    return 1 if checks.failed else 0


if __name__ == "__main__":
    sys.exit(main())
