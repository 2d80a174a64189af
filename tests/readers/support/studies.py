"""A study over force, bored diameter, blank and pad width on the small rings of `tests/readers/studies`, for the readers that need
many rows. The widest pads overlap: rows without an answer."""

import pathlib

CASES = pathlib.Path(__file__).resolve().parent.parent / "studies"

VARIES = """
[[vary]]
path = "hold.jaws[0].force"
from = 5
to = 300
[[vary]]
path = "hold.jaws[0].bored_diameter"
from = 119.8
to = 123
[[vary]]
path = "part.outer_diameter"
mean = 120.0
standard_deviation = 0.1
[[vary]]
path = "hold.jaws[0].width"
from = 8
to = 108
"""


def write(path, case, count, seed):
    """Writes a sampled study of `bored.toml` or `held.toml` with so many rows."""
    path.write_text(
        f'title = "{count} rings of {case}"\ndesign = "sobol"\ncount = {count}\nseed = {seed}\n\n'
        f'[base]\ncase = "{(CASES / case).as_posix()}"\n{VARIES}',
        encoding="utf-8",
    )
    return path
