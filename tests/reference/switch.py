"""Golden numbers for the switch model: REML without Huber's loss.

    pip install numpy pandas statsmodels
    python tests/reference/switch.py

Writes tests/reference/switch.csv (the data, so that the numbers can be had
from other programs too) and tests/reference/switch.toml. Written with
statsmodels 0.15.0.
"""

import pathlib

import numpy as np
import pandas
import statsmodels
import statsmodels.regression.mixed_linear_model as mlm

here = pathlib.Path(__file__).parent
rng = np.random.default_rng(7)

# Three layers, a dozen items each; runs within a layer and switches between.
layer_mean = [5.2, 5.5, 5.7]
switch = {(0, 1): 0.55, (1, 0): 0.35, (0, 2): 0.70, (2, 0): 0.30, (1, 2): 0.60, (2, 1): 0.50}
motor = {"alternate": 0.0, "same_hand": 0.12, "same_finger": 0.45, "repeat": 0.30}
items = {(layer, n): rng.normal(0, 0.2) for layer in range(3) for n in range(12)}
rows, layer = [], 0
for _ in range(600):
    before = layer
    if rng.random() < 0.35:
        layer = int(rng.choice([other for other in range(3) if other != layer]))
    item = int(rng.integers(12))
    kind = str(rng.choice(list(motor), p=[0.5, 0.35, 0.1, 0.05]))
    y = layer_mean[layer] + items[layer, item] + switch.get((before, layer), 0.0) + motor[kind]
    rows.append((layer, item, before, kind, round(y + rng.normal(0, 0.25), 4)))
data = pandas.DataFrame(rows, columns=["layer", "item", "from_layer", "motor", "ln_ms"])
data.to_csv(here / "switch.csv", index=False)

columns = {}
for layer in range(3):
    columns[f"layer_{layer}"] = (data.layer == layer).astype(float)
for a, b in switch:
    columns[f"switch_{a}_{b}"] = ((data.from_layer == a) & (data.layer == b)).astype(float)
for kind in list(motor)[1:]:
    columns[f"motor_{kind}"] = (data.motor == kind).astype(float)
design = pandas.DataFrame(columns)
groups = data.layer.astype(str) + "_" + data.item.astype(str)
model = mlm.MixedLM(data.ln_ms, design, groups=groups)
fit = model.fit(reml=True, method=["bfgs", "powell", "lbfgs"], gtol=1e-12, maxiter=5000)
assert fit.converged

# Standard errors at the variances found: (X' V^-1 X)^-1. (The fit's own come
# from a joint Hessian with the variances and differ in the fourth digit.)
names = np.asarray(groups, dtype=str)
same = (names[:, None] == names[None, :]).astype(float)
within = fit.scale * np.eye(len(data)) + float(fit.cov_re.iloc[0, 0]) * same
information = design.values.T @ np.linalg.solve(within, design.values)
errors = pandas.Series(np.sqrt(np.diag(np.linalg.inv(information))), design.columns)
assert np.allclose(errors, fit.bse_fe, rtol=1e-3)

with open(here / "switch.toml", "w") as out:
    print(f"# Made by tests/reference/switch.py with statsmodels {statsmodels.__version__}. Don't edit.\n", file=out)
    print(f"sd = {float(np.sqrt(fit.scale))!r}", file=out)
    print(f"between_sd = {float(np.sqrt(fit.cov_re.iloc[0, 0]))!r}", file=out)
    for heading, values in [("effects", fit.fe_params), ("errors", errors)]:
        print(f"\n[{heading}]", file=out)
        for name in design.columns:
            print(f"{name} = {float(values[name])!r}", file=out)
    print("\n[items]", file=out)
    for name in sorted(fit.random_effects):
        print(f"item_{name} = {float(fit.random_effects[name].iloc[0])!r}", file=out)
