"""Draws a released ring with its lobes made large enough to see, into a PNG file; needs no screen.

    ringwright run cli/examples/ring.toml      # writes ring-out
    python show_ring.py ring-out ring.png
    python show_ring.py ring-out ring.png 300  # deviations drawn 300 times as large as they are

Wants pyvista. Arrays of the file are explained in cli/OUTPUT.md.
"""

import json
import sys
from pathlib import Path

import numpy as np
import pyvista as pv


def released(folder):
    """The state after the last step: result.json says how many there are."""
    result = json.loads((folder / "result.json").read_text(encoding="utf-8"))
    steps = len(result["steps"])
    # of a tube this file is its plane; the body in space stands in tube-step-N-released.vtu
    tube = folder / f"tube-step-{steps}-released.vtu"
    return pv.read(tube if tube.exists() else folder / f"step-{steps}-released.vtu")


def main(folder, png, factor=None):
    ring = released(folder)

    # how far each point is from the least-squares circle of its surface, mm, along the radius
    deviation = ring["deviation_mm"]
    across = np.hypot(ring.points[:, 0], ring.points[:, 1])
    outwards = ring.points[:, :2] / across[:, None]
    ring["out of round, um"] = 1000 * np.sum(deviation[:, :2] * outwards, axis=1)

    # a round factor that brings the largest deviation to about half the wall: more would push the bore through the outside
    if factor is None:
        largest = np.abs(deviation).max()
        wall = across.max() - across.min()
        factor = float(f"{0.5 * wall / largest:.0e}") if largest > 1e-6 else 1.0

    # the points of what is released have their deviation once already: as the part is, not as it was drawn
    warped = ring.warp_by_vector("deviation_mm", factor=factor - 1)
    # cells are quadratic: their sides are divided, so that arcs come out as arcs
    surface = warped.extract_surface(algorithm="dataset_surface", nonlinear_subdivision=3)

    plotter = pv.Plotter(off_screen=True, window_size=(900, 900))
    plotter.set_background("white")
    # cividis: even in brightness, and read alike by those who see red and green alike
    plotter.add_mesh(surface, scalars="out of round, um", cmap="cividis", scalar_bar_args={"color": "black"})
    # never a picture of a deformation without its factor
    plotter.add_text(f"deviations x{factor:g}", color="black", font_size=12)
    flat = np.ptp(ring.points[:, 2]) == 0
    plotter.view_xy() if flat else plotter.view_isometric()
    plotter.screenshot(png)
    print(f"{png}: deviations drawn {factor:g} times as large as they are")


if __name__ == "__main__":
    if len(sys.argv) not in (3, 4):
        sys.exit(__doc__)
    main(Path(sys.argv[1]), sys.argv[2], *map(float, sys.argv[3:]))
