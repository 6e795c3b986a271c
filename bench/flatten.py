"""Flattening beside a general-purpose reference: libigl's SLIM (20 iterations from its LSCM map) and ARAP.

Makes the test meshes, runs the reference and ours on each in turn, and recomputes every stretch from the two meshes
written by ours with numpy alone. Worst stretch: after scaling so that nothing is compressed. CPU seconds of the
process or thread; ratios are what counts, the machine may be busy.

    python bench/flatten.py --binary target/release/shutline [--quick] [--out docs/bench-flatten.md]

Spherical caps: least worst stretch alpha / sin alpha - 1 (Milnor, A problem in cartography, American Mathematical
Monthly 76, 1969, 1101-1112).
"""

import argparse
import datetime
import json
import os
import subprocess
import tempfile
import time

os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import igl
import numpy as np
from scipy.spatial import Delaunay


def rings(count):
    """A unit disk of `count` rings of triangles."""
    points, start = [(0.0, 0.0)], [0]
    for k in range(1, count + 1):
        start.append(len(points))
        angle = 2 * np.pi * np.arange(6 * k) / (6 * k)
        points += list(zip(k / count * np.cos(angle), k / count * np.sin(angle)))
    triangles = []
    for k in range(1, count + 1):
        for s in range(6):
            for j in range(k):
                a, b = start[k] + s * k + j, start[k] + (s * k + j + 1) % (6 * k)
                m = k - 1
                c = start[k - 1] + (s * m + j) % (6 * m) if m else 0
                triangles.append((c, a, b))
                if j < m:
                    triangles.append((c, b, start[k - 1] + (s * m + j + 1) % (6 * m)))
    return np.array(points), np.array(triangles)


def cap(degrees, count):
    points, triangles = rings(count)
    theta = np.hypot(*points.T) * np.radians(degrees)
    phi = np.arctan2(points[:, 1], points[:, 0])
    xyz = np.c_[np.sin(theta) * np.cos(phi), np.sin(theta) * np.sin(phi), np.cos(theta)]
    return 1000.0 * xyz, triangles


def grid(n):
    x, y = np.meshgrid(np.linspace(0, 1, n), np.linspace(0, 1, n), indexing="ij")
    i, j = np.meshgrid(np.arange(n - 1), np.arange(n - 1), indexing="ij")
    a = (i * n + j).ravel()
    b, c, d = a + n, a + n + 1, a + 1
    odd = ((i + j) % 2).ravel().astype(bool)
    parts = [np.c_[a, b, c][odd], np.c_[a, c, d][odd], np.c_[a, b, d][~odd], np.c_[b, c, d][~odd]]
    return np.c_[x.ravel(), y.ravel()], np.concatenate(parts)


def cylinder():
    p, triangles = grid(101)
    return 1000 * np.c_[0.8 * np.sin(p[:, 0] * 1.5 / 0.8), p[:, 1], 0.8 * np.cos(p[:, 0] * 1.5 / 0.8)], triangles


def cone():
    p, triangles = grid(101)
    half, turn, r = np.radians(25), p[:, 0] * np.radians(120), 0.3 + 0.9 * p[:, 1]
    return 1000 * np.c_[r * np.sin(half) * np.cos(turn), r * np.sin(half) * np.sin(turn), r * np.cos(half)], triangles


def panel(h, noise=0.0, seed=1):
    """An invented body panel, 1200 x 700 mm: wheel arch with a flare, shoulder crease, a bulge."""
    rng = np.random.default_rng(seed)
    width, height, center, radius = 1200.0, 700.0, np.array([520.0, -60.0]), 340.0
    columns, rows, points = len(np.arange(0, width + h / 2, h)), int(round(height / (h * 0.866))), []
    for k in range(rows + 1):
        x = np.linspace(0, width, columns)
        if k % 2:
            x = np.r_[0, x[:-1] + h / 2, width]
        points.append(np.c_[x, np.full(len(x), height * k / rows)])
    points = np.vstack(points)
    inner = (points[:, 0] > 1) & (points[:, 0] < width - 1) & (points[:, 1] > 1) & (points[:, 1] < height - 1)
    points[inner] += rng.uniform(-0.18, 0.18, (inner.sum(), 2)) * h
    points = points[np.hypot(*(points - center).T) > radius + 0.45 * h]
    begin = np.arcsin(-center[1] / radius)
    angle = np.linspace(begin, np.pi - begin, int(radius * (np.pi - 2 * begin) / h) + 1)
    points = np.vstack([points, center + radius * np.c_[np.cos(angle), np.sin(angle)]])
    triangles = Delaunay(points).simplices
    middle = points[triangles].mean(1)
    triangles = triangles[np.hypot(*(middle - center).T) > radius * np.cos(h / radius) * 0.9999]
    x, y = points.T
    d = np.hypot(*(points - center).T)
    z = -((x - 600) ** 2) / 5200 - (y - 250) ** 2 / 2200 + 28 * np.exp(-(((d - 375) / 55) ** 2))
    z += -12 * np.logaddexp(0, (y - (470 + 0.05 * x)) / 18)
    z += 22 * np.exp(-(((x - 980) / 110) ** 2 + ((y - 330) / 90) ** 2))
    xyz = np.c_[x, y, z]
    normal = np.cross(xyz[triangles[:, 1]] - xyz[triangles[:, 0]], xyz[triangles[:, 2]] - xyz[triangles[:, 0]])
    keep = np.linalg.norm(normal, axis=1) / 2 > 1e-3 * h * h
    triangles, normal = triangles[keep], normal[keep]
    turned = normal[:, 2] < 0
    triangles[turned] = triangles[turned][:, ::-1]
    used = np.unique(triangles)
    number = np.full(len(xyz), -1)
    number[used] = np.arange(len(used))
    xyz, triangles = xyz[used], number[triangles]
    return (xyz + rng.normal(0, noise, xyz.shape) if noise else xyz), triangles


def write(path, vertices, triangles):
    with open(path, "w") as out:
        out.writelines("v %.9g %.9g %.9g\n" % tuple(v) for v in vertices)
        out.writelines("f %d %d %d\n" % tuple(t) for t in triangles + 1)


def read(path):
    vertices, triangles = [], []
    for line in open(path):
        word = line.split()
        if word and word[0] == "v":
            vertices.append([float(x) for x in word[1:4]])
        elif word and word[0] == "f":
            triangles.append([int(x.split("/")[0]) - 1 for x in word[1:4]])
    return np.array(vertices), np.array(triangles)


def stretch(surface, triangles, flat):
    """Flipped triangles, worst and 99.5 % stretch once nothing is compressed, from the two meshes alone."""
    p, q = surface[triangles[:, 1]] - surface[triangles[:, 0]], surface[triangles[:, 2]] - surface[triangles[:, 0]]
    length = np.linalg.norm(p, axis=1)
    along = (p * q).sum(1) / length
    area = np.linalg.norm(np.cross(p, q), axis=1) / 2
    rest = np.zeros((len(triangles), 2, 2))
    rest[:, 0, 0], rest[:, 0, 1], rest[:, 1, 1] = length, along, 2 * area / length
    film = np.stack([flat[triangles[:, k]] - flat[triangles[:, 0]] for k in (1, 2)], axis=2)
    j = film @ np.linalg.inv(rest)
    det = np.linalg.det(j)
    if np.median(det) < 0:
        det = -det
    factor = 1 / np.linalg.svd(j, compute_uv=False)
    most, least = factor.max(1), factor.min(1)
    order = np.argsort(most)
    place = np.searchsorted(np.cumsum(area[order]), 0.995 * area.sum())
    low = least.min()
    return int((det <= 0).sum()), most.max() / low - 1, most[order][min(place, len(order) - 1)] / low - 1


def reference(vertices, triangles):
    """SLIM and ARAP, 20 iterations each from LSCM: flat shapes and CPU seconds."""
    loops = igl.boundary_loop_all(triangles)
    rim = np.asarray(max(loops, key=len))
    begin = time.process_time()
    two = np.array([rim[0], rim[len(rim) // 2]], dtype=np.int64)
    far = np.linalg.norm(vertices[two[0]] - vertices[two[1]])
    flat = np.array(igl.lscm(vertices, triangles, two, np.array([[0.0, 0.0], [far, 0.0]]))[0])
    start = time.process_time() - begin
    begin = time.process_time()
    data = igl.slim_precompute(
        np.asfortranarray(vertices), np.asfortranarray(triangles.astype(np.int32)), np.asfortranarray(flat),
        igl.SYMMETRIC_DIRICHLET, np.zeros(0, np.int32), np.zeros((0, 2), order="F"), 0.0,
    )
    slim = np.array(igl.slim_solve(data, 20))[:, :2]
    slim_cpu = start + time.process_time() - begin
    begin = time.process_time()
    data = igl.ARAPData()
    data.max_iter = 20
    igl.arap_precomputation(vertices, triangles, 2, np.array([rim[0]], dtype=np.int32), data)
    arap = igl.arap_solve(flat[[rim[0]]], data, np.ascontiguousarray(flat))[:, :2]
    return slim, slim_cpu, arap, start + time.process_time() - begin


def ours(binary, mesh, folder, as_is):
    surface, flat = os.path.join(folder, "surface.obj"), os.path.join(folder, "flat.obj")
    words = [binary, "flatten", mesh, "--surface", surface, "--flat", flat, "--json"] + (["--as-is"] if as_is else [])
    answer = json.loads(subprocess.run(words, check=True, capture_output=True, text=True).stdout)
    vertices, triangles = read(surface)
    film, same = read(flat)
    assert (triangles == same).all(), "the two meshes differ in their triangles"
    return answer, stretch(vertices, triangles, film[:, :2])


def relief(binary, mesh, folder, limit):
    """The front of relief cuts and seams, and the plan that keeps a limit (percent), its stretch recomputed here."""
    surface, flat = os.path.join(folder, "surface.obj"), os.path.join(folder, "flat.obj")
    words = [binary, "flatten", mesh, "--relief", "--limit", str(limit), "--surface", surface, "--flat", flat, "--json"]
    answer = json.loads(subprocess.run(words, check=True, capture_output=True, text=True).stdout)
    vertices, triangles = read(surface)
    film, _ = read(flat)
    flips, worst, _ = stretch(vertices, triangles, film[:, :2])
    return answer, flips, worst


def meshes(quick):
    for degrees in (10, 20, 30, 60):
        alpha = np.radians(degrees)
        yield f"cap {degrees}°, 20k", cap(degrees, 58), alpha / np.sin(alpha) - 1
    yield "cylinder, 20k", cylinder(), 0.0
    yield "cone, 20k", cone(), 0.0
    for h, name in ((23.0, "3k"), (9.0, "20k"), (4.0, "100k")):
        if not (quick and name == "100k"):
            yield f"panel, {name}", panel(h), None


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--binary", default="target/release/shutline")
    parser.add_argument("--quick", action="store_true", help="without the largest meshes")
    parser.add_argument("--out", default="docs/bench-flatten.md")
    asked = parser.parse_args()
    table, cleaned = [], []
    with tempfile.TemporaryDirectory() as folder:
        for name, (vertices, triangles), known in meshes(asked.quick):
            path = os.path.join(folder, "mesh.obj")
            write(path, vertices, triangles)
            vertices, triangles = read(path)
            slim, slim_cpu, arap, arap_cpu = reference(vertices, triangles)
            answer, (flips, worst, p995) = ours(asked.binary, path, folder, True)
            cpu = answer["cpu_s"]
            first = cpu["start"] + cpu["symmetric_dirichlet"]
            row = [
                name,
                "" if known is None else f"{100 * known:.4f}",
                f"{100 * stretch(vertices, triangles, slim)[1]:.4f}",
                f"{100 * stretch(vertices, triangles, arap)[1]:.4f}",
                f"{100 * worst:.4f}",
                f"{100 * p995:.4f}",
                f"{100 * answer['lower_bound']:.4f}",
                str(flips),
                f"{slim_cpu:.2f}",
                f"{arap_cpu:.2f}",
                f"{cpu['symmetric_dirichlet']:.3f}",
                f"{first:.2f}",
                f"{cpu['total']:.2f}",
                f"{cpu['total'] / slim_cpu:.2f}",
            ]
            table.append(row)
            print(" | ".join(row), flush=True)
        for h, name in ((9.0, "20k"),) if asked.quick else ((9.0, "20k"), (4.0, "100k")):
            reached = []
            for noise in (0.0, 0.3):
                path = os.path.join(folder, "mesh.obj")
                write(path, *panel(h, noise))
                answer, (flips, worst, _) = ours(asked.binary, path, folder, False)
                reached.append((worst, flips, answer["triangles"], answer["lower_bound"], answer["cpu_s"]["total"]))
            (clean, *_), (noisy, flips, count, bound, cpu) = reached
            row = [f"panel, {name}", f"{100 * clean:.4f}", f"{100 * noisy:.4f}", f"{noisy / clean - 1:+.1%}",
                   f"{100 * bound:.4f}", str(flips), str(count), f"{cpu:.2f}"]
            cleaned.append(row)
            print(" | ".join(row), flush=True)
        path = os.path.join(folder, "mesh.obj")
        write(path, *panel(23.0))
        relieved = relief(asked.binary, path, folder, LIMIT)
    report(asked, table, cleaned, relieved)


# Percent; the worst stretch that the plan of the panel of 3k triangles is to keep.
LIMIT = 1.3


def bars(table):
    """The bars that were set, and what was reached."""
    number = lambda row, column: float(row[column])
    caps = [row for row in table if row[0].startswith("cap")]
    flat = [row for row in table if row[0].startswith(("cylinder", "cone"))]
    panels = [row for row in table if row[0].startswith("panel")]
    said = []

    def bar(words, reached, most, unit):
        said.append(f"| {words} | {most}{unit} | {reached:.3f}{unit} | {'met' if reached <= most else 'NOT met'} |")

    for row in caps:
        bar(f"{row[0]}: worst stretch over Milnor's", number(row, 4) / number(row, 1), 1.03 if "60" in row[0] else 1.02, " ×")
    bar("cylinder and cone: worst stretch", max(number(row, 4) for row in flat), 0.01, " %")
    for row in panels:
        bar(f"{row[0]}: worst stretch over SLIM's", number(row, 4) / number(row, 2), 0.5, " ×")
    for row in panels:
        if "100k" in row[0]:
            bar(f"{row[0]}: symmetric Dirichlet over SLIM's CPU", number(row, 10) / number(row, 8), 0.1, " ×")
            bar(f"{row[0]}: all of ours over SLIM's CPU", number(row, 12) / number(row, 8), 0.5, " ×")
    return said


def report(asked, table, cleaned, relieved):
    head = ["mesh", "least (Milnor)", "SLIM 20", "ARAP 20", "ours", "ours, 99.5 %", "bound", "flips", "SLIM s", "ARAP s",
            "symmetric Dirichlet s", "first result s", "ours s", "ours / SLIM"]
    second = ["mesh", "clean", "0.3 mm noise", "difference", "bound", "flips", "triangles", "CPU s"]
    line = lambda row: "| " + " | ".join(row) + " |\n"
    with open(asked.out, "w") as out:
        out.write("# Flattening, against an open-source reference\n\n")
        out.write("Worst stretch in percent, once nothing is compressed, recomputed from the two meshes with numpy alone. "
                  f"The reference is libigl {igl.__version__ if hasattr(igl, '__version__') else '2.6'}: SLIM (20 iterations) "
                  "and ARAP (20 iterations), both from its own LSCM map. CPU seconds, one thread each, mesh after mesh.\n\n")
        out.write(line(head) + line(["---"] * len(head)) + "".join(map(line, table)))
        out.write("\nThe same panel cleaned and given new triangles, with and without noise:\n\n")
        out.write(line(second) + line(["---"] * len(second)) + "".join(map(line, cleaned)))
        out.write("\nBars:\n\n| bar | at most | reached | |\n| --- | --- | --- | --- |\n" + "\n".join(bars(table)) + "\n")
        answer, flips, worst = relieved
        cpu = answer["cpu_s"]["total"]
        out.write(
            f"\nRelief cuts and seams on the panel of 3k triangles, limit {LIMIT} %: the search and the pieces laid flat anew "
            f"took {cpu:.2f} CPU s (at most 20: {'met' if cpu <= 20 else 'NOT met'}); the plan's pieces, recomputed from the "
            f"meshes written, stretch by {100 * worst:.4f} % at worst ({'met' if 100 * worst < LIMIT else 'NOT met'}), "
            f"{flips} flipped.\n\n"
        )
        out.write(line(["cuts", "pieces", "in sight, mm", "worst, searched", "laid flat"]) + line(["---"] * 5))
        for plan in answer["front"]:
            laid = plan["laid_flat"]
            out.write(line([str(plan["cuts"]), str(plan["pieces"]), f"{plan['in_sight_mm'] + 0:.0f}",
                            f"{100 * plan['worst_stretch']:.4f}", "" if laid is None else f"{100 * laid:.4f}"]))
        out.write(f"\nMade by `bench/flatten.py` on {datetime.date.today().isoformat()}. CPU seconds depend on what else the "
                  "machine does; ratios are of one run.\n")


if __name__ == "__main__":
    main()
