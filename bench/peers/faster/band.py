"""The band of current for a planned test, 1,000 draws at 200 instants: no peer, a bound."""

import statistics

from beside import ROUNDS, Ours, text

BOUND_S = 10e-3

ours = Ours("band")
took = statistics.median(ours.seconds() for _ in range(ROUNDS))
print(f"| band for a planned test, 1,000 draws, 200 instants | – | {text(took)} | – | – | ≤ {text(BOUND_S)} |")
if took > BOUND_S:
    raise SystemExit(1)
