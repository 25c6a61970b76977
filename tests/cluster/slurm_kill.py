#!/usr/bin/env python3
"""64 shards on Slurm, a node killed while it flies some: the digest of a single run all the same.

Usage: slurm_kill.py PROGRAM SCENARIO, as root, with munged, slurmctld, slurmd and the commands of Slurm on the
path (Debian: munge, slurmctld, slurmd, slurm-client). Starts daemons of its own, two nodes on this machine, in a
folder of its own, and ends them again.
"""

import os
import re
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import time
from pathlib import Path

QUESTION = ["--samples", "60000", "--aims", "50.8km..51.4km:3"]
NODES = ["brack", "sorrel"]

CONF = """
ClusterName=periband
SlurmctldHost={host}(127.0.0.1)
SlurmUser=root
SlurmdUser=root
AuthType=auth/munge
AuthInfo=socket={folder}/munge.socket
CredType=cred/munge
SlurmctldPort={port}
SlurmctldPidFile={folder}/slurmctld.pid
SlurmdPidFile={folder}/slurmd-%n.pid
SlurmctldLogFile={folder}/slurmctld.log
SlurmdLogFile={folder}/slurmd-%n.log
StateSaveLocation={folder}/state
SlurmdSpoolDir={folder}/spool-%n
SlurmdParameters=config_overrides
ProctrackType=proctrack/linuxproc
TaskPlugin=task/none
JobAcctGatherType=jobacct_gather/none
AccountingStorageType=accounting_storage/none
SelectType=select/cons_tres
SelectTypeParameters=CR_CPU
SchedulerType=sched/builtin
SchedulerParameters=sched_interval=1,batch_sched_delay=1
MpiDefault=none
SwitchType=switch/none
ReturnToService=1
SlurmdTimeout=6
SlurmctldTimeout=30
InactiveLimit=0
KillWait=2
MinJobAge=300
JobRequeue=1
NodeName={nodes[0]} NodeHostname={host} NodeAddr=127.0.0.1 Port={ports[0]} CPUs=2 RealMemory=500
NodeName={nodes[1]} NodeHostname={host} NodeAddr=127.0.0.1 Port={ports[1]} CPUs=2 RealMemory=500
PartitionName=all Nodes={nodes[0]},{nodes[1]} Default=YES MaxTime=60 State=UP
"""


def free_ports(count):
    """Ports that nobody listens on now."""
    sockets = [socket.socket() for _ in range(count)]
    for one in sockets:
        one.bind(("127.0.0.1", 0))
    ports = [one.getsockname()[1] for one in sockets]
    for one in sockets:
        one.close()
    return ports


def processes():
    """Every process: number, parent, words."""
    for folder in Path("/proc").iterdir():
        if folder.name.isdigit():
            try:
                stat = (folder / "stat").read_text().rsplit(")", 1)[1].split()
                words = (folder / "cmdline").read_bytes().decode(errors="replace").split("\0")
            except OSError:
                continue
            if stat[0] not in "ZX":
                yield int(folder.name), int(stat[1]), words


def on_node(node, conf):
    """The processes of this test's jobs on a node, by their environment, with what steers them."""
    all_processes = {number: (parent, words) for number, parent, words in processes()}
    found = set()
    for number in all_processes:
        try:
            environment = Path(f"/proc/{number}/environ").read_bytes().split(b"\0")
        except OSError:
            continue
        if f"SLURMD_NODENAME={node}".encode() in environment and f"SLURM_CONF={conf}".encode() in environment:
            found.add(number)
            parent = all_processes[number][0]
            if parent in all_processes and "slurmstepd" in all_processes[parent][1][0]:
                found.add(parent)
    return {number: all_processes[number][1] for number in found}


def shards_of(found):
    """The processes of the program that fly shards, and which."""
    ours = {number: words for number, words in found.items() if "shard" in words and "--index" in words}
    return {number: int(words[words.index("--index") + 1]) for number, words in ours.items()}


def wait_for(what, seconds, test):
    """Waits until a test gives something."""
    end = time.time() + seconds
    while time.time() < end:
        found = test()
        if found:
            return found
        time.sleep(0.05)
    raise TimeoutError(what)


def digest(text):
    """The digest that a merge has printed."""
    found = re.search(r"^Digest: ([0-9a-f]{64})$", text, re.MULTILINE)
    return found.group(1) if found else sys.exit(f"no digest in:\n{text}")


def say(*command, env):
    """Runs a command of Slurm and gives what it prints."""
    done = subprocess.run(command, capture_output=True, text=True, env=env)
    return (done.stdout + done.stderr).strip()


class Cluster:
    """The daemons."""

    def __init__(self, folder):
        self.folder, self.running = folder, {}
        (folder / "state").mkdir()
        port, *ports = free_ports(3)
        self.conf = folder / "slurm.conf"
        self.conf.write_text(CONF.format(host=socket.gethostname(), folder=folder, port=port, ports=ports, nodes=NODES))
        self.env = {**os.environ, "SLURM_CONF": str(self.conf)}
        for name in ["SBATCH_PARTITION", "SLURM_JOB_ID"]:
            self.env.pop(name, None)

    def start(self, name, *command):
        """Starts a daemon in the foreground with its log in a file."""
        log = open(self.folder / f"{name}.out", "w")
        self.running[name] = subprocess.Popen(command, stdout=log, stderr=log, env=self.env, cwd=self.folder)

    def __enter__(self):
        key = self.folder / "munge.key"
        key.write_bytes(os.urandom(128))
        key.chmod(0o400)
        at = self.folder
        self.start(
            "munged", shutil.which("munged"), "--foreground", "--force", f"--key-file={key}",
            f"--socket={at}/munge.socket", f"--pid-file={at}/munge.pid", f"--seed-file={at}/munge.seed",
            f"--log-file={at}/munge.log",
        )
        wait_for("munged", 20, (at / "munge.socket").exists)
        self.start("slurmctld", shutil.which("slurmctld"), "-D", "-c", "-f", str(self.conf))
        for node in NODES:
            (at / f"spool-{node}").mkdir()
            self.start(node, shutil.which("slurmd"), "-D", "-c", "-N", node, "-f", str(self.conf))
        idle = lambda: self.said("sinfo", "-h", "-N", "-o", "%N %t").count(" idle") == 2
        wait_for("both nodes to be idle", 60, idle)
        return self

    def said(self, *command):
        """What a command of Slurm says of this cluster."""
        return say(*command, env=self.env)

    def kill_node(self, node):
        """Ends everything of a node at once, as if its power failed."""
        ended = on_node(node, self.conf)
        daemon = self.running.pop(node)
        for number in [daemon.pid, *ended]:
            try:
                os.kill(number, signal.SIGKILL)
            except ProcessLookupError:
                pass
        daemon.wait()
        return ended

    def __exit__(self, kind, *_):
        if kind:
            for log in ["slurmctld.log", *(f"slurmd-{node}.log" for node in NODES)]:
                text = (self.folder / log).read_text() if (self.folder / log).exists() else ""
                print(f"--- {log}\n" + "\n".join(text.splitlines()[-25:]), file=sys.stderr)
        for node in list(NODES):
            if node in self.running:
                self.kill_node(node)
        for name in ["slurmctld", "munged"]:
            if name in self.running:
                self.running[name].terminate()
                self.running[name].wait()


def main():
    """The test."""
    program, scenario = (str(Path(path).resolve()) for path in sys.argv[1:3])
    with tempfile.TemporaryDirectory(prefix="periband-slurm-") as name, Cluster(Path(name)) as cluster:
        folder = Path(name)
        single = [program, "run", scenario, *QUESTION, "--out", folder / "single"]
        wanted = digest(subprocess.run(single, capture_output=True, text=True, check=True).stdout)
        run = folder / "run"
        plan = [program, "plan", scenario, *QUESTION, "--shards", "64", "--out", run, "--slurm"]
        subprocess.run(plan, check=True, stdout=subprocess.DEVNULL)
        print(cluster.said("sh", str(run / "slurm-follow.sh")))
        parts = lambda: len(list(run.glob("parts/part-*.json")))
        wait_for("ten parts", 200, lambda: parts() >= 10)
        victim = NODES[1]
        both = lambda: len(shards_of(on_node(victim, cluster.conf))) == 2
        wait_for("the node to fly two elements", 60, both)
        ended = cluster.kill_node(victim)
        there, flown = parts(), shards_of(ended)
        lost = [shard for shard in flown.values() if not (run / f"parts/part-{shard:05}.json").exists()]
        print(f"node {victim} killed, {len(ended)} processes of its jobs with it; these flew shards:")
        for number in flown:
            print(f"  {number}: {' '.join(ended[number])}")
        print(f"{there} of 64 parts are there after it, those of shards {lost} are not among them")
        assert lost and there < 64, "the kill hit shards in flight"
        down = lambda: re.search(rf"{victim} (down\S*)", cluster.said("sinfo", "-h", "-N", "-o", "%N %t"))
        print(f"Slurm has the node as {wait_for('the node to be down', 120, down).group(1)}")
        follow = lambda: [log.read_text() for log in sorted(run.glob("slurm/follow-*.log"))]
        over = lambda: "Digest: " in "".join(follow()) or "error" in "".join(follow())
        wait_for("the follow-up to merge", 400, over)
        said = "".join(follow())
        tasks = cluster.said("squeue", "-h", "-t", "NODE_FAIL,FAILED,CANCELLED", "-r", "-o", "%F_%K %T")
        print("elements that Slurm lost:", tasks.replace("\n", ", "))
        rounds = re.findall(r"^round .*", said, re.MULTILINE)
        print(*rounds, sep="\n")
        assert any(not line.endswith(": 0 shards without a valid part") for line in rounds), "some were flown again"
        found = digest(said)
        print(f"digest of a single run   {wanted}\ndigest of 64 on Slurm    {found}")
        assert found == wanted
    print("Slurm: ok")


if __name__ == "__main__":
    main()
