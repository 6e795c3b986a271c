"""Nesting against an open-source reference (spyrrow), in one run on one machine.

    python bench/nest.py [--seeds 1,2,3] [--cpu 30] [--sets albano,swim] [--binary FILE] [--results FILE]
    python bench/nest.py --table        only writes docs/bench-nest.md from the results so far

Interleaved, one thread each: the reference first, for as much wall time as should give it the wanted CPU seconds, then
`nest` for exactly the process CPU seconds that the reference used, with the same seed number. Every layout of either is
checked here with shapely, which neither uses: pieces apart by the gap, inside the strip, counts right. Runs already in
the results file are not repeated, so a run that was cut short goes on.
"""

import argparse
import json
import math
import pathlib
import platform
import statistics
import subprocess
import sys
import time

ROOT = pathlib.Path(__file__).resolve().parent.parent
DATA = ROOT / "crates/nest/tests/data"
PAGE = ROOT / "docs/bench-nest.md"
CLASSIC = ["albano", "dagli", "fu", "jakobs1", "mao", "marques", "shapes0", "shirts", "swim", "trousers"]
FILM = ["film_s", "film_m"]
GAP = {"film_s": 4.0, "film_m": 4.0}
JOB = "film_job"
# How often the reference is run again when the machine gave it far fewer CPU seconds than wanted.
TRIES = 3
# Rounding of f64 coordinates, far below anything that can be cut.
ROUNDING = 1e-6


def instance(name):
    return json.loads((DATA / f"{name}.json").read_text())


def checked(data, placed, length, gap, margin):
    """Smallest gap, smallest distance to the edges; fails on anything wrong but a gap, which is returned."""
    from shapely import STRtree

    wanted = sum(i["demand"] for i in data["items"])
    assert len(placed) == wanted, f"{len(placed)} pieces of {wanted}"
    tree = STRtree(placed)
    smallest, overlap = math.inf, 0.0
    for k, piece in enumerate(placed):
        for j in tree.query(piece, predicate="dwithin", distance=gap + 50.0):
            if j > k:
                smallest = min(smallest, piece.distance(placed[j]))
                if piece.intersects(placed[j]):
                    overlap = max(overlap, piece.intersection(placed[j]).area)
    low_x = min(p.bounds[0] for p in placed)
    edge = min(
        low_x,
        min(p.bounds[1] for p in placed),
        data["strip_height"] - max(p.bounds[3] for p in placed),
        length - max(p.bounds[2] for p in placed),
    )
    return {"smallest_gap": smallest, "largest_overlap": overlap, "edge": edge, "margin": margin}


def reference(name, seconds, seed):
    import spyrrow
    from shapely import affinity
    from shapely.geometry import Polygon

    data = instance(name)
    items, shapes = [], {}
    for item in data["items"]:
        ring = [tuple(p) for p in item["shape"]["data"]]
        items.append(spyrrow.Item(str(item["id"]), ring, item["demand"], item.get("allowed_orientations")))
        shapes[str(item["id"])] = Polygon(ring)
    strip = spyrrow.StripPackingInstance(name, data["strip_height"], items)
    config = spyrrow.StripPackingConfig(
        early_termination=False,
        total_computation_time=seconds,
        num_workers=1,
        seed=seed,
        min_items_separation=GAP.get(name),
    )
    start = time.process_time()
    solution = strip.solve(config)
    cpu = time.process_time() - start
    placed = [
        affinity.translate(affinity.rotate(shapes[p.id], p.rotation, origin=(0, 0)), *p.translation)
        for p in solution.placed_items
    ]
    area = sum(shapes[str(i["id"])].area * i["demand"] for i in data["items"])
    found = checked(data, placed, solution.width, GAP.get(name, 0.0), 0.0)
    density = area / (data["strip_height"] * solution.width)
    return {"who": "reference", "cpu_s": cpu, "length": solution.width, "density": density, **found}


def ours(binary, name, seconds, seed, gap, margin):
    from shapely import affinity
    from shapely.geometry import Polygon

    data = instance(name)
    command = [binary, str(DATA / f"{name}.json"), f"{seconds:.2f}", str(seed), str(gap), str(margin)]
    out = subprocess.run(command, capture_output=True, text=True, check=True).stdout
    answer = json.loads(out.splitlines()[-1])
    shapes = {str(i["id"]): Polygon([tuple(p) for p in i["shape"]["data"]]) for i in data["items"]}
    placed = []
    for p in answer["placements"]:
        shape = shapes[p["piece"]]
        if p["mirrored"]:
            shape = affinity.scale(shape, xfact=-1.0, origin=(0, 0))
        placed.append(affinity.translate(affinity.rotate(shape, p["degrees"], origin=(0, 0)), p["x"], p["y"]))
    found = checked(data, placed, answer["length"], gap, margin)
    assert answer["verified"], f"{name} {seed}: not verified by its own check"
    assert found["largest_overlap"] <= ROUNDING, f"{name} {seed}: pieces overlap"
    assert len(placed) < 2 or found["smallest_gap"] >= gap - ROUNDING, f"{name} {seed}: gap {found['smallest_gap']}"
    assert found["edge"] >= margin - ROUNDING, f"{name} {seed}: edge {found['edge']}"
    keep = {k: answer[k] for k in ("cpu_s", "first_s", "length", "density", "samples")}
    return {"who": "nest", **keep, **found}


def version():
    git = ["git", "-C", str(ROOT), "log", "-1", "--format=%h"]
    return subprocess.run(git, capture_output=True, text=True).stdout.strip()


def processor():
    for line in pathlib.Path("/proc/cpuinfo").read_text().splitlines():
        if line.startswith("model name"):
            return line.split(":", 1)[1].strip()
    return platform.processor()


def built():
    command = ["cargo", "build", "--release", "-p", "nest", "--example", "strip", "--message-format=json"]
    out = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True).stdout
    for line in out.splitlines():
        message = json.loads(line)
        if message.get("executable") and message["target"]["name"] == "strip":
            return message["executable"]
    sys.exit("cargo built no program")


class Results:
    def __init__(self, path):
        self.path = path
        self.rows = [json.loads(l) for l in path.read_text().splitlines()] if path.exists() else []

    def find(self, **key):
        return next((r for r in self.rows if all(r.get(k) == v for k, v in key.items())), None)

    def add(self, row):
        self.rows.append(row)
        with self.path.open("a") as file:
            file.write(json.dumps(row) + "\n")


def run(args, results):
    binary = args.binary or built()
    # share of a processor that the reference got last time: its limit is wall time, ours CPU time
    share = 0.5
    stamp = {"date": time.strftime("%d %B %Y"), "commit": args.commit or version(), "wanted_cpu": args.cpu}
    for seed in args.seeds:
        for name in args.sets:
            key = {"set": name, "seed": seed, "wanted_cpu": args.cpu}
            theirs = results.find(who="reference", **key)
            for _ in range(TRIES):
                if theirs is not None:
                    break
                wall = round(args.cpu / share)
                found = {**key, **stamp, **reference(name, wall, seed)}
                share = min(max(found["cpu_s"] / wall, 0.05), 1.0)
                if found["cpu_s"] >= 0.6 * args.cpu:
                    theirs = found
                    results.add(theirs)
            if theirs is None:
                print(f"{name}, seed {seed}: the machine was too busy, left out", flush=True)
                continue
            gap = GAP.get(name, 0.0)
            # the reference keeps the gap to the edges of the strip too
            if results.find(who="nest", margin=gap, **key) is None:
                results.add({**key, **stamp, **ours(binary, name, theirs["cpu_s"], seed, gap, gap)})
            table(results)
        for seconds in (5, args.cpu):
            key = {"set": JOB, "seed": seed, "wanted_cpu": seconds}
            if results.find(who="nest", **key) is None:
                results.add({**stamp, **key, **ours(binary, JOB, seconds, seed, 4.0, 5.0)})
        table(results)


def pairs(results, name):
    for theirs in [r for r in results.rows if r["who"] == "reference" and r["set"] == name]:
        key = {k: theirs[k] for k in ("set", "seed", "wanted_cpu")}
        mine = results.find(who="nest", margin=GAP.get(name, 0.0), **key)
        if mine:
            yield theirs, mine


def line(cells):
    return "| " + " | ".join(cells) + " |"


def table(results):
    rows, ours_mean, theirs_mean = [], [], []
    for name in CLASSIC + FILM:
        found = list(pairs(results, name))
        if not found:
            continue
        theirs = 100 * statistics.mean(t["density"] for t, _ in found)
        mine = 100 * statistics.mean(m["density"] for _, m in found)
        spread = [100 * (m["density"] - t["density"]) for t, m in found]
        if name in CLASSIC:
            ours_mean.append(mine)
            theirs_mean.append(theirs)
        rows.append(
            line(
                [
                    name,
                    ", ".join(str(t["seed"]) for t, _ in found),
                    f"{statistics.mean(t['cpu_s'] for t, _ in found):.1f}",
                    f"{theirs:.2f}",
                    f"{mine:.2f}",
                    f"{mine - theirs:+.2f}",
                    f"{min(spread):+.2f} to {max(spread):+.2f}",
                ]
            )
        )
    # a mean of some sets says nothing about all
    if len(ours_mean) == len(CLASSIC):
        a, b = statistics.mean(theirs_mean), statistics.mean(ours_mean)
        rows.append(line(["mean of the classic sets", "", "", f"{a:.2f}", f"{b:.2f}", f"{b - a:+.2f}", ""]))
    job = [r for r in results.rows if r["set"] == JOB]
    jobs = []
    for seed in sorted({r["seed"] for r in job}):
        short = next((r for r in job if r["seed"] == seed and r["wanted_cpu"] == 5), None)
        long = next((r for r in job if r["seed"] == seed and r["wanted_cpu"] != 5), None)
        if short and long:
            cells = [seed, f"{short['first_s']:.3f}", f"{100 * short['density']:.2f}", f"{100 * long['density']:.2f}"]
            jobs.append(line([*map(str, cells), f"{100 * (short['density'] - long['density']):+.2f}"]))
    commits = sorted({r["commit"] for r in results.rows})
    dates = list(dict.fromkeys(r["date"] for r in results.rows))
    marker = "<!-- the rest is written by hand -->"
    old = PAGE.read_text() if PAGE.exists() else ""
    rest = old[old.index(marker) :] if marker in old else marker + "\n"
    PAGE.write_text(
        "\n".join(
            [
                "# Nesting, against an open-source reference",
                "",
                "Density in percent: area of the pieces over strip width times length used. The reference is spyrrow 0.9.0, the",
                "Python package of the open-source strip-packing optimizer of KU Leuven (arXiv 2509.13329), one worker.",
                "",
                "| set | seeds | CPU s | reference | nest | difference | single runs |",
                "| --- | --- | --- | --- | --- | --- | --- |",
                *rows,
                "",
                f"Written by `bench/nest.py`, {' and '.join(dates)}, commit {', '.join(commits)}, {processor()}, one thread each,",
                "interleaved: the reference first, then `nest` for exactly the process CPU seconds that the reference had used, same",
                "seed number. Every layout of both was checked with shapely, which neither uses; those of `nest` kept gap, margin and",
                f"count; the reference's largest overlap was {max((r['largest_overlap'] for r in results.rows), default=0.0):.2g}.",
                "`film_s` and `film_m` have a gap of 4 mm and a margin of 4 mm, since the reference keeps the gap to the edges too.",
                "",
                f"## A typical job: {JOB}, 30 pieces, 1520 mm, gap 4 mm, margin 5 mm",
                "",
                "| seed | first valid layout after, CPU s | density after 5 CPU s | after 30 CPU s | difference |",
                "| --- | --- | --- | --- | --- |",
                *jobs,
                "",
                rest.rstrip("\n"),
                "",
            ]
        )
    )


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seeds", default="1,2,3,4,5", type=lambda s: [int(x) for x in s.split(",")])
    parser.add_argument("--sets", default=",".join(CLASSIC + FILM), type=lambda s: [x for x in s.split(",") if x])
    parser.add_argument("--cpu", default=30.0, type=float, help="CPU seconds of each run")
    parser.add_argument("--binary", help="the example `strip`, built already")
    parser.add_argument("--commit", help="what it was built from")
    parser.add_argument("--results", default=ROOT / "target/bench-nest.jsonl", type=pathlib.Path)
    parser.add_argument("--table", action="store_true", help="only write the page")
    args = parser.parse_args()
    args.results.parent.mkdir(parents=True, exist_ok=True)
    results = Results(args.results)
    if not args.table:
        run(args, results)
    table(results)


if __name__ == "__main__":
    main()
