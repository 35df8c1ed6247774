"""What every script here uses: our side by name, agreement, and times taken in turns."""

import functools
import json
import os
import pathlib
import platform
import shutil
import statistics
import subprocess
import sys
import time

ROOT = pathlib.Path(__file__).resolve().parents[2]
ROUNDS = 7
# With what the tests are built with, so that nothing is built once more.
REST = ("--workspace", "--exclude", "browser")
SMALL = "--small" in sys.argv


def need(program, package):
    """The path of a program, or an end that names what to install."""
    found = shutil.which(program)
    if not found:
        sys.exit(f"{program} missing: sudo apt-get install {package}")
    return found


@functools.cache
def built(kind, *words):
    """Path of a built thing of ours, as cargo tells it."""
    levels = os.environ.get("OHMSTEAD_LEVELS")
    command = ["cargo", *(["--config", levels] if levels else []), *words]
    command += ["--message-format=json", "--quiet"]
    told = subprocess.run(command, cwd=ROOT, check=True, stdout=subprocess.PIPE, text=True).stdout
    artifacts = (json.loads(line) for line in told.splitlines() if line.startswith("{"))
    found = [a["executable"] for a in artifacts if a.get("executable") and a["target"]["name"] == kind]
    return found[-1]


def program():
    """The program ohmstead."""
    return os.environ.get("OHMSTEAD_BIN") or built("ohmstead", "build", "--release", "-p", "app")


class Ours:
    """One case of crates/physics/benches/peers: its answer, and the seconds of one call."""

    def __init__(self, case, *words):
        bench = built("peers", "build", "--release", *REST, "--bench", "peers")
        self.process = subprocess.Popen(
            [bench, case, *map(str, words)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
        )

    def ask(self, word):
        self.process.stdin.write(word + "\n")
        self.process.stdin.flush()
        line = self.process.stdout.readline()
        if not line:
            sys.exit(f"our side ended: {self.process.args}")
        return json.loads(line)

    def answer(self):
        """What one call gives."""
        return self.ask("answer")

    def seconds(self):
        """Of one call, from as many as fill 50 ms."""
        return self.ask("time")

    def end(self):
        """For a script that asks hundreds of cases."""
        self.process.communicate()


def clocked(call, least=0.05):
    """Seconds of one call of a peer, from as many as fill `least`."""
    call()
    times = 1
    while True:
        began = time.perf_counter()
        for _ in range(times):
            call()
        took = time.perf_counter() - began
        if took >= least:
            return took / times
        times = max(times * 2, int(times * least / max(took, 1e-9)))


def ratio(work, ours, peer, theirs, needed):
    """Takes both in turns and prints a row of docs/performance.md; both are calls giving seconds."""
    pairs = [(ours(), theirs()) for _ in range(ROUNDS)]
    mine, other = (statistics.median(side) for side in zip(*pairs))
    factor = statistics.median(b / a for a, b in pairs)
    print(f"| {work} | {peer} | {text(mine)} | {text(other)} | {factor:.0f} × | {needed} |", flush=True)
    return factor


def text(seconds):
    for unit, size in (("s", 1.0), ("ms", 1e-3), ("µs", 1e-6)):
        if seconds >= size:
            return f"{seconds / size:.3g} {unit}"
    return f"{seconds / 1e-9:.3g} ns"


def agree(what, ours, theirs, relative=0.0, absolute=0.0):
    """Ends with status 1 unless both numbers agree; says by how much they do."""
    off = abs(ours - theirs)
    part = off / abs(theirs) if theirs else off
    well = off <= absolute + relative * abs(theirs)
    print(f"{what}: {ours:.12g}, peer {theirs:.12g}, off {part:.1e}{'' if well else '  TOO FAR'}")
    if not well:
        sys.exit(1)


def machine():
    return f"{os.cpu_count()} cores, {platform.machine()}, {platform.system().lower()}"
