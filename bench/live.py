"""Many devices that listen while the record goes on.

Opens connections for server-sent events, changes the record from a connection of its own, and counts, for each listener,
whether it was told of every change that it waited for: the number of the journal's last event that a `news` event names
must reach that of every change, and never go back. Also says the resident memory of the server.

    shutline demo --dir DIR --port 5170 &
    python3 bench/live.py --port 5170 --pid PID --devices 200 --seconds 600

Standard library alone. The demo's door stands open, so nobody signs in here.
"""

import argparse
import asyncio
import bisect
import http.client
import statistics
import time
import urllib.parse


def resident(pid):
    """Resident memory of a process in MB, by the system's own account; None where it has none."""
    try:
        with open(f"/proc/{pid}/status", encoding="ascii") as status:
            for line in status:
                if line.startswith("VmRSS:"):
                    return int(line.split()[1]) / 1024
    except OSError:
        return None
    return None


class Listener:
    """One device: what it was told, and when."""

    def __init__(self, port, after):
        self.port, self.seen, self.gone_back, self.broken = port, after, 0, 0
        self.told = {}

    async def run(self, until):
        while time.monotonic() < until:
            try:
                await self.listen(until)
            except (OSError, asyncio.IncompleteReadError):
                self.broken += 1
                await asyncio.sleep(0.5)

    async def listen(self, until):
        reader, writer = await asyncio.open_connection("127.0.0.1", self.port)
        try:
            ask = f"GET /live?after={self.seen} HTTP/1.1\r\nHost: 127.0.0.1:{self.port}\r\nAccept: text/event-stream\r\n\r\n"
            writer.write(ask.encode())
            await writer.drain()
            head = await reader.readuntil(b"\r\n\r\n")
            if b" 200 " not in head.split(b"\r\n", 1)[0]:
                raise OSError(head[:80])
            while (left := until - time.monotonic()) > 0:
                try:
                    line = await asyncio.wait_for(reader.readline(), min(left, 30))
                except asyncio.TimeoutError:
                    continue
                if not line:
                    raise OSError("closed")
                if line.startswith(b"data: "):
                    head = int(line[6:].split()[0])
                    self.gone_back += head < self.seen
                    self.seen = max(self.seen, head)
                    self.told[head] = time.monotonic()
        finally:
            writer.close()


def head_of(port):
    """The number of the journal's last event, as every page carries it."""
    page = ask(port, "GET", "/")
    return int(page.split('data-seq="', 1)[1].split('"', 1)[0])


def ask(port, method, path, fields=None):
    """One request; the body as text."""
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
    body = urllib.parse.urlencode(fields) if fields else None
    kind = {"Content-Type": "application/x-www-form-urlencoded"} if fields else {}
    connection.request(method, path, body, kind)
    answer = connection.getresponse()
    text = answer.read().decode("utf-8", "replace")
    connection.close()
    if answer.status >= 400:
        raise SystemExit(f"{method} {path} answers {answer.status}")
    return text


async def change(port, job, until, every, changes):
    """Writes a note every so often; keeps the number of the record after it, and when it was asked for."""
    count = 0
    while time.monotonic() < until:
        count += 1
        begun = time.monotonic()
        await asyncio.to_thread(
            ask, port, "POST", f"/cars/{job}/arrival", {"form": "note", "text": f"Load test, change {count}."}
        )
        changes.append((await asyncio.to_thread(head_of, port), begun))
        await asyncio.sleep(max(0.0, every - (time.monotonic() - begun)))


async def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--port", type=int, required=True)
    parser.add_argument("--pid", type=int, help="process of the server, for its memory")
    parser.add_argument("--devices", type=int, default=200)
    parser.add_argument("--seconds", type=float, default=600)
    parser.add_argument("--every", type=float, default=0.5, help="seconds between changes")
    parser.add_argument("--job", default="0001")
    args = parser.parse_args()

    memory = [("before", resident(args.pid))]
    after = head_of(args.port)
    until = time.monotonic() + args.seconds
    listeners = [Listener(args.port, after) for _ in range(args.devices)]
    # They listen a little longer than changes are written.
    tasks = [asyncio.create_task(listener.run(until + 5)) for listener in listeners]
    await asyncio.sleep(2)
    memory.append(("start, all connected", resident(args.pid)))
    changes = []
    writing = asyncio.create_task(change(args.port, args.job, until, args.every, changes))
    await asyncio.sleep(max(0.0, args.seconds / 2 - 2))
    memory.append(("middle", resident(args.pid)))
    await writing
    memory.append(("end", resident(args.pid)))
    await asyncio.gather(*tasks)

    lost, late = 0, []
    for listener in listeners:
        told = sorted(listener.told.items())
        numbers = [number for number, _ in told]
        for head, begun in changes:
            i = bisect.bisect_left(numbers, head)
            if i == len(told):
                lost += 1
            else:
                late.append(told[i][1] - begun)
    late.sort()
    print(f"{len(changes)} changes, {args.devices} devices, {args.seconds:.0f} s")
    print(f"lost: {lost} of {len(changes) * args.devices}")
    print(f"told of an older record: {sum(x.gone_back for x in listeners)}")
    print(f"connections that broke: {sum(x.broken for x in listeners)}")
    if late:
        print(f"told after: median {statistics.median(late):.3f} s, 99 % {late[int(0.99 * (len(late) - 1))]:.3f} s, worst {late[-1]:.3f} s")
    for name, mb in memory:
        print(f"memory {name}: " + ("not known" if mb is None else f"{mb:.1f} MB"))
    raise SystemExit(1 if lost or not changes else 0)


if __name__ == "__main__":
    asyncio.run(main())
