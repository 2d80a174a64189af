"""A scheme program that does one thing wrong: broken.py WHAT PIDS.

It starts a child of its own, which holds the pipes open and would outlive it, and writes both process ids to PIDS.
"""

import json
import os
import signal
import subprocess
import sys
import time

WHAT, PIDS = sys.argv[1:3]
child = subprocess.Popen(["sleep", "1000"])
with open(PIDS, "a") as file:
    file.write(f"{os.getpid()}\n{child.pid}\n")


def say(text):
    print(text, flush=True)


def hang():
    signal.signal(signal.SIGTERM, signal.SIG_IGN)
    while True:
        time.sleep(1)


def patch(angle, half_angle=10.0, force=100.0):
    return {"surface": "outer", "angle": angle, "half_angle": half_angle, "force": force}


def pad(angle, **other):
    return {"surface": "outer", "angle": angle, "outline": "flat", "width": 10.0, "drive": "force", "force": 100.0, **other}


EVEN = (0.0, 120.0, 240.0)
HOLDS = {
    "good": {"pressures": [patch(a) for a in EVEN]},
    "chatter": {"pressures": [patch(a) for a in EVEN]},
    "null": {"pressures": [patch(a, force=None) for a in EVEN]},
    "missing": {"pressures": [{"surface": "outer", "half_angle": 1.0, "force": 1.0}]},
    "unknown": {"bodies": [pad(a, frction=0.2) for a in EVEN]},
    "overlap": {"pressures": [patch(a, 70.0) for a in EVEN]},
    "wide": {"bodies": [pad(a, width=500.0) for a in EVEN]},
    "flat-radius": {"bodies": [pad(a, radius=50.0) for a in EVEN]},
    "gap-and-force": {"bodies": [pad(a, gap=0.1) for a in EVEN]},
    "small-bore": {"bodies": [pad(a, outline="concave", radius=2.0) for a in EVEN]},
    "pull": {"bodies": [pad(a, force=-5.0) for a in EVEN]},
    "unbalanced": {"pressures": [patch(0.0)]},
    "one-sided": {"bodies": [{**pad(0.0), "drive": "fixed", "force": None, "gap": 0.0}]},
    "nothing": {},
    "force-1e308": {"bodies": [pad(a, force=1e308) for a in EVEN]},
    "width-1e-300": {"bodies": [pad(a, width=1e-300) for a in EVEN]},
    "radius-1e300": {"bodies": [pad(a, outline="convex", radius=1e300) for a in EVEN]},
    "gap-1e9": {"bodies": [pad(0.0), pad(120.0), {**pad(240.0), "drive": "fixed", "force": None, "gap": 1e9}]},
    "angle-1e9": {"pressures": [patch(a + 1e9) for a in EVEN]},
    "half-angle-1e-9": {"pressures": [patch(a, 1e-9) for a in EVEN]},
    "friction-1e9": {"bodies": [pad(a, friction=1e9) for a in EVEN]},
    "notes": {"pressures": [patch(a) for a in EVEN], "notes": [""] * 1_000_000},
    "bodies": {"bodies": [pad(a, width=0.1) for a in range(101)]},
    "points": {"points": [{"surface": "outer", "angle": 0.1 * k, "force": 1.0} for k in range(3600)]},
    "side": {"pressures": [{**patch(a), "surface": "side"} for a in EVEN]},
    "number": {"bodies": 3},
}

hello = {
    "ringwright": 1,
    "scheme": "broken",
    "version": "1",
    "about": "wrong in one way",
    "parameters": [{"key": "force", "unit": "N", "default": 100.0, "about": "a force"}],
}
if WHAT == "crash-at-start":
    sys.exit(3)
if WHAT == "hang-at-start":
    hang()
if WHAT == "protocol":
    hello["ringwright"] = 2
    hello["more"] = "of a later protocol"
if WHAT == "no-protocol":
    del hello["ringwright"]
if WHAT == "taken":
    hello["scheme"] = "jaws"
if WHAT == "bad-name":
    hello["scheme"] = "Broken Scheme"
if WHAT == "free":
    hello["scheme"] = "free"
if WHAT == "no-name":
    hello["scheme"] = ""
if WHAT == "long-name":
    hello["scheme"] = "a" * 1_000_000
if WHAT == "odd-name":
    hello["scheme"] = "broken\x1b[31m"
if WHAT == "no-version":
    del hello["version"]
if WHAT == "word":
    hello["version"] = 1
if WHAT == "more":
    hello["authr"] = "me"
if WHAT == "limits":
    hello["parameters"] = [
        {"key": "force", "unit": "N", "min": 20.0, "max": 400.0, "default": 100.0, "about": "a force"},
        {"key": "rows", "unit": "", "whole": True, "min": 1, "max": 4, "default": 2, "about": "rows of fingers"},
        {"key": "shift", "unit": "mm", "min": -1.5, "about": "a shift"},
        {"key": "kind", "unit": "", "choices": ["soft", "hard"], "default": "soft", "about": "what touches"},
    ]
if WHAT == "many":
    hello["parameters"].append({"key": "count", "unit": "", "default": 3.0, "about": "how many patches"})
if WHAT.startswith("bad-limits-"):
    hello["parameters"][0].update(
        {
            "empty": {"min": 2.0, "max": 1.0},
            "between": {"whole": True, "min": 1.2, "max": 1.8},
            "default": {"min": 200.0},
            "words": {"unit": "", "choices": ["a"], "default": "a", "max": 1.0},
            "unit": {"choices": ["a"], "default": "a"},
            "far": {"min": 1e308},
        }[WHAT[11:]]
    )
if WHAT == "bad-unit":
    hello["parameters"][0]["unit"] = "furlong"

for line in sys.stdin:
    question = json.loads(line)
    if question["ask"] == "hello":
        text = json.dumps(hello)
        say(text.replace('"version"', '"scheme": "other", "version"') if WHAT == "twice-at-hello" else text)
        continue
    n = question["n"]
    if WHAT == "limits":
        p = question["parameters"]
        assert 20 <= p["force"] <= 400 and p["rows"] in (1, 2, 3, 4) and p["shift"] >= -1.5 and p["kind"] in ("soft", "hard"), p
    if WHAT == "many":
        count = question["parameters"]["count"]
        if count > 1e6:
            hang()
        if count < 2:
            say(json.dumps({"n": n, "error": {"message": "two patches or more", "parameter": "count"}}))
            continue
        say(json.dumps({"n": n, "ok": {"pressures": [patch(360 * k / count) for k in range(int(count))]}}))
        continue
    if WHAT == "exit":
        sys.exit(0)
    if WHAT == "signal":
        os.kill(os.getpid(), signal.SIGSEGV)
    if WHAT == "raise":
        raise RuntimeError("no such luck")
    if WHAT == "hang":
        hang()
    if WHAT == "close":
        os.close(1)
        hang()
    if WHAT == "flood":
        while True:
            sys.stdout.write("x" * (1 << 20))
    if WHAT == "flood-lines":
        while True:
            say("{}")
    if WHAT == "garbage":
        say("three jaws, please")
    elif WHAT == "bytes":
        sys.stdout.buffer.write(b"\xff\xfe\n")
        sys.stdout.flush()
    elif WHAT == "nan":
        say(json.dumps({"n": n, "ok": {"pressures": [patch(a, force=float("nan")) for a in EVEN]}}))
    elif WHAT == "infinity":
        say(json.dumps({"n": n, "ok": {"pressures": [patch(a, force=float("inf")) for a in EVEN]}}))
    elif WHAT == "huge":
        say(json.dumps({"n": n, "ok": HOLDS["good"]}).replace("100.0", "1e999"))
    elif WHAT == "twice":
        say(json.dumps({"n": n, "ok": HOLDS["good"]}).replace('"force"', '"force": 1.0, "force"'))
    elif WHAT == "half":
        say(json.dumps({"n": n, "ok": HOLDS["good"]})[:40])
    elif WHAT == "empty":
        say("")
    elif WHAT == "list":
        say("[]")
    elif WHAT == "no-message":
        say(json.dumps({"n": n, "error": {}}))
    elif WHAT == "wrong-n":
        say(json.dumps({"n": n + 1, "ok": HOLDS["good"]}))
    elif WHAT == "both":
        say(json.dumps({"n": n, "ok": HOLDS["good"], "error": {"message": "or not"}}))
    elif WHAT == "neither":
        say(json.dumps({"n": n}))
    elif WHAT == "changing":
        say(json.dumps({"n": n, "ok": {"pressures": [patch(a + n) for a in EVEN]}}))
    elif WHAT == "remembers":
        # steady while one question is repeated, but not after another one
        size = question["section"]["outer_radius"]
        turn, before = globals().get("seen", (0, size))
        seen = (turn + (size != before), size)
        say(json.dumps({"n": n, "ok": {"pressures": [patch(a + seen[0]) for a in EVEN]}}))
    elif WHAT == "no-reason" or (WHAT == "silent-at-edge" and question["parameters"]["force"] > 1e6):
        say(json.dumps({"n": n, "error": {"message": " ", "parameter": "force"}}))
    elif WHAT == "silent-at-edge":
        say(json.dumps({"n": n, "ok": {"pressures": [patch(a, force=question["parameters"]["force"]) for a in EVEN]}}))
    elif WHAT == "refuse":
        say(json.dumps({"n": n, "error": {"message": "a wall this thin wants a plug", "parameter": "force"}}))
    elif WHAT == "limits":
        say(json.dumps({"n": n, "ok": HOLDS["good"]}))
    else:
        if WHAT == "chatter":
            for k in range(3):
                print(f"thinking {k} \x1b[31m", file=sys.stderr, flush=True)
                time.sleep(0.05)
        say(json.dumps({"n": n, "ok": HOLDS[WHAT]}))
