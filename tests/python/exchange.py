"""Messages of the program, read and written by a general-purpose library of the standard (PyPI: ccsds-ndm).

Usage: exchange.py PERIBAND EXAMPLES WORK
"""

import subprocess
import sys
from pathlib import Path

from ccsds_ndm.ndm_io import NDMFileFormats, NdmIo

program, examples, work = (Path(argument).resolve() for argument in sys.argv[1:4])
work.mkdir(parents=True, exist_ok=True)

SCENARIO = """\
title: Arrival by message
world: mars
ship: {mass: 62 t, reference_area: 310 m2, drag_coefficient: 1.45, nose_radius: 3.2 m}
arrival: {opm: ./state.opm}
uncertainty: {air: exact}
"""


def numbers(state):
    names = ("x", "y", "z", "x_dot", "y_dot", "z_dot")
    return [float(getattr(state, name).value) for name in names]


def flown(folder):
    """The ephemeris of the scenario in a folder, as the library reads it."""
    command = [program, "pass", "arrival.yaml", "--oem", "pass.oem", "--quiet"]
    subprocess.run(command, cwd=folder, check=True)
    return NdmIo().from_path(folder / "pass.oem").body.segment[0]


first = work / "first"
first.mkdir(exist_ok=True)
(first / "arrival.yaml").write_text(SCENARIO)
opm_text = (examples / "arrival.opm").read_text()
(first / "state.opm").write_text(opm_text)
opm = NdmIo().from_path(first / "state.opm")
segment = flown(first)
meta, states = segment.metadata, segment.data.state_vector
assert (meta.center_name, meta.ref_frame, meta.time_system) == ("MARS", "EME2000", "TDB"), meta
assert meta.start_time == states[0].epoch and meta.stop_time == states[-1].epoch, meta
assert all(a.epoch < b.epoch for a, b in zip(states, states[1:]))
print(f"the library reads {len(states)} states from {meta.start_time} to {meta.stop_time}")

# The first state of the ephemeris becomes a message written by the library, is flown again, and must give the
# same ephemeris: nothing is lost in either direction.
second = work / "second"
second.mkdir(exist_ok=True)
(second / "arrival.yaml").write_text(SCENARIO)
vector = opm.body.segment.data.state_vector
vector.epoch = states[0].epoch
for name, value in zip(("x", "y", "z", "x_dot", "y_dot", "z_dot"), numbers(states[0])):
    getattr(vector, name).value = value
NdmIo().to_file(opm, NDMFileFormats.KVN, second / "state.opm")
again = flown(second).data.state_vector
assert len(again) == len(states), (len(again), len(states))
worst = max(
    max(abs(a - b) for a, b in zip(numbers(old), numbers(new))) for old, new in zip(states, again)
)
assert worst < 1e-4, worst  # km and km/s
print(f"the round trip is closed to {1000 * worst:.6f} m")
