"""Time of EPANET's engine on a pipe network of 68 links, and of scipy on the balance of the circuit of `oil_circuit.rs`.

The counterpart is `cargo bench -p calc-core -- oil/circuit`. EPANET runs through the toolkit that wntr brings: the network is
opened once, and each run begins with `ENinitH(10)`, which makes it forget the flows of the last; only `ENrunH` is counted, the
call from Python with it.
"""

import math
import statistics
import tempfile
import time
import warnings

import numpy as np
import wntr
from scipy import optimize
from wntr.epanet import toolkit

DENSITY, VISCOSITY = 820.0, 14e-6
ROUNDS = 2000


def network():
    """Pipes in place of everything that the benchmark's circuit has: a gallery, feeds, drillings, and thin pipes for leaks."""
    model = wntr.network.WaterNetworkModel()
    hydraulic = model.options.hydraulic
    hydraulic.headloss, hydraulic.viscosity, hydraulic.accuracy, hydraulic.trials = "D-W", VISCOSITY / 1.022e-6, 1e-6, 200
    hydraulic.inpfile_units = "LPS"
    model.add_reservoir("feed", base_head=4e5 / DENSITY / 9.81)
    model.add_reservoir("sump", base_head=0)
    pipes = []

    def pipe(start, end, diameter, length):
        for name in (start, end):
            if name not in ("feed", "sump") and name not in model.node_name_list:
                model.add_junction(name)
        model.add_pipe(f"p{len(pipes)}", start, end, length=length, diameter=diameter, roughness=1e-6)
        pipes.append((start, end))

    for at, (start, end) in enumerate([("feed", "a"), ("a", "b"), ("b", "c"), ("c", "g0")]):
        pipe(start, end, 0.012, 0.05)
    for at in range(8):
        here, main, rod, lifter = f"g{at + 1}", f"m{at}", f"r{at}", f"l{at}"
        pipe(f"g{at}", here, 0.011, 0.11)
        pipe(here, main, 0.007, 0.06)
        pipe(main, "sump", 0.0015, 0.5)
        pipe(main, rod, 0.006, 0.09)
        pipe(rod, "sump", 0.0015, 0.5)
        pipe(here, lifter, 0.002, 0.1)
        pipe(lifter, "sump", 0.0010, 0.5)
        pipe(lifter, "sump", 0.0014, 0.1)
    return model, pipes


def epanet():
    model, pipes = network()
    folder = tempfile.mkdtemp()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        wntr.network.write_inpfile(model, f"{folder}/n.inp")
    engine = toolkit.ENepanet()
    engine.ENopen(f"{folder}/n.inp", f"{folder}/n.rpt", f"{folder}/n.bin")
    engine.ENopenH()
    times = []
    for _ in range(ROUNDS):
        engine.ENinitH(10)
        begin = time.perf_counter()
        engine.ENrunH()
        times.append(time.perf_counter() - begin)
    engine.ENcloseH()
    engine.ENclose()
    return len(pipes), times


def with_scipy():
    """The same network as a system of equations: laminar pipes with a loss, which is kinder to scipy than the real laws."""
    _, pipes = network()
    names = sorted({name for ends in pipes for name in ends} - {"feed", "sump"})
    number = {name: at for at, name in enumerate(names)}
    ends = np.array([[number.get(start, -1 if start == "feed" else -2), number.get(end, -1 if end == "feed" else -2)] for start, end in pipes])
    model, _ = network()
    links = [model.get_link(name) for name in model.pipe_name_list]
    linear = np.array([128 * VISCOSITY * DENSITY * link.length / (math.pi * link.diameter**4) for link in links])
    square = np.array([DENSITY / 2 / (math.pi / 4 * link.diameter**2) ** 2 for link in links])

    def losses(pressures):
        whole = np.concatenate([pressures, [0.0, 4.0]])
        drop = (whole[ends[:, 0]] - whole[ends[:, 1]]) * 1e5
        flow = 2 * drop / (linear + np.sqrt(linear**2 + 4 * square * np.abs(drop))) * 6e4
        loss = np.zeros(len(names) + 2)
        np.add.at(loss, ends[:, 0], flow)
        np.subtract.at(loss, ends[:, 1], flow)
        return loss[:-2]

    times = []
    for _ in range(20):
        begin = time.perf_counter()
        found = optimize.root(losses, np.full(len(names), 3.0), tol=1e-10)
        times.append(time.perf_counter() - begin)
        assert np.abs(found.fun).max() < 1e-6
    return times


if __name__ == "__main__":
    count, times = epanet()
    print(f"EPANET, {count} pipes, ENrunH: best {min(times) * 1e6:.1f} us, median {statistics.median(times) * 1e6:.1f} us")
    times = with_scipy()
    print(f"scipy.optimize.root on as many nodes: best {min(times) * 1e3:.1f} ms, median {statistics.median(times) * 1e3:.1f} ms")
