#!/usr/bin/env python3
"""64 shards on Dask, a worker killed with SIGKILL while it flies one: the digest of a single run all the same.

Usage: dask_kill.py PROGRAM DRIVER SCENARIO, with a Python that has `distributed`.
"""

import json
import os
import re
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

QUESTION = ["--samples", "60000", "--aims", "50.8km..51.4km:3"]


def command_line(process):
    """What a process was started with; nothing for one that is gone."""
    try:
        return Path(f"/proc/{process}/cmdline").read_bytes().decode().split("\0")
    except OSError:
        return []


def flying(worker):
    """The child of a worker that flies a shard right now, and the shard."""
    try:
        children = Path(f"/proc/{worker}/task/{worker}/children").read_text().split()
        for thread in Path(f"/proc/{worker}/task").iterdir():
            children += (thread / "children").read_text().split()
    except OSError:
        return None
    for child in children:
        words = command_line(child)
        if "shard" in words and "--index" in words:
            return int(child), int(words[words.index("--index") + 1])
    return None


def alive(process):
    """Whether a process runs, and is no dead one that waits to be collected."""
    try:
        return Path(f"/proc/{process}/stat").read_text().rsplit(")", 1)[1].split()[0] not in "ZX"
    except OSError:
        return False


def start(folder, name, *words):
    """Starts a part of the cluster with its log in a file."""
    log = open(folder / f"{name}.log", "w")
    return subprocess.Popen([sys.executable, "-m", *words], stdout=log, stderr=log, cwd=folder)


def address(folder):
    """Where the scheduler listens, once it says so in its file."""
    file = folder / "scheduler.json"
    for _ in range(600):
        if file.exists():
            return json.loads(file.read_text())["address"]
        time.sleep(0.1)
    sys.exit("the scheduler did not start: " + (folder / "scheduler.log").read_text())


def digest(text):
    """The digest that a merge has printed."""
    found = re.search(r"^Digest: ([0-9a-f]{64})$", text, re.MULTILINE)
    return found.group(1) if found else sys.exit(f"no digest in:\n{text}")


def main():
    """The test."""
    program, driver, scenario = (str(Path(path).resolve()) for path in sys.argv[1:4])
    with tempfile.TemporaryDirectory(prefix="periband-dask-") as name:
        folder = Path(name)
        single = subprocess.run(
            [program, "run", scenario, *QUESTION, "--out", folder / "single"], capture_output=True, text=True, check=True
        )
        wanted = digest(single.stdout)
        run = folder / "run"
        plan = [program, "plan", scenario, *QUESTION, "--shards", "64", "--out", run]
        subprocess.run(plan, check=True, stdout=subprocess.DEVNULL)
        quiet = ["--dashboard-address", ":0"]
        scheduler = start(
            folder, "scheduler", "distributed.cli.dask_scheduler", "--host", "127.0.0.1", "--port", "0",
            "--scheduler-file", "scheduler.json", *quiet,
        )
        workers = []
        try:
            at = address(folder)
            one = ["distributed.cli.dask_worker", at, "--nthreads", "1", "--no-nanny", *quiet]
            workers = [start(folder, f"worker-{i}", *one, "--name", f"worker-{i}") for i in range(3)]
            command = [sys.executable, driver, str(run), "--program", program, "--scheduler", at]
            driving = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
            while len(list(run.glob("parts/part-*.json"))) < 10:
                if driving.poll() is not None:
                    sys.exit(f"the driver ended early:\n{driving.stdout.read()}")
                time.sleep(0.01)
            victim, caught = workers[1], None
            while caught is None:
                if driving.poll() is not None:
                    sys.exit("the driver was done before the worker could be caught flying")
                caught = flying(victim.pid)
            child, shard = caught
            os.kill(victim.pid, signal.SIGKILL)
            # The program flies on for a moment without its worker: the kill came while it ran.
            hit = alive(child)
            ended = victim.wait()
            if alive(child):
                os.kill(child, signal.SIGKILL)
            done = len(list(run.glob("parts/part-*.json")))
            part = run / f"parts/part-{shard:05}.json"
            back = part.exists()
            said, _ = driving.communicate(timeout=500)
            print(f"worker process {victim.pid} was ended by signal {-ended} while its child {child} flew shard {shard}")
            print(f"at that moment {done} of 64 parts were there, that of shard {shard} was {'' if back else 'not '}among them")
            sent = [line for line in said.splitlines() if line.startswith(part.name)]
            print("brought back in the end:", *sent)
            killed = re.search(r"Start worker at:\s*(\S+)", (folder / "worker-1.log").read_text()).group(1)
            print(f"the killed worker was {killed}")
            assert driving.returncode == 0, said
            assert ended == -signal.SIGKILL and hit and not back and done < 64
            assert len(sent) == 1 and killed not in sent[0], "the shard was flown again, by another worker"
            found = digest(said)
            print(f"digest of a single run   {wanted}\ndigest of 64 on Dask     {found}")
            assert found == wanted
        finally:
            for process in [*workers, scheduler]:
                process.kill()
                process.wait()
    print("Dask: ok")


if __name__ == "__main__":
    main()
