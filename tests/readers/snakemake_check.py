"""The example for Snakemake: a dry run, a run in which a share is killed in mid-work, the same line again; all rows are those of a single run, and then there is
nothing left to do.

    snakemake_check.py RINGWRIGHT EXAMPLES [ROWS]

Wants PyPI `snakemake` in the Python that it is called with. Prints what it saw and `N passed, M failed`; exit 1 if any failed.

Truth: invariance; in shares and in one go
"""

import os
import pathlib
import re
import signal
import subprocess
import sys
import tempfile
import time

from support import Tally, call, differences, rows, studies

SHARDS = 4


def main():
    ringwright, examples = (pathlib.Path(w).resolve() for w in sys.argv[1:3])
    count = int(sys.argv[3]) if len(sys.argv) > 3 else 200
    tally = Tally()
    with tempfile.TemporaryDirectory() as folder:
        folder = pathlib.Path(folder)
        out = folder / "out"
        study = studies.write(folder / "study.toml", "bored.toml", count, 7)
        values = [f"ringwright={ringwright}", f"study={study}", f"out={out}", f"shards={SHARDS}"]

        def words(*more):
            return [sys.executable, "-m", "snakemake", "-s", str(examples / "snakemake/Snakefile"), *more, "--config", *values]

        def snakemake(*more):
            run = subprocess.run(words(*more), cwd=folder, capture_output=True, text=True)
            return run.returncode, run.stdout + run.stderr

        status, said = snakemake("-n")
        tally.check(status == 0 and re.search(rf"^shard\s+{SHARDS}$", said, re.M) and re.search(r"^total\s+6$", said, re.M), said)
        tally.check(not out.exists(), "a dry run wrote something")

        run = subprocess.Popen(words("--cores", "2"), cwd=folder, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        killed = None
        while killed is None and run.poll() is None:
            time.sleep(0.05)
            for part in out.glob("results-*.csv.part"):
                shard = part.name.split("-")[1]
                if part.read_bytes().count(b"\n") > 5 and (found := pid_of(out, f"{shard}/{SHARDS}")):
                    os.kill(found, signal.SIGKILL)
                    killed = shard
                    break
        tally.check(killed is not None, "no share was in mid-work long enough to be killed")
        tally.check(run.wait() != 0, "snakemake does not tell of a share that was killed")
        tally.check(not (out / "results.csv").exists(), "shares were put together with one missing")
        part = out / f"results-{killed}-of-{SHARDS}.csv.part"
        tally.check(part.exists(), "the rows of the share that was killed are gone")
        kept = part.read_bytes().count(b"\n") - 1 if part.exists() else 0
        print(f"share {killed} killed with {kept} of {count // SHARDS} rows written")

        start = time.monotonic()
        status, said = snakemake("--cores", "2", "--rerun-incomplete")
        tally.check(status == 0, said)
        print(f"gone on with in {time.monotonic() - start:.1f} s")
        status, said = snakemake("--cores", "2")
        tally.check(status == 0 and "Nothing to be done" in said, said)

        call([ringwright, "study", study, "--out", folder / "single", "--quiet"])
        different, first = differences(rows(out / "results.csv"), rows(folder / "single/results.csv"))
        tally.check(different == 0, f"{different} cells differ from a single run, the first: {first}")
        print(f"{count} rows, {different} cells differ from the single run")
    return tally.end()


def pid_of(out, shard):
    """The process that works out this share; not the shell that Snakemake started it from."""
    for entry in pathlib.Path("/proc").iterdir():
        try:
            line = (entry / "cmdline").read_bytes().split(b"\0") if entry.name.isdigit() else []
        except OSError:
            continue
        if os.fsencode(out) in line and os.fsencode(shard) in line:
            return int(entry.name)
    return None


if __name__ == "__main__":
    sys.exit(main())
