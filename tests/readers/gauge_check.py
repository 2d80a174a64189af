"""Holds `ringwright gauge` against numpy and scipy (PyPI): reference circles by general-purpose optimisers, lobes by numpy's FFT, the Gaussian filter by
multiplying that spectrum, a V by searching the profile for its contacts.

    gauge_check.py RINGWRIGHT

Prints what failed and `N passed, M failed`; exit 1 if any failed.

Truth: other program; general-purpose optimisers and transforms
"""

import json
import subprocess
import sys

import numpy as np
from scipy.optimize import least_squares, linprog, minimize_scalar

RADIUS = 30.0
POINTS = 720
CENTRE = np.array([0.04, -0.025])
# (lobes, amplitude, phase in rad)
LOBES = [(2, 0.006, 0.4), (3, 0.011, 1.1), (5, 0.002, 2.0), (17, 0.0008, 0.3)]


def shape(t):
    return RADIUS + sum(a * np.cos(n * t - p) for n, a, p in LOBES)


def about(points, centre):
    return np.hypot(*(points - centre).T)


def zone(points, sides):
    """Least width of the ring between two circles about one centre (sides = "both"), or the one-sided circles, by linear programmes about a centre that
    moves until it stays."""
    centre = points.mean(axis=0)
    for _ in range(50):
        d = about(points, centre)
        u = (points - centre) / d[:, None]
        ones = np.ones(len(d))
        # unknowns: shift x, y, outer radius, inner radius; distances fall by u . shift
        outside = np.column_stack([-u, -ones, 0 * ones])
        inside = np.column_stack([u, 0 * ones, ones])
        rows, limits, cost = {
            "both": (np.vstack([outside, inside]), np.concatenate([-d, d]), [0, 0, 1, -1]),
            "outer": (np.vstack([outside, inside * 0]), np.concatenate([-d, 0 * d]), [0, 0, 1, 0]),
            "inner": (np.vstack([inside, inside * 0]), np.concatenate([d, 0 * d]), [0, 0, 0, -1]),
        }[sides]
        found = linprog(cost, rows, limits, bounds=[(None, None)] * 4, method="highs")
        centre = centre + found.x[:2]
        if np.hypot(*found.x[:2]) < 1e-12:
            break
    d = about(points, centre)
    return d.max(), d.min()


def in_vee(degrees):
    """Range of the indicator opposite the V: the part is laid into the V at each angle by its outermost points. Between the angles tried, 17 lobes move
    by a millionth of a millimetre."""

    def reach(direction):
        near = direction + np.linspace(-0.02, 0.02, 9)
        start = near[np.argmax([shape(t) * np.cos(t - direction) for t in near])]
        best = minimize_scalar(
            lambda t: -shape(t) * np.cos(t - direction), bounds=(start - 0.006, start + 0.006), method="bounded", options={"xatol": 1e-10}
        )
        return -best.fun

    half = np.radians(90 - degrees / 2)
    readings = []
    for t in np.linspace(0, 2 * np.pi, 1440, endpoint=False):
        low, high = t + np.pi - half, t + np.pi + half
        # the centre rests where both flanks touch: x . u = -reach
        flanks = np.array([[np.cos(low), np.sin(low)], [np.cos(high), np.sin(high)]])
        x = np.linalg.solve(flanks, [-reach(low), -reach(high)])
        along = np.array([np.cos(t), np.sin(t)])
        aside = x @ np.array([-np.sin(t), np.cos(t)])
        at = t - np.arcsin(aside / RADIUS)
        at = t - np.arcsin(aside / shape(at))
        readings.append(x @ along + shape(at) * np.cos(at - t))
    return max(readings) - min(readings)


def main():
    t = np.arange(POINTS) * 2 * np.pi / POINTS
    own = np.column_stack([shape(t) * np.cos(t), shape(t) * np.sin(t)]) + CENTRE
    angles, radii = np.degrees(np.arctan2(own[:, 1], own[:, 0])) % 360, np.hypot(*own.T)
    text = "angle_deg,radius_mm\n" + "".join(f"{a!r},{r!r}\n" for a, r in zip(angles.tolist(), radii.tolist()))

    def gauge(text, *options):
        run = subprocess.run([sys.argv[1], "gauge", "-", "--json", *options], input=text.encode(), capture_output=True, check=True)
        return json.loads(run.stdout)

    passed = failed = 0

    def near(name, found, wanted, tolerance):
        nonlocal passed, failed
        if abs(found - wanted) <= tolerance:
            passed += 1
        else:
            failed += 1
            print(f"{name}: {found} instead of {wanted}")

    found = gauge(text, "--vee", "60", "--vee", "90", "--vee", "108")
    best = least_squares(lambda c: about(own, c[:2]) - c[2], [0, 0, RADIUS], xtol=1e-15, ftol=1e-15, gtol=1e-15)
    circle = found["least_squares"]
    near("least-squares radius", circle["radius"], best.x[2], 1e-8)
    for axis in (0, 1):
        near("least-squares centre", circle["centre"][axis], best.x[axis], 1e-8)
    outer, inner = zone(own, "both")
    near("minimum zone", found["minimum_zone"]["roundness"], outer - inner, 1e-8)
    near("circumscribed radius", found["minimum_circumscribed"]["radius"], zone(own, "outer")[0], 1e-8)
    near("inscribed radius", found["maximum_inscribed"]["radius"], zone(own, "inner")[1], 1e-8)
    for vee in found["vee"]:
        near(f"V of {vee['angle']} deg", vee["range"], in_vee(vee["angle"]), 4e-6)
    diameters = shape(t) + shape(t + np.pi)
    near("two-point", found["two_point"]["range"], np.ptp(diameters), 2e-5)
    near("between centres", found["between_centres"]["range"], np.ptp(radii), 1e-9)

    # equal steps about its own centre: lobes and filter through numpy's FFT
    even = "".join(f"{r!r}\n" for r in shape(t).tolist())
    found = gauge(even, "--filter", "15")
    spectrum = np.fft.rfft(shape(t)) / POINTS
    for h in found["harmonics"]:
        near(f"{h['count']} lobes", h["amplitude"], 2 * abs(spectrum[h["count"]]), 1e-9)
    n = np.arange(len(spectrum))
    smooth = np.fft.irfft(spectrum * POINTS * 2.0 ** -((n / 15) ** 2), POINTS)
    outer, inner = zone(np.column_stack([smooth * np.cos(t), smooth * np.sin(t)]), "both")
    near("minimum zone behind the filter", found["filtered"]["minimum_zone"]["roundness"], outer - inner, 1e-8)
    print(f"{passed} passed, {failed} failed")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
