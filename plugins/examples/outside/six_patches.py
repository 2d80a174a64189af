#!/usr/bin/env python3
"""A holding scheme for ringwright, to copy and change. Standard library alone.

    ringwright schemes six-patches --scheme-program 'python3 six_patches.py'
    ringwright run six_patches.toml --scheme-program 'python3 six_patches.py'

ringwright starts this program once, writes a question a line to its standard input, and reads an answer a line from
its standard output. Each line is one JSON document, UTF-8, without NaN or infinity; lengths in mm, forces in N, angles in
degrees, stresses in MPa. The program ends when its input ends. What it writes to standard error is shown to the user
under the scheme's name: use that, never print(), to look inside.

    -> {"ringwright": 1, "ask": "hello"}
    <- {"ringwright": 1, "scheme": "six-patches", "version": "1", "about": "...", "parameters": [...]}
    -> {"ask": "hold", "n": 1, "section": {"outer_radius": 60.0, "bore_radius": 54.0, "length": 20.0},
        "parameters": {"force": 500.0, ...}}
    <- {"n": 1, "ok": {"bodies": [...], "pressures": [...], "points": [...], "notes": ["..."]}}
    <- {"n": 1, "error": {"message": "why not, and what would do", "parameter": "force"}}      (instead of "ok")

What may stand in an answer (anything else is refused, so that a misspelt key is not a wrong result):

    body      surface "outer" or "bore"; angle; outline "concave", "flat" or "convex"; radius of the outline (not for flat);
              width, straight across; drive "force" with force, or "fixed" with gap (distance from touching the free part,
              negative if set past it); friction, if known. A body is rigid, pushes and never pulls.
    pressure  surface, angle of its middle, half_angle, force: the resultant along the middle of the patch
    point     surface, angle, force

At most 100 bodies, 1,000 pressures and points together, 100 notes; each key once. Numbers that no shop has (a force above 1e12 N,
a width below 0.001 mm, a gap above the part's radius) are refused by name.

Forces push towards the metal and are never negative. Empty lists may be left out. Angles run counter-clockwise from the part's
zero mark, seen from the tailstock. Say what pushes; do not work out what touches: that is the solver's part.

The same question must get the same answer (ringwright asks twice): no clock, no random numbers, no memory of what was
asked before. An answer that takes more than 10 s, or cannot exist (bodies that overlap, forces that do not balance),
ends the run.
"""

import json
import math
import sys

PATCHES = 6

# The description of the scheme. A case file gives the parameters by these keys; one without "default" must be given.
# "unit" is one of "mm", "N", "deg", "MPa", "N/mm" and "" (a bare number, or a word if there are "choices").
# "min", "max" (in that unit, themselves allowed) and "whole": true are checked before this program is asked.
# Values arrive in these units whatever the case file is written in, defaults filled in.
HELLO = {
    "ringwright": 1,
    "scheme": "six-patches",
    "version": "1",
    "about": "six even patches of pressure, evenly spaced",
    "parameters": [
        {"key": "force", "unit": "N", "default": 500.0, "about": "the resultant of one patch"},
        {"key": "half_angle", "unit": "deg", "default": 10.0, "min": 0.001,
         "about": "half of the arc that a patch covers"},
        {"key": "first_angle", "unit": "deg", "default": 0.0, "about": "the middle of patch 1"},
        {"key": "surface", "unit": "", "default": "outer", "choices": ["outer", "bore"], "about": "the surface pressed on"},
    ],
}


class Refused(Exception):
    """The values cannot be used: says why, and which parameter is at fault."""

    def __init__(self, message, parameter=None):
        super().__init__(message)
        self.parameter = parameter


def hold(section, parameters):
    """What is put against the part. This is the function to change."""
    half_angle = parameters["half_angle"]
    if not half_angle < 180 / PATCHES:
        most = 180 / PATCHES
        raise Refused(f"{half_angle} deg is no arc for one of {PATCHES} patches; give less than {most:g}", "half_angle")
    wall = section["outer_radius"] - section["bore_radius"]
    first = math.radians(parameters["first_angle"])
    return {
        "pressures": [
            {
                "surface": parameters["surface"],
                "angle": math.degrees(first + math.tau * k / PATCHES),
                "half_angle": half_angle,
                "force": parameters["force"],
            }
            for k in range(PATCHES)
        ],
        "notes": [f"patches press evenly on a wall of {wall:g} mm"],
    }


def answer(question):
    """The answer to one question."""
    if question.get("ask") == "hello":
        return HELLO
    try:
        return {"n": question["n"], "ok": hold(question["section"], question["parameters"])}
    except Refused as no:
        return {"n": question["n"], "error": {"message": str(no), "parameter": no.parameter}}


def main():
    for line in sys.stdin:
        # allow_nan=False: an answer with NaN is a mistake to find here, with a traceback
        print(json.dumps(answer(json.loads(line)), allow_nan=False), flush=True)


if __name__ == "__main__":
    main()
