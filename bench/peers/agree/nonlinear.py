"""Whole tests of an object that conducts more above an onset, beside scipy.integrate.solve_ivp.

The peer is told the same circuit in its own way: the voltages themselves, Radau, each kink of the
supply and of the object an event at which it starts anew.
"""

import numpy as np
from scipy.integrate import solve_ivp

from beside import Ours, agree


def course_of(told):
    """When the command bends, and from which voltage to which."""
    pieces, now, at = [], 0.0, told["start_v"]
    for leg in told["course"]:
        rise = abs(leg["to_v"] - at) / leg["rise_v_per_s"]
        pieces += [(now, now + rise, at, leg["to_v"]), (now + rise, now + rise + leg["dwell_s"], leg["to_v"], leg["to_v"])]
        now, at = now + rise + leg["dwell_s"], leg["to_v"]
    return pieces


class Peer:
    def __init__(self, told):
        self.told = told
        self.rj, self.cj = (np.array(told[key]) for key in ("branch_ohm", "branch_f"))
        self.siemens = 1.0 / told["insulation_ohm"]
        self.above = False
        self.seen = []

    def conducted(self, v):
        above = (abs(v) - self.told["onset_v"]) / self.told["efold_v"]
        return v * self.siemens * np.exp(max(above, 0.0))

    def given(self, mode, command, v):
        return {"following": (command - v) / self.told["series_ohm"], "limited": self.told["limit_a"], "off": 0.0}[mode]

    def run(self, y, begin, end, given, kinks):
        """One smooth piece: to its end, or to the first kink. Keeps the samples asked for."""

        def rates(t, y):
            taken = (y[0] - y[1:]) / self.rj
            rise = (given(t, y[0]) - self.conducted(y[0]) - taken.sum()) / self.told["capacitance_f"]
            return np.concatenate([[rise], taken / self.cj])

        for kink in kinks:
            kink.terminal = True
        found = solve_ivp(rates, (begin, end), y, method="Radau", rtol=1e-11, atol=1e-9, events=kinks, dense_output=True)
        assert found.success, found.message
        for t in self.told["t_s"]:
            # Just before an instant of change, as our side tells it.
            if begin < t <= found.t[-1] or t == begin == 0.0:
                v = found.sol(t)[0]
                self.seen.append((t, v, given(t, v)))
        hit = [k for k, times in enumerate(found.t_events or []) if len(times)]
        return found.y[:, -1], found.t[-1], hit[0] if hit else None

    def onset(self):
        """The kink of the object, from the side it is on."""

        def crossed(t, y):
            return y[0] - self.told["onset_v"]

        crossed.direction = -1.0 if self.above else 1.0
        return crossed

    def whole(self):
        told = self.told
        y = np.concatenate([[told["start_v"]], np.zeros(len(self.rj))])
        mode = "following"
        for begin, end, low, high in course_of(told):
            now = begin
            slope = (high - low) / (end - begin)

            def command(t, low=low, slope=slope, begin=begin):
                return low + slope * (t - begin)

            while now < end - 1e-12 * end:
                edge = self.onset()
                if mode == "following":
                    over = lambda t, y: (command(t) - y[0]) / told["series_ohm"] - min(told["limit_a"], told["trip_a"])
                    under = lambda t, y: (command(t) - y[0]) / told["series_ohm"]
                    over.direction, under.direction = 1.0, -1.0
                    kinks, then = [edge, over, under], [mode, "off" if told["trip_a"] < told["limit_a"] else "limited", "idle"]
                elif mode == "limited":
                    back = lambda t, y: (command(t) - y[0]) / told["series_ohm"] - told["limit_a"]
                    back.direction = -1.0
                    kinks, then = [edge, back], [mode, "following"]
                elif mode == "idle":
                    again = lambda t, y: command(t) - y[0]
                    again.direction = 1.0
                    kinks, then = [edge, again], [mode, "following"]
                else:
                    kinks, then = [edge], [mode]
                flow = "off" if mode in ("idle", "off") else mode
                y, now, hit = self.run(y, now, end, lambda t, v: self.given(flow, command(t), v), kinks)
                self.above ^= hit == 0
                if hit is not None:
                    mode = then[hit]
        for begin, end, ohm in told["down"]:
            now = begin
            while now < end - 1e-12 * end:
                y, now, hit = self.run(y, now, end, lambda t, v: -v / ohm if ohm else 0.0, [self.onset()])
                self.above ^= hit == 0
        return self.seen


for case in ("weak", "steep", "tripping"):
    told = Ours("nonlinear", case).answer()
    seen = {t: (v, i) for t, v, i in Peer(told).whole()}
    off_v = max(abs(v / seen[t][0] - 1.0) for t, v in zip(told["t_s"], told["v"]))
    scale = max(abs(i) for i in told["a"])
    off_i = max(abs(i - seen[t][1]) / max(abs(i), 1e-6 * scale) for t, i in zip(told["t_s"], told["a"]))
    for t, v, i in list(zip(told["t_s"], told["v"], told["a"]))[:: max(1, len(told["t_s"]) // 6)]:
        print(f"  {case} at {t:g} s: {v:.10g} V, peer {seen[t][0]:.10g}; {i:.8g} A, peer {seen[t][1]:.8g}")
    agree(f"{case}: worst voltage, relative", off_v, 0.0, absolute=1e-7)
    agree(f"{case}: worst current, relative", off_i, 0.0, absolute=1e-6)
