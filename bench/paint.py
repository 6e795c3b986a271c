"""Paint measured: the Gaussian process against scikit-learn on fields drawn now, calibration on a seed not used for
tuning, and the speed of a survey with maps beside scikit-learn's fit of the same readings.

    python bench/paint.py [--seed N] [--panels 10000] [--quick]     writes docs/bench-paint.md

Needs scikit-learn (bench/requirements.txt). CPU seconds are process CPU seconds, one thread each.
"""

import argparse
import os
import pathlib
import platform
import re
import resource
import subprocess
import tempfile
import time

for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ[name] = "1"

import numpy as np
import sklearn
from sklearn.gaussian_process import GaussianProcessRegressor
from sklearn.gaussian_process.kernels import ConstantKernel, Matern, WhiteKernel

ROOT = pathlib.Path(__file__).resolve().parent.parent
PAGE = ROOT / "docs/bench-paint.md"


def field(chance, n, sd, length, noise):
    """A Matérn 3/2 field on a panel of 1200 by 800 mm, read with noise."""
    x = np.column_stack([chance.uniform(0, 1200, n), chance.uniform(0, 800, n)])
    d = np.linalg.norm(x[:, None] - x[None, :], axis=2) * np.sqrt(3) / length
    k = sd**2 * (1 + d) * np.exp(-d)
    y = np.linalg.cholesky(k + 1e-9 * np.eye(n)) @ chance.standard_normal(n) + noise * chance.standard_normal(n)
    return x, y


def side_by_side(seed):
    """Three fields drawn now, solved by scikit-learn; our side reads them and compares. Rows for the page."""
    chance = np.random.default_rng(seed)
    rows = ["set,what,a,b,c,d"]
    for name, n, sd, length, noise in [("small", 8, 3.0, 250.0, 1.5), ("medium", 60, 6.0, 400.0, 2.0), ("large", 150, 2.0, 900.0, 1.0)]:
        x, y = field(chance, n, sd, length, noise)
        kernel = ConstantKernel(sd**2, "fixed") * Matern(length, "fixed", nu=1.5)
        gp = GaussianProcessRegressor(kernel, alpha=noise**2, optimizer=None).fit(x, y)
        rows.append(f"{name},kernel,{sd**2!r},{length!r},{noise**2!r},{gp.log_marginal_likelihood_value_!r}")
        rows += [f"{name},point,{a!r},{b!r},{v!r}," for (a, b), v in zip(x.tolist(), y.tolist())]
        targets = np.column_stack([chance.uniform(0, 1200, 25), chance.uniform(0, 800, 25)])
        mean, std = gp.predict(targets, return_std=True)
        rows += [
            f"{name},target,{a!r},{b!r},{m!r},{s!r}"
            for (a, b), m, s in zip(targets.tolist(), mean.tolist(), std.tolist())
        ]
    with tempfile.NamedTemporaryFile("w", suffix=".csv", delete=False) as file:
        file.write("\n".join(rows).replace("np.float64(", "").replace(")", "") + "\n")
    out = cargo(
        ["test", "--release", "-p", "paint", "--lib", "fields_of_a_file", "--", "--ignored", "--nocapture"],
        {"GP_FIELDS": file.name},
    )
    return re.findall(r"^(\w+): n (\d+), mean ([\d.e-]+), sd ([\d.e-]+), likelihood ([\d.e-]+)", out, re.M)


def cargo(args, extra=None):
    run = subprocess.run(["cargo", *args], cwd=ROOT, env={**os.environ, **(extra or {})}, capture_output=True, text=True)
    if run.returncode:
        raise SystemExit(f"cargo {' '.join(args)} failed:\n{run.stdout[-2000:]}\n{run.stderr[-2000:]}")
    return run.stdout


def speed():
    """Ours: the survey benchmark. Reference: scikit-learn fits the same kind of panels by marginal likelihood."""
    ours = cargo(["run", "--release", "-q", "-p", "paint", "--example", "survey_speed"])
    chance = np.random.default_rng(5)
    grid = np.column_stack([a.ravel() for a in np.meshgrid(np.linspace(0, 1200, 24), np.linspace(0, 800, 16))])

    def fit(n):
        x, y = field(chance, n, 3.0, 350.0, 2.0)
        kernel = ConstantKernel(9.0, (0.1, 1e3)) * Matern(350.0, (100.0, 2000.0), nu=1.5) + WhiteKernel(4.0, (0.1, 50.0))
        GaussianProcessRegressor(kernel).fit(x, y - y.mean()).predict(grid, return_std=True)

    start = time.process_time()
    for _ in range(40):
        fit(125)
    panels = time.process_time() - start
    start = time.process_time()
    fit(500)
    return ours, panels, time.process_time() - start


def main():
    args = argparse.ArgumentParser()
    args.add_argument("--seed", type=int, default=int(time.time()) % 1_000_000)
    args.add_argument("--panels", type=int, default=10_000)
    args = args.parse_args()
    commit = subprocess.run(["git", "rev-parse", "--short", "HEAD"], cwd=ROOT, capture_output=True, text=True).stdout.strip()
    fields = side_by_side(args.seed)
    ours, panels, one = speed()
    before = resource.getrusage(resource.RUSAGE_CHILDREN).ru_utime
    study = cargo(
        ["test", "--release", "-p", "paint", "--test", "calibration", "the_bound_holds_as_often", "--", "--ignored", "--nocapture"],
        {"CALIBRATION_SEED": str(args.seed), "CALIBRATION_PANELS": str(args.panels)},
    )
    spent = resource.getrusage(resource.RUSAGE_CHILDREN).ru_utime - before
    lines = [
        "# Paint measured",
        "",
        f"`cargo xtask bench paint --seed {args.seed}`, commit {commit}, {platform.machine()}, scikit-learn {sklearn.__version__}, one thread each.",
        "",
        "## Gaussian process beside scikit-learn",
        "",
        "Matérn 3/2 fields drawn in this run; largest difference over 25 places each.",
        "",
        "| field | readings | mean | sd | log marginal likelihood |",
        "| --- | --- | --- | --- | --- |",
        *[f"| {name} | {n} | {float(a):.1e} | {float(b):.1e} | {float(c):.1e} |" for name, n, a, b, c in fields],
        "",
        "## Calibration",
        "",
        f"{args.panels} panels drawn from the default settings with this seed, which was not used for tuning ({spent:.0f} s of CPU).",
        "",
        "```",
        *[line for line in study.splitlines() if "%" in line],
        "```",
        "",
        "## Speed",
        "",
        "```",
        ours.strip(),
        "```",
        "",
        f"scikit-learn on as many readings (40 panels of 125, one kernel fitted by marginal likelihood, a grid of 384 places): {panels:.1f} s of CPU; one panel of 500: {one:.1f} s. It answers less: no kinds of finish, no layers, no distribution of the least.",
        "",
    ]
    PAGE.write_text("\n".join(lines))
    print("\n".join(lines))


main()
