"""Golden numbers for assignments.

    pip install numpy scipy
    python tests/reference/arrange.py > tests/reference/arrange.toml

Written with scipy 1.17.1.
"""

import pathlib

import numpy as np
import scipy
from scipy.optimize import linear_sum_assignment, quadratic_assignment

rng = np.random.default_rng(20261126)
print(f"# Made by tests/reference/arrange.py with scipy {scipy.__version__}. Don't edit.\n")


def row(values):
    return "[" + ", ".join(str(int(v)) for v in np.ravel(values)) + "]"


# Exact: the least sum of costs, a column for each row.
for rows, columns in [(5, 5), (8, 12), (20, 20), (24, 30)]:
    costs = rng.integers(-200, 1000, size=(rows, columns))
    least = costs[linear_sum_assignment(costs)].sum()
    print(f"[[linear]]\nrows = {rows}\ncolumns = {columns}\ncosts = {row(costs)}\nleast = {least}\n")

# The best of many runs of scipy's heuristic: no proof, but nothing that a
# search may fall short of.
for n in [6, 9, 12]:
    flow = rng.integers(0, 30, size=(n, n))
    distance = rng.integers(0, 30, size=(n, n))
    runs = (
        quadratic_assignment(flow, distance, method="2opt", options={"rng": seed}).fun
        for seed in range(100)
    )
    print(f"[[quadratic]]\nn = {n}\nflow = {row(flow)}\ndistance = {row(distance)}")
    print(f"best = {int(min(runs))}\n")

folder = pathlib.Path(__file__).parent.parent / "fixtures" / "qaplib"
for name in ["bur26a", "bur26b", "bur26c", "bur26d"]:
    figures = [int(n) for n in (folder / f"{name}.dat").read_text().split()]
    n = figures[0]
    flow = np.array(figures[1 : 1 + n * n]).reshape(n, n)
    distance = np.array(figures[1 + n * n :]).reshape(n, n)
    runs = (
        quadratic_assignment(flow, distance, method="2opt", options={"rng": seed}).fun
        for seed in range(20)
    )
    print(f'[[instance]]\nname = "{name}"\nbest = {int(min(runs))}\n')
