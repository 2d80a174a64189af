"""A study is killed outright (SIGKILL) at twenty moments from a fixed seed, spread over the time that it takes, and each time gone on with to the end: its rows
are those of a run that was left alone. Every third moment is followed by a second kill.

    kill_check.py RINGWRIGHT [MOMENTS]

Prints what was there after each kill and `N passed, M failed`; exit 1 if any failed.

Truth: invariance; broken off and in one go
"""

import pathlib
import random
import shutil
import subprocess
import sys
import tempfile
import time

from support import Tally, call, differences, rows, studies

ROWS = 60


def killed(words, seconds):
    """Kills the command after that time; whether it was still at work."""
    run = subprocess.Popen(words, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    try:
        run.wait(seconds)
        return False
    except subprocess.TimeoutExpired:
        run.kill()
        run.wait()
        return True


def consistent(out):
    return not ((out / "results.csv").exists() and (out / "results.csv.part").exists())


def written(out):
    """Rows that are there, whole."""
    found = [p for p in out.glob("results.csv*") if p.name in ("results.csv", "results.csv.part")]
    return max(0, found[0].read_bytes().count(b"\n") - 1) if found else 0


def main():
    ringwright = pathlib.Path(sys.argv[1]).resolve()
    moments = int(sys.argv[2]) if len(sys.argv) > 2 else 20
    tally, dice = Tally(), random.Random(2026)
    with tempfile.TemporaryDirectory() as folder:
        folder = pathlib.Path(folder)
        study = studies.write(folder / "study.toml", "bored.toml", ROWS, 3)
        start = time.monotonic()
        call([ringwright, "study", study, "--quiet", "--out", folder / "alone"])
        took = time.monotonic() - start
        alone = rows(folder / "alone/results.csv")
        tally.check(len(alone) == ROWS, f"{len(alone)} rows of {ROWS}")
        out = folder / "killed"
        words = [str(ringwright), "study", str(study), "--quiet", "--resume", "--out", str(out)]
        kept = []
        for k in range(moments):
            # one moment in each equal share of the time, so that none of it is left out; earlier where the machine has become faster than it was
            seconds = took * (k + dice.random()) / moments
            shutil.rmtree(out, ignore_errors=True)
            while not killed(words, seconds):
                seconds *= 0.7
                shutil.rmtree(out, ignore_errors=True)
            tally.check(consistent(out), f"{seconds:.3f} s: the table is there under both names")
            kept.append(written(out))
            if k % 3 == 2:
                killed(words, took * dice.random())
                tally.check(consistent(out), f"a second kill after {seconds:.3f} s: the table is there under both names")
            call(words)
            count, first = differences(rows(out / "results.csv"), alone)
            tally.check(count == 0, f"killed after {seconds:.3f} s: {count} cells differ, the first: {first}")
            tally.check(not (out / "results.csv.part").exists(), "a table in the making is left")
        tally.check(sum(0 < n < ROWS for n in kept) > moments / 2, f"hardly any kill left a part of the rows: {kept}")
        print(f"{ROWS} rows in {took:.1f} s; killed in mid-work {moments} times, leaving so many of them: {kept}")
    return tally.end()


if __name__ == "__main__":
    sys.exit(main())
