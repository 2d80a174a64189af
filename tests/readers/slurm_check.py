"""A study as a job array of Slurm, on this machine: four shards, of which one is killed outright and one cancelled in mid-work; both are submitted again, the
shares are put together, and all rows are those of a single run.

    slurm_check.py RINGWRIGHT EXAMPLES [ROWS]
    slurm_check.py RINGWRIGHT EXAMPLES --by-hand    # no Slurm: the lines of the script with the variables of an array set

Starts its own munged, slurmctld and slurmd with all their files in a temporary folder and on free ports, and ends them whatever happens. What is missing of
Debian's packages `slurm-wlm` and `munge` is installed if the user may. Prints what it saw and `N passed, M failed`; exit 1 if any failed.

Truth: invariance; in shares and in one go
"""

import getpass
import os
import pathlib
import re
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import time

from support import Tally, call, differences, rows, studies

SHARDS = 4
PROGRAMS = ["munged", "mungekey", "slurmctld", "slurmd", "sbatch", "squeue", "scontrol", "scancel", "sinfo"]
# daemons stand where a user's path does not lead
os.environ["PATH"] += ":/usr/sbin:/sbin"

CONFIGURATION = """
ClusterName=check
SlurmctldHost={host}(127.0.0.1)
SlurmctldPort={controller}
SlurmdPort={node}
SlurmUser={user}
SlurmdUser={user}
AuthType=auth/munge
AuthInfo=socket={folder}/munge.socket
CredType=cred/munge
ProctrackType=proctrack/linuxproc
TaskPlugin=task/none
JobAcctGatherType=jobacct_gather/none
MpiDefault=none
ReturnToService=2
KillWait=5
SelectType=select/cons_tres
SelectTypeParameters=CR_CPU
SchedulerParameters=sched_interval=1,batch_sched_delay=0,sched_min_interval=0
StateSaveLocation={folder}/state
SlurmdSpoolDir={folder}/spool
SlurmctldPidFile={folder}/slurmctld.pid
SlurmdPidFile={folder}/slurmd.pid
SlurmctldLogFile={folder}/slurmctld.log
SlurmdLogFile={folder}/slurmd.log
NodeName={host} NodeAddr=127.0.0.1 CPUs={cpus} State=UNKNOWN
PartitionName=all Nodes=ALL Default=YES MaxTime=INFINITE State=UP
"""

began = time.monotonic()


def say(words):
    print(f"{time.monotonic() - began:6.1f} s  {words}", flush=True)


def until(what, seconds, done):
    """Waits until `done()` is true, and gives what it gave."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        found = done()
        if found:
            return found
        time.sleep(0.2)
    raise TimeoutError(f"{what}: not within {seconds} s")


def installed():
    """Installs what is missing; the words of what it could not."""
    missing = [p for p in PROGRAMS if not shutil.which(p)]
    if not missing:
        return None
    root = [] if os.geteuid() == 0 else ["sudo", "-n"]
    if not shutil.which("apt-get") or (root and not shutil.which("sudo")):
        return f"{', '.join(missing)} missing, and there is no way to install them here: Debian's packages are slurm-wlm and munge"
    environment = root + ["env", "DEBIAN_FRONTEND=noninteractive", "apt-get"]
    for words in (["update"], ["install", "-y", "--no-install-recommends", "slurm-wlm", "munge"]):
        run = subprocess.run(environment + words, capture_output=True, text=True)
        if run.returncode != 0:
            return f"{', '.join(missing)} missing; apt-get {words[0]} failed:\n{run.stderr[-2000:]}"
    say("slurm-wlm and munge installed")
    missing = [p for p in PROGRAMS if not shutil.which(p)]
    return f"{', '.join(missing)} missing after installing slurm-wlm and munge" if missing else None


def processes(*words):
    """Numbers of the processes whose command line holds all these words."""
    found = []
    for entry in pathlib.Path("/proc").iterdir():
        if entry.name.isdigit() and int(entry.name) != os.getpid():
            try:
                line = (entry / "cmdline").read_bytes().replace(b"\0", b" ").decode(errors="replace")
            except OSError:
                continue
            if all(word in line for word in words):
                found.append(int(entry.name))
    return found


class Cluster:
    """Slurm on this machine alone, with all its files in one folder."""

    def __init__(self, folder):
        self.folder, self.daemons = folder, []
        host = socket.gethostname().split(".")[0]
        with socket.socket() as a, socket.socket() as b:
            a.bind(("127.0.0.1", 0))
            b.bind(("127.0.0.1", 0))
            ports = a.getsockname()[1], b.getsockname()[1]
        text = CONFIGURATION.format(host=host, controller=ports[0], node=ports[1], user=getpass.getuser(), folder=folder, cpus=os.cpu_count())
        (folder / "slurm.conf").write_text(text)
        self.environment = dict(os.environ, SLURM_CONF=str(folder / "slurm.conf"))

    def __enter__(self):
        try:
            self.start()
        except BaseException:
            self.__exit__()
            raise
        return self

    def start(self):
        for name in ("state", "spool"):
            (self.folder / name).mkdir()
        here = str(self.folder)
        call(["mungekey", "--create", "--keyfile", f"{here}/munge.key"])
        self.daemon(["munged", "--foreground", "--force", f"--socket={here}/munge.socket", f"--key-file={here}/munge.key",
                     f"--pid-file={here}/munged.pid", f"--log-file={here}/munged.log", f"--seed-file={here}/munge.seed"])
        until("munged", 10, lambda: (self.folder / "munge.socket").exists())
        self.daemon(["slurmctld", "-D", "-c"])
        time.sleep(1)
        self.daemon(["slurmd", "-D"])
        until("an idle node", 60, lambda: self.ask(["sinfo", "-h", "-o", "%T"], check=False).strip() == "idle")
        say("Slurm is up, its node idle")

    def daemon(self, words):
        log = open(self.folder / f"{words[0]}.out", "wb")
        self.daemons.append(subprocess.Popen(words, env=self.environment, stdout=log, stderr=log, cwd=self.folder))

    def ask(self, words, check=True, **more):
        run = subprocess.run(words, env=dict(self.environment, **more), capture_output=True, text=True, cwd=self.folder)
        if check and run.returncode != 0:
            raise RuntimeError(f"{' '.join(words)}: {run.stderr}")
        return run.stdout

    def submit(self, array, script, *words, **more):
        job = self.ask(["sbatch", "--parsable", f"--array={array}", str(script), *map(str, words)], **more).strip()
        say(f"array {array} submitted as job {job}")
        return job

    def wait(self, job, seconds=600):
        until(f"the end of job {job}", seconds, lambda: not self.ask(["squeue", "-h", "-j", job], check=False).strip())

    def exits(self, job):
        """State and exit status of each task, `STATUS:SIGNAL`."""
        text = self.ask(["scontrol", "-o", "show", "job", job])
        tasks = {}
        for line in text.splitlines():
            task = re.search(r"ArrayTaskId=(\d+)\b", line)
            tasks[int(task[1])] = tuple(re.search(rf"\b{key}=(\S+)", line)[1] for key in ("JobState", "ExitCode"))
        return tasks

    def __exit__(self, *_):
        if len(self.daemons) == 3:
            self.ask(["scancel", "--user", getpass.getuser()], check=False)
            try:
                until("the end of all jobs", 20, lambda: not self.ask(["squeue", "-h"], check=False).strip())
            except TimeoutError as e:
                say(str(e))
        # its user's own folder stands in the command line of all that a job has started
        for number in processes(str(self.folder)):
            if number not in [d.pid for d in self.daemons]:
                try:
                    os.kill(number, signal.SIGKILL)
                except ProcessLookupError:
                    pass
        for daemon in reversed(self.daemons):
            daemon.terminate()
            try:
                daemon.wait(15)
            except subprocess.TimeoutExpired:
                daemon.kill()
                daemon.wait()
        say("Slurm is down")


def of_part(out, shard):
    """Whole rows of a share that is being worked out."""
    path = out / f"results-{shard}-of-{SHARDS}.csv.part"
    return path.read_bytes().count(b"\n") - 1 if path.exists() else 0


def in_mid_work(out, shard, least):
    return until(f"shard {shard} in mid-work", 300, lambda: of_part(out, shard) >= least and of_part(out, shard))


def compare(tally, ringwright, study, out, folder):
    call([ringwright, "study", "merge", out])
    start = time.monotonic()
    call([ringwright, "study", study, "--out", folder / "single", "--quiet"])
    single, merged = rows(folder / "single/results.csv"), rows(out / "results.csv")
    say(f"the single run took {time.monotonic() - start:.1f} s")
    count, first = differences(merged, single)
    tally.check(count == 0, f"{count} cells differ from a single run, the first: {first}")
    say(f"{len(merged)} rows of {len(merged[0])} columns, {count} cells differ from the single run")


def array(tally, ringwright, script, folder, count):
    study = studies.write(folder / "study.toml", "bored.toml", count, 5)
    out = folder / "out"
    few = max(2, count // SHARDS // 10)
    with Cluster(folder) as slurm:
        start = time.monotonic()
        job = slurm.submit(f"1-{SHARDS}", script, study, out, RINGWRIGHT=str(ringwright))
        n = in_mid_work(out, 2, few)
        [number] = processes(str(ringwright), f"--shard 2/{SHARDS}", str(out))
        os.kill(number, signal.SIGKILL)
        say(f"shard 2 killed outright at {n} rows of {count // SHARDS}")
        n = in_mid_work(out, 3, few)
        slurm.ask(["scancel", f"{job}_3"])
        say(f"shard 3 cancelled at {n} rows")
        slurm.wait(job)
        exits = slurm.exits(job)
        say(f"the array has ended after {time.monotonic() - start:.1f} s: {exits}")
        for shard in range(1, SHARDS + 1):
            whole = (out / f"results-{shard}-of-{SHARDS}.csv").exists()
            good = exits.get(shard) == ("COMPLETED", "0:0")
            tally.check(whole == good == (shard not in (2, 3)), f"shard {shard}: {exits.get(shard)}, its table whole: {whole}")
        call([ringwright, "study", "merge", out], expected=3)
        tally.check(not (out / "results.csv").exists(), "a table was put together with shares missing")
        kept = {shard: of_part(out, shard) for shard in (2, 3)}

        start = time.monotonic()
        again = slurm.submit("2,3", script, study, out, RINGWRIGHT=str(ringwright), SHARDS=str(SHARDS))
        slurm.wait(again)
        say(f"shards 2 and 3 gone on with after {kept} rows, {time.monotonic() - start:.1f} s")
        exits = slurm.exits(again)
        for shard in (2, 3):
            tally.check(exits.get(shard) == ("COMPLETED", "0:0"), f"shard {shard} again: {exits.get(shard)}")
            log = (folder / f"ringwright-{again}-{shard}.log").read_text()
            tally.check(f"{kept[shard]} rows are there already" in log, f"shard {shard} does not say that it goes on after {kept[shard]} rows:\n{log}")

        # the program's own exit status is that of the task
        wrong = folder / "wrong.toml"
        wrong.write_text(study.read_text().replace("count =", "cuont ="))
        job = slurm.submit("1", script, wrong, folder / "wrong", RINGWRIGHT=str(ringwright))
        slurm.wait(job)
        tally.check(slurm.exits(job).get(1) == ("FAILED", "3:0"), f"a study with a fault: {slurm.exits(job)}")
    left = processes(str(folder))
    tally.check(not left, f"processes {left} are left")
    compare(tally, ringwright, study, out, folder)


def by_hand(tally, ringwright, script, folder):
    tally.check(subprocess.run(["bash", "-n", script]).returncode == 0, "the script is no script")
    study = studies.write(folder / "study.toml", "bored.toml", 10, 5)
    out = folder / "out"

    def task(shard, expected=0, **more):
        values = dict(os.environ, RINGWRIGHT=str(ringwright), SLURM_ARRAY_TASK_ID=str(shard), **more)
        values.pop("SHARDS", None) if "SHARDS" not in more else None
        run = subprocess.run(["bash", script, study, out], env=values, capture_output=True, text=True)
        return tally.check(run.returncode == expected, f"task {shard} with {more} ended with {run.returncode}: {run.stderr}")

    for shard in range(1, SHARDS):
        task(shard, SLURM_ARRAY_TASK_COUNT=str(SHARDS))
    # the last by itself, as if it had failed: without SHARDS it would be another share
    task(SHARDS, 2, SLURM_ARRAY_TASK_COUNT="1")
    task(1, 2, SLURM_ARRAY_TASK_COUNT="1")
    task(SHARDS, SLURM_ARRAY_TASK_COUNT="1", SHARDS=str(SHARDS))
    compare(tally, ringwright, study, out, folder)


def main():
    words = sys.argv[1:]
    ringwright, examples = (pathlib.Path(w).resolve() for w in words[:2])
    script = examples / "slurm/study.sbatch"
    # ended from outside, it ends its daemons first
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(143))
    tally = Tally()
    with tempfile.TemporaryDirectory() as folder:
        folder = pathlib.Path(folder)
        if "--by-hand" in words:
            by_hand(tally, ringwright, script, folder)
        elif tally.check((failure := installed()) is None, failure):
            try:
                array(tally, ringwright, script, folder, int(words[2]) if len(words) > 2 else 600)
            except (TimeoutError, RuntimeError, ValueError) as e:
                logs = "".join(f"\n{p.name}: {p.read_text(errors='replace')[-1500:]}" for p in sorted(folder.glob("*.out")))
                tally.check(False, f"{e}{logs}")
    return tally.end()


if __name__ == "__main__":
    sys.exit(main())
