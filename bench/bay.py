"""The server measured: start, pages and search in a studio of many jobs, fifty requests a second.

    python bench/bay.py [--jobs 5000] [--requests 3000] [--binary FILE] [--many FILE] [--folder FOLDER]

Writes docs/bench-bay.md. The studio is made by `--example many` (the demo's past over and over); a folder that holds one
already is used as it is. Client and server share the machine: what the client needs is in the figures.
"""

import argparse
import datetime
import gzip
import http.client
import os
import pathlib
import platform
import queue
import socket
import statistics
import subprocess
import tempfile
import threading
import time
import urllib.parse

ROOT = pathlib.Path(__file__).resolve().parent.parent
PAGE = ROOT / "docs/bench-bay.md"
RATE = 50
PASSPHRASE = "heron lamp gravel noon"
FORM = {"content-type": "application/x-www-form-urlencoded"}
# A pattern a studio might ask for: the board and open cars often, lists and searches now and then.
PATHS = [
    "/",
    "/cars/0003/work",
    "/cars/0002/survey",
    "/cars?q=teal",
    "/cars/0003/route",
    "/",
    "/cars/0004/arrival",
    "/cars/{last}/handover",
    "/stock",
    "/cars?q={last}",
    "/cars/0003/film",
    "/calendar",
    "/cars/0002/offer",
    "/cars",
]


def built():
    command = ["cargo", "build", "--release", "--workspace", "--bins", "--example", "many"]
    subprocess.run(command, cwd=ROOT, check=True)
    target = pathlib.Path(os.environ.get("CARGO_TARGET_DIR", ROOT / "target")) / "release"
    return target / "shutline", target / "examples/many"


def free_port():
    with socket.socket() as s:
        s.bind(("127.0.0.1", 0))
        return s.getsockname()[1]


def started(binary, folder):
    """The server, its port, and the seconds until it listened."""
    port = free_port()
    began = time.perf_counter()
    server = subprocess.Popen(
        [binary, "serve", "--dir", folder, "--port", str(port)], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )
    while True:
        try:
            socket.create_connection(("127.0.0.1", port)).close()
            return server, port, time.perf_counter() - began
        except OSError:
            if server.poll() is not None:
                raise SystemExit("the server ended before it listened")
            time.sleep(0.002)


def signed_in(port):
    first = {"name": "Nadia", "passphrase": PASSPHRASE, "again": PASSPHRASE, "pin": "2580"}
    admit = {"owner": "Nadia", "passphrase": PASSPHRASE, "device": "bench"}
    for path, fields in (("/door/first", first), ("/door/admit", admit)):
        c = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
        c.request("POST", path, urllib.parse.urlencode(fields), FORM)
        answer = c.getresponse()
        answer.read()
        cookies = [v.split(";")[0] for k, v in answer.getheaders() if k.lower() == "set-cookie"]
        if answer.status == 303 and cookies:
            return "; ".join(cookies)
    raise SystemExit(f"nobody could sign in: {answer.status}")


def cpu(server):
    fields = pathlib.Path(f"/proc/{server.pid}/stat").read_text().rsplit(")", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def memory(server):
    for line in pathlib.Path(f"/proc/{server.pid}/status").read_text().splitlines():
        if line.startswith("VmRSS"):
            return int(line.split()[1]) / 1024


def load(port, cookie, paths, requests):
    """Seconds of each request by path, sent at a steady rate by as many connections as are needed."""
    work, took, wrong = queue.Queue(), {p: [] for p in paths}, []
    lock = threading.Lock()

    def worker():
        c = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
        while (item := work.get()) is not None:
            due, path = item
            c.request("GET", path, headers={"cookie": cookie, "accept-encoding": "gzip"})
            answer = c.getresponse()
            answer.read()
            # from when it was due: waiting for a free connection counts
            with lock:
                took[path].append(time.perf_counter() - due)
                if answer.status != 200:
                    wrong.append((path, answer.status))

    threads = [threading.Thread(target=worker, daemon=True) for _ in range(24)]
    for t in threads:
        t.start()
    began = time.perf_counter() + 0.1
    for i in range(requests):
        due = began + i / RATE
        time.sleep(max(0.0, due - time.perf_counter()))
        work.put((due, paths[i % len(paths)]))
    for _ in threads:
        work.put(None)
    for t in threads:
        t.join()
    if wrong:
        raise SystemExit(f"answers that were no pages: {sorted(set(wrong))}")
    return took


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--jobs", default=5000, type=int)
    parser.add_argument("--requests", default=3000, type=int)
    parser.add_argument("--binary", type=pathlib.Path)
    parser.add_argument("--many", type=pathlib.Path)
    parser.add_argument("--folder", type=pathlib.Path)
    args = parser.parse_args()
    binary, many = (args.binary, args.many) if args.binary and args.many else built()
    folder = args.folder or pathlib.Path(tempfile.mkdtemp()) / "studio"
    if not (folder / "journal.db").exists():
        print(subprocess.run([many, folder, str(args.jobs)], capture_output=True, text=True, check=True).stdout, flush=True)
    starts = []
    for _ in range(5):
        server, _, seconds = started(binary, folder)
        starts.append(seconds)
        server.terminate()
        server.wait()
    server, port, _ = started(binary, folder)
    cookie = signed_in(port)
    paths = [p.format(last=f"{args.jobs:04}") for p in PATHS]
    # every page once: what is reckoned for the first time and then kept
    sizes = {}
    c = http.client.HTTPConnection("127.0.0.1", port, timeout=120)
    for path in dict.fromkeys(paths):
        c.request("GET", path, headers={"cookie": cookie, "accept-encoding": "gzip"})
        answer = c.getresponse()
        body = answer.read()
        sizes[path] = (len(body), len(gzip.decompress(body)))
    time.sleep(10)
    spent = cpu(server)
    took = load(port, cookie, paths, args.requests)
    spent = cpu(server) - spent
    everything = sorted(s for list_ in took.values() for s in list_)
    at = lambda values, share: 1000 * sorted(values)[min(len(values) - 1, int(share * len(values)))]
    search = [s for path, list_ in took.items() if "?q=" in path for s in list_]
    verified = subprocess.run([binary, "verify", "--dir", folder], capture_output=True, text=True, check=True).stdout
    events = int(verified.split()[0])
    rows = [
        f"| `{path}` | {sizes[path][0] / 1000:.1f} | {at(list_, 0.5):.1f} | {at(list_, 0.99):.1f} |"
        for path, list_ in took.items()
    ]
    version = subprocess.run(["git", "-C", ROOT, "log", "-1", "--format=%h"], capture_output=True, text=True).stdout.strip()
    PAGE.write_text(
        "\n".join(
            [
                "# The server measured",
                "",
                f"`python bench/bay.py`, {datetime.date.today():%d %B %Y}, commit {version}, {args.jobs:,} jobs of the demo's own past"
                f" ({events:,} events), {os.cpu_count()} cores"
                f" ({platform.machine()}) shared with the client.",
                "",
                "| what | measured | bar |",
                "| --- | --- | --- |",
                f"| start until it listens, median of five | {1000 * statistics.median(starts):.0f} ms | 300 ms |",
                f"| median page at {RATE} requests a second | {at(everything, 0.5):.1f} ms | 20 ms |",
                f"| p99 | {at(everything, 0.99):.1f} ms | 100 ms |",
                f"| median search | {at(search, 0.5):.1f} ms | 50 ms |",
                f"| largest page, compressed | {max(s[0] for s in sizes.values()) / 1000:.0f} kB | 100 kB |",
                f"| CPU of the server, a page | {1000 * spent / args.requests:.1f} ms | |",
                f"| memory of the server | {memory(server):.0f} MB | |",
                "",
                "| page | kB | median, ms | p99, ms |",
                "| --- | --- | --- | --- |",
                *rows,
                "",
            ]
        )
    )
    server.terminate()
    print(PAGE.read_text())


if __name__ == "__main__":
    main()
