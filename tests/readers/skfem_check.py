"""One contact-free case, a ring under N equal pressure patches on its outside, solved with PyPI `scikit-fem`:
plane stress, quadratic geometry, eight-node (serendipity) displacement, the whole ring.

The loads balance, so the ring's three rigid motions are held by nothing. They are fixed by three extra equations
with multipliers: no mean displacement of the bore in x and y, no mean tangential displacement of it. With balanced
loads the multipliers come out zero, so nothing soft or stiff is added to the ring.

    skfem_check.py --outer 60 --bore 57 --young 105000 --poisson 0.34 --thickness 20 --count 3 --half-angle 9.59
                   --force 150 [--against OUT/result.json] [--tolerance 5e-4]

Prints the radial displacement (mm) of the outside and the bore at a patch's middle and midway between patches as one
JSON line. `--against` compares it with the lists of step 1 of a result and prints `N passed, M failed`.

Truth: other program; a finite-element library
"""

import argparse
import json
import logging
import math
import pathlib
import sys

import numpy as np
from scipy.sparse import bmat, csr_matrix
from scipy.sparse.linalg import spsolve
from skfem import Basis, BilinearForm, ElementQuadS2, ElementVector, FacetBasis, LinearForm, MeshQuad, MeshQuad2
from skfem.helpers import ddot, sym_grad, trace


def column_ends(count, half, fine):
    """Angles of column ends over one turn: patch edges and middles, and midway points, are ends; `fine` columns on
    half a patch, columns growing away from a patch's edge on either side, since the load jumps there."""
    sector = math.pi / count
    near = half * (1 - np.linspace(1, 0, fine + 1) ** 2)
    rest = max(fine, int(math.ceil(fine * math.sqrt((sector - half) / half))))
    far = half + (sector - half) * np.linspace(0, 1, rest + 1)[1:] ** 2
    positive = np.concatenate([near, far])
    one = np.concatenate([-positive[:0:-1], positive[:-1]])
    return np.concatenate([one + 2 * sector * k for k in range(count)])


def ring(outer, bore, ends, through):
    """Closed ring of quadrilaterals with sides bent to circles."""
    n = len(ends)
    radii = bore + (outer - bore) * np.linspace(0, 1, through + 1)
    points = np.array([[r * math.cos(t), r * math.sin(t)] for t in ends for r in radii]).T
    node = lambda i, j: (i % n) * (through + 1) + j
    cells = np.array([[node(i, j), node(i, j + 1), node(i + 1, j + 1), node(i + 1, j)]
                      for i in range(n) for j in range(through)]).T
    mesh = MeshQuad2.from_mesh(MeshQuad(points, cells))
    # the middles of straight sides are moved outwards to where the circle (or the middle radius) is
    doflocs = mesh.doflocs.copy()
    size = np.hypot(*doflocs)
    spread = np.array(radii)
    corner = np.arange(points.shape[1])
    middle = np.setdiff1d(np.arange(doflocs.shape[1]), corner)
    for m in middle:
        # a side along a circle lies below it by less than the layer's half thickness only if columns are short
        half_layers = bore + (outer - bore) * np.linspace(0, 1, 2 * through + 1)
        doflocs[:, m] *= half_layers[np.argmin(np.abs(half_layers - size[m]))] / size[m]
    sagging = spread[1] - spread[0]
    gap = np.max(np.diff(np.append(ends, ends[0] + 2 * math.pi)))
    if outer * (1 - math.cos(gap / 2)) > 0.2 * sagging:
        raise ValueError("columns are too wide for the layers: take a larger --fine or a smaller --through")
    return type(mesh)(doflocs, mesh.t)


def solve(a):
    half = math.radians(a.half_angle)
    mesh = ring(a.outer, a.bore, column_ends(a.count, half, a.fine), a.through)
    basis = Basis(mesh, ElementVector(ElementQuadS2()), intorder=6)

    # plane stress: sigma = E / (1 - nu^2) * ((1 - nu) eps + nu tr(eps) I)  (any text on plane elasticity)
    stiff = a.young / (1 - a.poisson**2) * a.thickness

    @BilinearForm
    def energy(u, v, _):
        e, f = sym_grad(u), sym_grad(v)
        return stiff * ((1 - a.poisson) * ddot(e, f) + a.poisson * trace(e) * trace(f))

    def inside_a_patch(x):
        t = np.arctan2(x[1], x[0])
        sector = 2 * math.pi / a.count
        away = np.abs((t + 0.5 * sector) % sector - 0.5 * sector)
        return (np.hypot(x[0], x[1]) > 0.5 * (a.outer + a.bore)) & (away < half)

    rim = mesh.boundary_facets()
    middles = mesh.p[:, mesh.facets[:, rim]].mean(axis=1)
    loaded = rim[inside_a_patch(middles)]
    inner = rim[np.hypot(*middles) < 0.5 * (a.outer + a.bore)]
    per_radian = a.force / (2 * math.sin(half))

    @LinearForm
    def load(v, w):
        r = np.hypot(w.x[0], w.x[1])
        return -per_radian / r * (w.x[0] * v[0] + w.x[1] * v[1]) / r

    patches = FacetBasis(mesh, basis.elem, facets=loaded, intorder=8)
    bore = FacetBasis(mesh, basis.elem, facets=inner, intorder=8)
    rigid = np.array([
        LinearForm(lambda v, w: v[0]).assemble(bore),
        LinearForm(lambda v, w: v[1]).assemble(bore),
        LinearForm(lambda v, w: (-w.x[1] * v[0] + w.x[0] * v[1]) / np.hypot(w.x[0], w.x[1])).assemble(bore),
    ])
    k, f = energy.assemble(basis), load.assemble(patches)
    # scaled so that the bordered matrix is no worse conditioned than the stiffness
    border = csr_matrix(rigid * (a.young * a.thickness / np.abs(rigid).max()))
    x = spsolve(bmat([[k, border.T], [border, None]], format="csc"), np.append(f, np.zeros(3)))
    u, multipliers = x[:-3], x[-3:] * abs(border).max()
    if np.abs(multipliers).max() > 1e-6 * a.force:
        raise ValueError(f"the loads do not balance: {multipliers}")

    def radial(radius, angle):
        place = np.array([radius * math.cos(angle), radius * math.sin(angle)])
        nodes = basis.nodal_dofs
        corner = np.argmin(np.hypot(mesh.p[0, :nodes.shape[1]] - place[0], mesh.p[1, :nodes.shape[1]] - place[1]))
        assert np.hypot(*(mesh.p[:, corner] - place)) < 1e-9 * radius, "no node there"
        ux, uy = u[nodes[:, corner]]
        return float(ux * math.cos(angle) + uy * math.sin(angle))

    midway = math.pi / a.count
    return {
        "outer_pad": radial(a.outer, 0.0),
        "outer_midway": radial(a.outer, midway),
        "bore_pad": radial(a.bore, 0.0),
        "bore_midway": radial(a.bore, midway),
        "unknowns": int(k.shape[0]),
        "load_sum": float(np.abs(f).sum()),
    }


def compare(answer, a):
    result = json.loads(a.against.read_text(encoding="utf-8"))
    step = result["steps"][0]
    passed = failed = 0
    for surface in ("outer", "bore"):
        listed = step["held"][surface]["displacement"]
        largest = max(abs(answer[f"{surface}_pad"]), abs(answer[f"{surface}_midway"]))
        for place, degrees in (("pad", 0.0), ("midway", 180.0 / a.count)):
            theirs, mine = np.interp(degrees, listed["angles_deg"], listed["radial"]), answer[f"{surface}_{place}"]
            off = abs(theirs - mine) / largest
            good = off <= a.tolerance
            passed, failed = passed + good, failed + (not good)
            print(f"{'ok    ' if good else 'FAILED'} {surface} {place}: {theirs:.9f} against {mine:.9f} mm ({off:.1e})")
    print(f"{passed} passed, {failed} failed")
    return 1 if failed else 0


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    for name, words in [("outer", "outside radius, mm"), ("bore", "bore radius, mm"), ("young", "MPa"),
                        ("poisson", "Poisson's ratio"), ("thickness", "along the axis, mm"),
                        ("half-angle", "half of a patch, degrees"), ("force", "resultant of one patch, N")]:
        parser.add_argument(f"--{name}", type=float, required=True, help=words)
    parser.add_argument("--count", type=int, required=True, help="number of patches, from angle 0")
    parser.add_argument("--fine", type=int, default=20, help="columns on half a patch")
    parser.add_argument("--through", type=int, default=4, help="layers")
    parser.add_argument("--against", type=pathlib.Path, help="a result.json")
    parser.add_argument("--tolerance", type=float, default=5e-4, help="relative to the largest displacement")
    a = parser.parse_args()
    logging.getLogger("skfem").setLevel(logging.ERROR)
    answer = solve(a)
    print(json.dumps(answer))
    return compare(answer, a) if a.against else 0


if __name__ == "__main__":
    sys.exit(main())
