"""An estimate over as many surfaces as a job may have, beside the planning alone: how long it takes, and how much memory.

The surfaces are of mixed materials and sizes: one of each kind is registered through the service, the rest are copies.
"""

import itertools
import json
import os
import subprocess
import threading
import time
import urllib.error
import urllib.request

import fill

# The bars: seconds, times the time of the planning alone, MB above idle.
BAR_SECONDS, BAR_PURE, BAR_MB = 20.0, 5.0, 64.0
# Material, what lies on it, coats, condition.
FLOORS = [
    ("vinyl_composition_tile", "polish", 6, "worn"),
    ("vinyl_sheet", "polish", 4, "scuffed"),
    ("linoleum", "polish", 5, "worn"),
    ("rubber", "bare", None, None),
    ("safety_vinyl", "bare", None, None),
    ("terrazzo_cement", "seal_and_polish", 3, "yellowed"),
    ("ceramic_tile", "bare", None, None),
    ("porcelain", "bare", None, None),
    ("concrete_sealed", "seal", None, "worn"),
    ("marble", "bare", None, None),
    ("hardwood", "seal", None, "worn"),
    ("epoxy", "bare", None, None),
]
# Length and width in m.
SIZES = [(4, 3), (9, 6), (24, 10), (60, 15)]
TRAFFIC = ["light", "medium", "heavy"]


def kinds():
    """A body for each kind of floor, and the same as a line for the planning alone."""
    for number, ((material, kind, coats, condition), (length, width)) in enumerate(itertools.product(FLOORS, SIZES)):
        traffic = TRAFFIC[number % len(TRAFFIC)]
        film = {"kind": kind} | ({"coats": coats} if coats else {}) | ({"condition": condition} if condition else {})
        body = {
            "name": f"Floor {number}",
            "storey": "0",
            "material": material,
            "area_m2": length * width,
            "perimeter_m": 2 * (length + width),
            "built_year": 2010,
            "traffic": traffic,
            "soil": "normal",
            "film": film,
        }
        cells = [material, length * width, 2 * (length + width), kind, coats or "-", condition or "-", traffic, "normal"]
        yield body, ",".join(map(str, cells))


def filled(load, kind, n):
    """A database with `n` surfaces at one site, a token, the site's id and the lines for the planning alone."""
    database = kind(load.directory, "jobs", load.server_url)
    command = load.command(database)
    command("migrate")
    command("tenant", "add", "load")
    token = command("token", "--tenant", "load", "--bundle", "admin", "--hours", "12").splitlines()[-1]
    bodies = list(kinds())
    server = load.service(database, "filling")
    try:
        climate = {"air_c": 20, "humidity_pct": 50}
        site = call(server, "POST", "/v1/sites", token, {"name": "Estate", "country": "GB", "currency": "GBP", "time_zone": "Europe/London", "climate": climate})
        made = [call(server, "POST", "/v1/surfaces", token, body | {"site_id": site["id"]}) for body, _ in bodies]
    finally:
        server.stop()
    lines = [line for _, line in bodies]
    ids = fill.new_ids(max(n - len(made), 0))
    originals = [database.key(fill.uuid.UUID(one["id"].removeprefix("srf_"))) for one in made]
    turns = [(index % len(made), identity) for index, identity in enumerate(ids)]
    copy(database, originals, turns)
    database.settle()
    return database, token, site["id"], [*lines, *(lines[turn] for turn, _ in turns)]


def copy(database, originals, turns):
    """Each surface and what was said of its film, under new ids."""
    surfaces = {bytes_of(row["id"]): row for row in database.rows("SELECT * FROM surfaces")}
    seen = {bytes_of(row["surface_id"]): row for row in database.rows("SELECT * FROM observations")}

    def copies():
        for turn, identity in turns:
            row = surfaces[bytes_of(originals[turn])]
            document = row["document"].replace(database.text(row["id"]), str(identity))
            yield row | {"id": database.key(identity), "document": document}

    def observations():
        for (turn, identity), own in zip(turns, fill.new_ids(len(turns)), strict=True):
            row = seen.get(bytes_of(originals[turn]))
            if row:
                yield row | {"id": database.key(own), "surface_id": database.key(identity)}

    if turns:
        database.put("surfaces", copies())
        database.put("observations", observations())


def bytes_of(key):
    return key if isinstance(key, bytes) else key.bytes


def call(server, method, path, token, body=None):
    headers = {"Authorization": f"Bearer {token}", "Content-Type": "application/json"}
    if method == "POST":
        headers["Idempotency-Key"] = f"jobs-{time.time_ns()}"
    data = None if body is None else json.dumps(body).encode()
    sent = urllib.request.Request(f"http://{server.address}{path}", data, headers, method=method)
    try:
        with urllib.request.urlopen(sent, timeout=60) as answer:
            return json.load(answer)
    except urllib.error.HTTPError as refused:
        raise SystemExit(f"{method} {path}: {refused.code} {refused.read().decode()}") from refused


class Memory:
    """The most memory that a process has while it is watched; what it has before anything is asked of it."""

    def __init__(self, server):
        self.server, self.done = server, threading.Event()
        self.idle_mb = self.most_mb = server.memory_mb()
        self.thread = threading.Thread(target=self.watch, daemon=True)
        self.thread.start()

    def watch(self):
        while not self.done.wait(0.02):
            self.most_mb = max(self.most_mb, self.server.memory_mb())

    def stop(self):
        self.done.set()
        self.thread.join()
        return self.most_mb - self.idle_mb


def finished(server, token, site):
    """A job asked for and made; its id and its last state."""
    job = call(server, "POST", "/v1/estimate-jobs", token, {"site_id": site, "wish": {"goal": "restore"}})
    while job["status"] in ("queued", "running"):
        time.sleep(0.05)
        job = call(server, "GET", f"/v1/estimate-jobs/{job['id']}", token)
    if job["status"] != "succeeded":
        raise SystemExit(f"the job came to nothing: {job}\n{server.log.read_text()[-2000:]}")
    return job


def read_whole(server, token, href):
    """The lines of a result, read as they come; what the last one says is answered."""
    sent = urllib.request.Request(f"http://{server.address}{href}", headers={"Authorization": f"Bearer {token}", "Accept": "application/x-ndjson"})
    n, n_bytes, last = 0, 0, b""
    with urllib.request.urlopen(sent, timeout=60) as answer:
        for line in answer:
            n, n_bytes, last = n + 1, n_bytes + len(line), line
    return n, n_bytes, json.loads(last)


def measure(load, kind):
    """One job on one database."""
    n, _ = load.arguments.surfaces
    database, token, site, lines = filled(load, kind, n)
    floors = load.directory / "floors.csv"
    floors.write_text("\n".join(lines) + "\n")
    server = load.service(database)
    try:
        call(server, "GET", f"/v1/sites/{site}", token)
        memory = Memory(server)
        cpu, begun = server.cpu_s(), time.monotonic()
        job = finished(server, token, site)
        made = time.monotonic() - begun
        n_lines, n_bytes, total = read_whole(server, token, job["result"]["href"])
        seconds, cpu = time.monotonic() - begun, server.cpu_s() - cpu
        grown = memory.stop()
    finally:
        server.stop()
    pure = min(alone(load, floors) for _ in range(load.arguments.rounds))
    if total["line"] != "total" or total["n_problems"] or total["n_planned"] != n_lines - 1 or n_lines - 1 != len(lines):
        raise SystemExit(f"not all surfaces were planned: {n_lines - 1} lines of {len(lines)}, {total['n_problems']} problems")
    return {
        "database": kind.name,
        "surfaces": len(lines),
        "made_s": made,
        "seconds": seconds,
        "server_cpu_s": cpu,
        "pure_s": pure,
        "grown_mb": grown,
        "idle_mb": memory.idle_mb,
        "result_bytes": n_bytes,
        "load": os.getloadavg(),
    }


def alone(load, floors):
    """Seconds that the same floors take to plan and pool with nothing around it, on the processor of the server."""
    command = ["taskset", "-c", load.server_cpu, str(load.binaries / "examples" / "pure"), str(floors)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    if done.returncode != 0:
        raise SystemExit(f"planning alone failed: {done.stderr}")
    return json.loads(done.stdout)["seconds"]


def told(measures, verdict):
    """The table."""
    yield "| database | surfaces | s, result read whole | made s | processor s of the service | planning alone s | times that | MB above idle | result MB |"
    yield "| --- | --- | --- | --- | --- | --- | --- | --- | --- |"
    for one in measures:
        times = one["seconds"] / one["pure_s"]
        cells = [
            one["database"],
            f"{one['surfaces']:,}",
            f"{one['seconds']:.1f}{verdict(one['seconds'] <= BAR_SECONDS)}",
            f"{one['made_s']:.1f}",
            f"{one['server_cpu_s']:.1f}",
            f"{one['pure_s']:.2f}",
            f"{times:.2f}{verdict(times <= BAR_PURE)}",
            f"{one['grown_mb']:.1f}{verdict(one['grown_mb'] <= BAR_MB)}",
            f"{one['result_bytes'] / 1e6:.1f}",
        ]
        yield "| " + " | ".join(cells) + " |"
