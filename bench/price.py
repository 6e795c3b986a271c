"""Prices measured: how often P80 holds, how fast a slower shop is learnt, draws, and seam plans beside references.

    python bench/price.py [--quick] [--binary target/release/examples/study]     writes docs/bench-price.md

Reference, not ours: scipy's `milp` (HiGHS) solves the seam chains as set partitioning, with pieces priced anew here from
the formula on the page. CPU seconds are process CPU seconds of one thread.
"""

import argparse
import math
import os
import pathlib
import resource
import subprocess
import time

for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ[name] = "1"

import numpy as np
import scipy
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import lil_matrix

ROOT = pathlib.Path(__file__).resolve().parent.parent
PAGE = ROOT / "docs/bench-price.md"


def built():
    subprocess.run(["cargo", "build", "--release", "-p", "price", "--example", "study"], cwd=ROOT, check=True)
    return str(pathlib.Path(os.environ.get("CARGO_TARGET_DIR", ROOT / "target")) / "release/examples/study")


def run(binary, *args):
    """Lines of a part and its CPU seconds."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    out = subprocess.run([binary, *map(str, args)], capture_output=True, text=True, check=True).stdout
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    spent = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return out.splitlines(), spent


def coverage(binary, shops, part):
    lines, spent = run(binary, part, shops)
    rows = [line.split("|")[1:] for line in lines]
    return [(name, int(jobs), int(n), float(p50), float(p80), float(p95)) for name, jobs, n, p50, p80, p95 in rows], spent


def piece(area, rate, box):
    """Install and present value of renewals, by the formula of the crate's README; infinite when no roll holds it."""
    trim, film, offcut, wage, years, r = 0.015, 65.0, 0.3, 75.0, 6.0, 0.03
    long, high = box[1] - box[0] + 2 * trim, box[3] - box[2] + 2 * trim
    least = math.inf
    for along, across in ((long, high), (high, long)):
        for roll in (0.61, 0.76, 1.52):
            if roll >= across - 1e-9:
                least = min(least, along * roll - offcut * (roll - across) * along)
    used = max(least, area)
    install = math.exp(0.12 * area) * (used * film + wage * (25 + 70 * area) / 60)
    renewal = install + wage * (40 * area + 90) / 60
    return install + rate * renewal * (1 - math.exp(-r * years)) / r


def chain(numbers):
    sections = np.array(numbers[: 31 * 6]).reshape(31, 6)
    seams = np.array(numbers[31 * 6 :]).reshape(30, 2)
    rates = (2 / 200, 9 / 60)
    columns, costs = [], []
    for i in range(31):
        for j in range(i + 1, 32):
            part = sections[i:j]
            box = (part[:, 2].min(), part[:, 3].max(), part[:, 4].min(), part[:, 5].max())
            rate = sum(area * rates[int(zone)] for area, zone in part[:, :2])
            cost = piece(part[:, 0].sum(), rate, box)
            if math.isfinite(cost):
                # the seam at its end, if it has one, is worked and seen
                if j < 31:
                    length, seen = seams[j - 1]
                    cost += length * 8 / 60 * 75 + seen * 20
                columns.append((i, j))
                costs.append(cost)
    cover = lil_matrix((31, len(columns)))
    for k, (i, j) in enumerate(columns):
        cover[i:j, k] = 1
    before = time.process_time()
    answer = milp(
        np.array(costs),
        constraints=LinearConstraint(cover.tocsr(), 1, 1),
        integrality=np.ones(len(columns)),
        bounds=Bounds(0, 1),
        options={"mip_rel_gap": 0.0},
    )
    return answer.fun, time.process_time() - before


def seams(binary):
    lines, spent = run(binary, "seams")
    worst, reference, proved = 0.0, 0.0, 0
    for line in lines:
        _, _, total, proven, *rest = line.split()
        best, seconds = chain([float(x) for x in rest])
        worst = max(worst, abs(best - float(total)))
        reference += seconds
        proved += proven == "true"
    return len(lines), proved, worst, spent, reference


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--quick", action="store_true", help="a quarter of the jobs for laws that are not the model's own")
    parser.add_argument("--binary", help="the example `study`, built already")
    args = parser.parse_args()
    binary = args.binary or built()
    count, proved, worst, ours, theirs = seams(binary)
    print(f"seams: {proved} of {count} proved, worst difference {worst:.6f}, {ours:.2f} s, scipy {theirs:.2f} s", flush=True)
    _, drawing = run(binary, "draws")
    print(f"draws: {drawing:.3f} s", flush=True)
    learned, _ = run(binary, "learning")
    print(*learned, sep="\n", flush=True)
    own, own_spent = coverage(binary, 400, "own")
    print(*own, sep="\n", flush=True)
    other, other_spent = coverage(binary, 100 if args.quick else 400, "other")
    print(*other, sep="\n", flush=True)
    said = lambda p, low, high: f"{100 * p:.1f}" if low <= p <= high else f"**{100 * p:.1f}**"
    rows = [
        f"| {name} | {jobs} | {n:,} | {100 * p50:.1f} | {said(p80, 0.78, 0.82) if (name, jobs, n, p50, p80, p95) in own else said(p80, 0.75, 0.85)} | {100 * p95:.1f} |"
        for name, jobs, n, p50, p80, p95 in own + other
    ]
    table = [line.split("|")[1:] for line in learned]
    PAGE.write_text(
        f"""# Prices measured

`cargo xtask bench price` makes this page. CPU seconds are process CPU seconds of one thread; numpy {np.__version__}, scipy {scipy.__version__}.

## How often a price holds
Jobs of invented shops drawn from a law, fifty a shop; the share whose hours stay within the simulated P50, P80 and P95. Bars: P80 in
78 to 82 % under the model's own law, 75 to 85 % under laws with heavier tails; bold where it is missed. {own_spent:.0f} s and {other_spent:.0f} s of CPU.

| law of the times | finished jobs before | jobs | within P50, % | within P80, % | within P95, % |
| --- | --- | --- | --- | --- | --- |
"""
        + "\n".join(rows)
        + """

The last law says what the model's mishaps say (twice as long), but oftener than it believes; the two with Student's t say something else.

## A shop 25 % slower than the step table
Mean error of the expected hours over 200 shops; bar: under 8 % after 30 finished jobs.

| finished jobs | bias, % | mean error of expected hours, % | mean error of single jobs, % |
| --- | --- | --- | --- |
"""
        + "\n".join(f"| {jobs} | {100 * float(a):+.1f} | {100 * float(b):.1f} | {100 * float(c):.1f} |" for jobs, a, b, c in table)
        + f"""

## Draws
10,000 draws of 60 tasks with a crew of four and two rooms: {drawing:.3f} s of CPU, start of the process counted; bar: 1 s.

## Seams
{count} made chains of 31 sections with 30 candidate seams: {proved} proved best by branch and bound, {ours:.2f} s of CPU in all (bar: 2 s each). The same as
set partitioning by scipy's `milp` (HiGHS), pieces priced anew in Python: {theirs:.2f} s; the totals differ by {worst:.6f} at most, in money of a total near a thousand.
That 500 problems of up to 12 candidates agree with looking at every choice is a test of the crate.
"""
    )


if __name__ == "__main__":
    main()
