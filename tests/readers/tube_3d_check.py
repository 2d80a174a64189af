"""A tube under equal pressure patches on part of its outside, held, or bored while held and released, in three dimensions with PyPI `scikit-fem`:
27-node hexahedra in Cartesian coordinates, half of one patch's sector between its two planes of symmetry.

A cut is solved without any approximation of a thin skin: the stress-free bore `R(theta, z)` is a surface of the mesh, moved until the bore of the held body
lies on the tool's circle: `R <- -u_r + sqrt(Rc^2 - u_t^2)`.

    tube_3d_check.py RINGWRIGHT CASE.toml... [--heavy]

Runs each case and compares, at each of its stations, where the outside has gone under a patch and midway and how far it is out of round, and with a cut the
released bore's out-of-roundness and its lobes of one per patch. Allowed is what the program states of each figure and what two meshes of this one differ by,
undivided. `--heavy` takes finer meshes (up to 97,000 unknowns and 3 GB). Prints `N passed, M failed`; exit 1 if any failed.

Truth: other program; a finite-element library, in three dimensions
"""

import argparse
import json
import logging
import math
import pathlib
import subprocess
import sys
import tempfile
import time
import tomllib

import numpy as np
from scipy.interpolate import RegularGridInterpolator
from scipy.sparse import bmat, csr_matrix
from scipy.sparse.linalg import splu
from skfem import Basis, BilinearForm, ElementHex2, ElementVector, FacetBasis, LinearForm, MeshHex, MeshHex2

# elements around and along, in units of `Solid.divide`; and through the wall
SHORT = [(2, 1, 2), (3, 2, 2)]
HEAVY = [(3, 3, 2), (5, 5, 2)]
# change of the stress-free bore at which it has settled, mm, of a movement of some hundredths
SETTLED = 1e-6


def divided(start, end, count, towards=None):
    """Element ends, shorter towards an end where the load jumps."""
    t = np.linspace(0, 1, count + 1)
    if towards == "start":
        t = t**1.7
    elif towards == "end":
        t = 1 - (1 - t) ** 1.7
    return start + (end - start) * t


class Solid:
    """Half a sector of a tube. Unknowns are radial, tangential and axial, node by node; a node stands at `(through, angle, z)`, through 0 on the bore and 1 on
    the outside."""

    def __init__(self, case, around, along, through):
        part, self.patches = case["part"], case["hold"]["patches"][0]
        self.outer, self.bore, self.length = part["outer_diameter"] / 2, part["bore_diameter"] / 2, part["length"]
        self.material = part["material"]
        self.half = math.radians(self.patches["half_angle"])
        self.grip = self.patches["grip_length"]
        self.sector = math.pi / self.patches["count"]
        self.columns = np.concatenate([divided(0, self.half, 2 * around, "end"),
                                       divided(self.half, self.sector, 5 * around, "start")[1:]])
        marks = sorted({0.0, self.grip, self.length, *case["tube"]["stations"]})
        rows = [divided(a, b, max(along, round((2 if a < self.grip else 1.25) * along * (b - a) / 10)))
                for a, b in zip(marks, marks[1:])]
        rows = np.concatenate([[0.0], *[r[1:] for r in rows]])
        self.box = MeshHex2.from_mesh(MeshHex.init_tensor(np.linspace(0, 1, through + 1), self.columns, rows))
        self.nodes = Basis(self.box, ElementHex2(), intorder=1).doflocs
        halved = lambda ends: np.sort(np.concatenate([ends, (ends[1:] + ends[:-1]) / 2]))
        self.angles, self.heights = halved(self.columns), halved(rows)

    def places(self, at):
        """Numbers of the angle and the height of each place."""
        return [np.abs(at[k][:, None] - grid).argmin(axis=1) for k, grid in ((1, self.angles), (2, self.heights))]

    def round_bore(self, radius):
        return np.full((len(self.angles), len(self.heights)), radius)

    def surface(self, u, through):
        """Displacement of a surface: angle, height, component."""
        own = np.flatnonzero(np.abs(self.nodes[0] - through) < 1e-9)
        i, j = self.places(self.nodes[:, own])
        out = np.full((len(self.angles), len(self.heights), 3), np.nan)
        out[i, j] = u.reshape(-1, 3)[own]
        assert not np.isnan(out).any(), "a place of the surface without a node"
        return out

    def hold(self, bore):
        """Displacement under the patches of the body with this stress-free bore, mm."""
        at = self.box.doflocs
        inner = bore[tuple(self.places(at))]
        radius = inner + at[0] * (self.outer - inner)
        mesh = MeshHex2(np.array([radius * np.cos(at[1]), radius * np.sin(at[1]), at[2]]), self.box.t)
        stiffness = self.stiffness(mesh)
        load = self.load(mesh)
        # from Cartesian to radial and tangential, so that symmetry is a matter of single unknowns
        n = self.nodes.shape[1]
        cos, sin = np.cos(self.nodes[1]), np.sin(self.nodes[1])
        first = 3 * np.arange(n)
        rows = np.concatenate([first, first, first + 1, first + 1, first + 2])
        columns = np.concatenate([first, first + 1, first, first + 1, first + 2])
        turn = csr_matrix((np.concatenate([cos, -sin, sin, cos, np.ones(n)]), (rows, columns)))
        stiffness, load = (turn.T @ stiffness @ turn).tocsc(), turn.T @ load
        # planes of symmetry do not move across; along the axis the loads are nil and one node is kept in its place
        on_plane = (self.nodes[1] < 1e-9) | (self.nodes[1] > self.sector - 1e-9)
        held = np.zeros(3 * n, bool)
        held[1::3] = on_plane
        held[2] = True
        free = np.flatnonzero(~held)
        # a symmetric matrix that needs no pivots
        factor = splu(stiffness[free][:, free], permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0,
                      options={"SymmetricMode": True})
        u = np.zeros(3 * n)
        u[free] = factor.solve(load[free])
        return u

    def stiffness(self, mesh):
        """Isotropic elasticity from the six products of two derivatives: `lambda u_j,j v_i,i + mu (u_i,j + u_j,i) v_i,j`."""
        young, poisson = self.material["young_modulus"], self.material["poisson_ratio"]
        lame = young * poisson / ((1 + poisson) * (1 - 2 * poisson))
        shear = young / (2 * (1 + poisson))
        basis = Basis(mesh, ElementHex2(), intorder=5)
        d = [[None] * 3 for _ in range(3)]
        for i in range(3):
            for j in range(i, 3):
                d[i][j] = BilinearForm(lambda u, v, _: u.grad[j] * v.grad[i]).assemble(basis)
                d[j][i] = d[i][j].T
        every = d[0][0] + d[1][1] + d[2][2]
        blocks = [[lame * d[i][j] + shear * d[j][i] + (shear * every if i == j else 0 * every) for j in range(3)]
                  for i in range(3)]
        node_by_node = np.arange(3 * basis.N).reshape(3, -1).T.ravel()
        return bmat(blocks, format="csr")[node_by_node][:, node_by_node]

    def load(self, mesh):
        """`force / (2 sin half_angle)` per radian, along the radius, even over the grip."""
        middles = self.box.p[:, self.box.facets].mean(axis=1)
        loaded = np.flatnonzero((np.abs(middles[0] - 1) < 1e-9) & (middles[1] < self.half) & (middles[2] < self.grip))
        per_area = self.patches["force"] / (2 * math.sin(self.half)) / self.grip / self.outer

        @LinearForm
        def push(v, w):
            r = np.hypot(w.x[0], w.x[1])
            return -per_area * (w.x[0] * v[0] + w.x[1] * v[1]) / r

        found = push.assemble(FacetBasis(mesh, ElementVector(ElementHex2()), facets=loaded, intorder=8))
        # along the axis of the patch: half of its force
        along = found[0::3].sum()
        assert abs(along + self.patches["force"] / 2) < 1e-4 * self.patches["force"], f"the load comes to {along} N"
        return found

    def cut(self, radius, start=None):
        """Stress-free bore whose held shape lies on a circle, and by how much it moved in each iteration."""
        bore = self.round_bore(radius) if start is None else start
        changes = []
        for _ in range(20):
            moved = self.surface(self.hold(bore), 0)
            after = np.sqrt(radius**2 - moved[..., 1] ** 2) - moved[..., 0]
            changes.append(float(np.abs(after - bore).max()))
            bore = after
            if changes[-1] < SETTLED:
                return bore, changes
        raise ValueError(f"the cut does not settle: {changes}")

    def brought(self, bore, other):
        """The bore of another mesh on this one."""
        from_other = RegularGridInterpolator((other.angles, other.heights), bore)
        return from_other(np.stack(np.meshgrid(self.angles, self.heights, indexing="ij"), axis=-1))

    def along_turn(self, values):
        """Values at many angles of the half sector, on the elements' own curves."""
        x = np.linspace(-1, 1, 61)
        angles, found = [], []
        for k, (a, b) in enumerate(zip(self.columns, self.columns[1:])):
            first, middle, last = values[2 * k:2 * k + 3]
            angles.append(a + (b - a) * (x + 1) / 2)
            found.append(first * x * (x - 1) / 2 + middle * (1 - x * x) + last * x * (x + 1) / 2)
        return np.concatenate(angles), np.concatenate(found)

    def lobes(self, values):
        """Amplitude of as many lobes as there are patches, positive where the radius is largest under them."""
        angles, found = self.along_turn(values)
        return float(np.trapezoid(found * np.cos(self.patches["count"] * angles), angles) * 2 / self.sector)

    def out_of_round(self, values):
        return float(np.ptp(self.along_turn(values)[1]))


def solved(case, sizes):
    """Figures of each station, by name, on one mesh after the other."""
    cuts = case["step"][0].get("cut", [])
    answers, last = [], None
    for size in sizes:
        began = time.monotonic()
        solid = Solid(case, *size)
        outside = solid.surface(solid.hold(solid.round_bore(solid.bore)), 1)[..., 0]
        changes = []
        if cuts:
            start = solid.brought(last[0], last[1]) if last else None
            released, changes = solid.cut(cuts[0]["diameter"] / 2, start)
            last = (released, solid)
        answer = {}
        for z in case["tube"]["stations"]:
            row = np.abs(solid.heights - z).argmin()
            assert abs(solid.heights[row] - z) < 1e-9, "no row of nodes there"
            moved = outside[:, row]
            answer[z] = {"held outside under a patch": moved[0], "held outside midway": moved[-1],
                         "held outside out of round": solid.out_of_round(moved)}
            if cuts:
                answer[z]["released bore out of round"] = solid.out_of_round(released[:, row])
                answer[z]["released bore lobes"] = solid.lobes(released[:, row])
        answers.append(answer)
        settling = "".join(f" {c:.0e}" for c in changes)
        print(f"three dimensions: {3 * solid.nodes.shape[1]} unknowns, {time.monotonic() - began:.0f} s{settling}")
    return answers


def theirs(station, count):
    """The program's figures of a station and what it states of each."""
    outside, bore = station["held"]["outer"], station["released"]["bore"]
    listed = outside["displacement"]
    moved = lambda degrees: float(np.interp(degrees, listed["angles_deg"], listed["radial"]))
    lobes = next(h for h in bore["harmonics"] if h["count"] == count)
    return {
        "held outside under a patch": (moved(0.0), outside["error"]["radius"]),
        "held outside midway": (moved(180.0 / count), outside["error"]["radius"]),
        "held outside out of round": (outside["roundness_least_squares"], outside["error"]["roundness"]),
        "released bore out of round": (bore["roundness_least_squares"], bore["error"]["roundness"]),
        "released bore lobes": (lobes["amplitude"] * math.cos(math.radians(count * lobes["angle"])),
                                bore["error"]["harmonics"]),
    }


def checked(program, path, sizes):
    case = tomllib.loads(path.read_text(encoding="utf-8"))
    count = case["hold"]["patches"][0]["count"]
    print(path.name)
    with tempfile.TemporaryDirectory() as folder:
        run = subprocess.run([program, "run", str(path), "--out", folder, "--fields", "none", "--quiet"],
                             capture_output=True, text=True)
        if run.returncode:
            # what the true answer is, is printed all the same
            print(f"FAILED the program: exit {run.returncode}: {run.stderr.strip()}")
            result = None
        else:
            result = json.loads((pathlib.Path(folder) / "result.json").read_text(encoding="utf-8"))
    rough, fine = solved(case, sizes)
    passed, failed = 0, 0 if result else 1
    stations = result["steps"][0]["stations"] if result else []
    for z in case["tube"]["stations"]:
        own = next((theirs(s, count) for s in stations if s["z"] == z), None)
        for name, value in fine[z].items():
            apart = abs(value - rough[z][name])
            if own is None:
                print(f"       z {z:g} {name}: {value:.6f} mm (meshes apart by {apart:.1e})")
                continue
            found, stated = own[name]
            off = abs(found - value)
            good = off <= stated + apart
            passed, failed = passed + good, failed + (not good)
            print(f"{'ok    ' if good else 'FAILED'} z {z:g} {name}: {found:.6f} against {value:.6f} mm, off {off:.1e}; "
                  f"stated {stated:.1e}, meshes apart by {apart:.1e}")
    return passed, failed


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("program", help="ringwright")
    parser.add_argument("cases", type=pathlib.Path, nargs="+", help="case files with one hold `patches`")
    parser.add_argument("--heavy", action="store_true", help="finer meshes")
    a = parser.parse_args()
    logging.getLogger("skfem").setLevel(logging.ERROR)
    counts = [checked(a.program, path, HEAVY if a.heavy else SHORT) for path in a.cases]
    passed, failed = (sum(c) for c in zip(*counts))
    print(f"{passed} passed, {failed} failed")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
