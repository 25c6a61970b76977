#!/usr/bin/env python3
"""Flies the missing shards of a planned run on Dask workers, brings their parts back, and merges.

    periband plan my-arrival.yaml --samples 1e9 --shards 2000 --out big
    python3 dask_run.py big                                   # a local cluster, one worker a core
    python3 dask_run.py big --scheduler tcp://10.0.0.7:8786   # a scheduler that is there
    python3 dask_run.py big --batch SLURMCluster --workers 40 --batch-option cores=1 \
        --batch-option memory=1GB                             # workers as batch jobs, by dask-jobqueue

Needs `distributed` (and `dask-jobqueue` for --batch) from PyPI, here and on the workers, and the program on each
worker, of one version (--program says where). Workers need no shared folder: the plan and its files travel with
each task, and the part comes back as bytes. A worker that dies costs the shard it was flying. What counts is what
`periband missing` finds in the folder, never what the cluster says; so the same command goes on after any stop.
"""

import argparse
import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path

import dask
from dask.distributed import Client, LocalCluster, as_completed, get_worker

ROUNDS = 3


def fly(files, index, program):
    """On a worker: flies one shard in a folder of its own; the part's name, its bytes, and who flew it."""
    with tempfile.TemporaryDirectory(prefix="periband-") as folder:
        for name, content in files.items():
            Path(folder, name).write_bytes(content)
        command = [program, "shard", folder, "--index", str(index), "--threads", "1", "--quiet"]
        done = subprocess.run(command, capture_output=True, text=True)
        if done.returncode != 0:
            raise RuntimeError(f"shard {index}: exit code {done.returncode}: {done.stderr.strip()}")
        (part,) = Path(folder, "parts").glob("part-*.json")
        return part.name, part.read_bytes(), get_worker().address


def keep(folder, name, content):
    """Writes a part beside, syncs it and gives it its name, so that none is ever there by half."""
    folder.mkdir(exist_ok=True)
    beside = folder / f".{name}.dask-{os.getpid()}.partial"
    with open(beside, "wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())
    os.replace(beside, folder / name)
    handle = os.open(folder, os.O_RDONLY)
    os.fsync(handle)
    os.close(handle)


def missing(program, run):
    """The shards without a valid part, by the program's own judgement."""
    said = subprocess.run([program, "missing", run, "--json"], capture_output=True, text=True)
    if said.returncode != 0:
        sys.exit(said.stderr.strip())
    told = json.loads(said.stdout)
    return [one["index"] for one in told["missing"]], told["shards"]


def plan_files(run):
    """The plan and every file it names."""
    plan = Path(run, "plan.json").read_bytes()
    named = [file["name"] for file in json.loads(plan)["files"]]
    return {"plan.json": plan} | {name: Path(run, name).read_bytes() for name in named}


def number(text):
    """An option of a batch system: a number where it is one, else a text."""
    return int(text) if text.isdigit() else text


def connect(args):
    """The cluster that was asked for, and a client of it."""
    if args.scheduler:
        return None, Client(args.scheduler)
    if args.batch:
        import dask_jobqueue

        options = dict(option.split("=", 1) for option in args.batch_option)
        options = {key: number(value) for key, value in options.items()}
        cluster = getattr(dask_jobqueue, args.batch)(**options)
        cluster.scale(args.workers or 1)
    else:
        workers = args.workers or os.cpu_count()
        cluster = LocalCluster(n_workers=workers, threads_per_worker=1, dashboard_address=None)
    return cluster, Client(cluster)


def one_round(client, args, shards):
    """Hands out shards and keeps each part as it comes back."""
    files = client.scatter(plan_files(args.run), broadcast=True)
    tasks = [client.submit(fly, files, index, args.program, key=f"shard-{index}", pure=False) for index in shards]
    # A task that failed on its worker is told of and left to the next round.
    for task in as_completed(tasks):
        if task.status != "finished":
            print(f"{task.key}: {task.status}: {task.exception()}", flush=True)
            continue
        name, content, worker = task.result()
        keep(Path(args.run, "parts"), name, content)
        print(f"{name} from {worker}", flush=True)
        task.release()


def arguments():
    """The command line."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("run", help="folder that `periband plan` wrote")
    parser.add_argument("--program", default="periband", help="the program, by its path on the workers")
    parser.add_argument("--scheduler", help="address of a scheduler that is there")
    parser.add_argument("--batch", help="class of dask-jobqueue, such as SLURMCluster or PBSCluster")
    parser.add_argument("--batch-option", action="append", default=[], metavar="KEY=VALUE", help="passed to it")
    parser.add_argument("--workers", type=int, help="workers to start (default: one a core; one batch job)")
    args = parser.parse_args()
    if os.sep in args.program:
        args.program = str(Path(args.program).resolve())
    return args


def main():
    """Rounds of flying what is missing, then the merge."""
    args = arguments()
    # A worker that dies takes its shard with it; that is no fault of the shard.
    dask.config.set({"distributed.scheduler.allowed-failures": 20})
    shards, of = missing(args.program, args.run)
    print(f"{len(shards)} of {of} shards are missing", flush=True)
    if shards:
        cluster, client = connect(args)
        for _ in range(ROUNDS):
            one_round(client, args, shards)
            shards, _ = missing(args.program, args.run)
            if not shards:
                break
        client.close()
        if cluster:
            cluster.close()
    # Names what is still missing and exits with 3, or writes the summary and prints the digest.
    sys.exit(subprocess.run([args.program, "merge", args.run]).returncode)


if __name__ == "__main__":
    main()
