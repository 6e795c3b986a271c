"""Cut files of a layout, read back by readers that are not ours: DXF by ezdxf, SVG by Python's XML reader.

    python bench/cutfiles.py [--binary FILE]

Lays out `film_job` in half a CPU second, writes it as DXF and SVG by the example `strip`, reads both back and compares
every corner of every outline with the layout, to 0.01 mm. Fails loudly.
"""

import argparse
import json
import math
import os
import pathlib
import subprocess
import tempfile
import xml.etree.ElementTree as xml

import ezdxf
from nest import DATA, built

NEAR = 0.01
WIDTH = 1520.0


def corners(item, p):
    turn = math.radians(p["degrees"])
    for x, y in item["shape"]["data"]:
        x = -x if p["mirrored"] else x
        yield (
            x * math.cos(turn) - y * math.sin(turn) + p["x"],
            x * math.sin(turn) + y * math.cos(turn) + p["y"],
        )


def laid(binary, out):
    command = [binary, str(DATA / "film_job.json"), "0.5", "1", "4", "5"]
    text = subprocess.run(command, capture_output=True, text=True, check=True, env={**os.environ, "OUT": out}).stdout
    items = {str(i["id"]): i for i in json.loads((DATA / "film_job.json").read_text())["items"]}
    return [list(corners(items[p["piece"]], p)) for p in json.loads(text.splitlines()[-1])["placements"]]


def compare(wanted, found, what):
    assert len(found) == len(wanted), f"{what}: {len(found)} outlines for {len(wanted)}"
    worst = 0.0
    for ring in wanted:
        # repeated corners are dropped on the way in, so corners are compared as sets, both ways
        best = min(found, key=lambda f: far(ring, f))
        off = far(ring, best)
        assert off <= NEAR, f"{what}: an outline is off by {off:.4f} mm"
        worst = max(worst, off)
        found.remove(best)
    print(f"{what}: {len(wanted)} outlines, farthest corner off by {worst:.6f} mm")


def far(a, b):
    near = lambda p, ring: min(math.dist(p, q) for q in ring)
    return max(max(near(p, b) for p in a), max(near(q, a) for q in b))


def dxf(path):
    document = ezdxf.readfile(path)
    assert document.dxfversion == "AC1009" and document.header["$INSUNITS"] == 4
    audit = document.audit()
    assert not audit.errors, audit.errors
    rings = []
    for line in document.modelspace().query('POLYLINE[layer=="cut"]'):
        assert line.is_closed
        rings.append([(v.x, WIDTH - v.y) for v in line.points()])
    return rings


def svg(path):
    root = xml.parse(path).getroot()
    assert root.get("width").endswith("mm") and root.get("viewBox").split()[2] == root.get("width")[:-2]
    space = "{http://www.w3.org/2000/svg}"
    layer = next(g for g in root.iter(f"{space}g") if g.get("id") == "cut")
    rings = []
    for path in layer.iter(f"{space}path"):
        points = path.get("d").rstrip("Z").replace("M", "L").split("L")[1:]
        rings.append([tuple(map(float, p.split())) for p in points])
    return rings


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--binary", help="the example `strip`, built already")
    binary = parser.parse_args().binary or built()
    with tempfile.TemporaryDirectory() as folder:
        for ending, read in (("dxf", dxf), ("svg", svg)):
            path = str(pathlib.Path(folder) / f"cut.{ending}")
            wanted = laid(binary, path)
            compare(wanted, read(path), ending.upper())


if __name__ == "__main__":
    main()
