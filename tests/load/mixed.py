"""Two measurements on PostgreSQL: the highest rate of mixed requests that are answered in time, and how fast events go out.

The mixed run is open: requests are due at their moments whether or not earlier ones were answered, and each one's time
counts from when it was due.
"""

import json
import os
import time

import fill

# Of ten requests so many.
MIX = [("get surface", 7), ("create plan", 2), ("create completion", 1)]
# The hundredth that waits longest, in µs.
BAR_P99 = 50_000
# Requests that are under way at the most: as many as callers would keep connections.
N_CONNECTIONS = 128
# What the driver can start at the most; above that it would measure itself.
MAX_RATE = 6_400
N_WORKERS, N_SUBSCRIPTIONS, N_EVENTS = 4, 16, 2_000


def requests(load, made):
    """A file in which each ten requests are mixed as they should be."""
    parts = {name: split(made["requests"][name].read_bytes()) for name, _ in MIX}
    turn = {name: 0 for name in parts}
    order = [name for name, n in MIX for _ in range(n)]
    # Spread: no two writes stand beside each other longer than they must.
    order = [order[index * 7 % 10] for index in range(10)]
    mixed = bytearray()
    for _ in range(2_000):
        for name in order:
            mixed += parts[name][turn[name] % len(parts[name])]
            turn[name] += 1
    file = load.directory / "requests-mixed"
    file.write_bytes(mixed)
    return file


def split(text):
    """The requests of a file, each with the line that says its length."""
    at, parts = 0, []
    while at < len(text):
        end = text.index(b"\n", at) + 1
        whole = end + int(text[at:end])
        parts.append(text[at:whole])
        at = whole
    return parts


def is_in_time(seen, rate):
    return seen["p99_us"] is not None and seen["p99_us"] < BAR_P99 and seen["refused"] == 0 and seen["per_s"] > 0.97 * rate


def highest(load, server, file, seconds, tell):
    """The highest rate at which the server answers in time, and what was seen at it; looked for by doubling and halving."""
    low, high, best = 0, None, None
    rate = 50
    while high is None or high - low > max(10, low // 20):
        seen = load.drive(server, file, seconds, rate, N_CONNECTIONS)
        good = is_in_time(seen, rate)
        tell(server, rate, seen, good)
        if good:
            low, best = rate, seen
        else:
            high = rate
        if rate >= MAX_RATE and good:
            break
        rate = min(rate * 2, MAX_RATE) if high is None else (low + high) // 2
    return low, best


def measure(load, postmaster, post, kept):
    """Measures both and answers the lines that tell of it; `post` sends a body to the service."""
    small, _ = load.arguments.surfaces
    database, made = load.database(fill.Postgres, "mixed", small)
    load.postmaster = postmaster(database)
    static = load.directory / "static-mixed.json"
    static.write_text(made["sample"]["plan"][: made["surface_bytes"]])
    file, seconds = requests(load, made), max(load.arguments.seconds, 5)
    seen = []

    def tell(server, rate, figures, good):
        seen.append({"server": server.name, "rate": rate, "in_time": good} | figures)
        p99 = (figures["p99_us"] or 0) / 1000
        print(f"{server.name:10} {rate:5}/s p99 {p99:8.1f} ms {figures['server_us']:7.0f} + {figures['database_us']:6.0f} us {'in time' if good else 'late'}", flush=True)

    servers = [
        load.service(database),
        load.bare(database.url, str(made["sample_file"]), name="bare"),
        load.bare("static", str(static), name="framework"),
    ]
    lines = ["", "| server | highest rate with p99 < 50 ms | p50 ms | p99 ms | server µs | database µs |", "| --- | --- | --- | --- | --- | --- |"]
    try:
        for server in servers:
            load.drive(server, file, 2, 50, N_CONNECTIONS)
            rate, best = highest(load, server, file, seconds, tell)
            if best is None:
                lines.append(f"| {server.name} | none | | | | |")
                continue
            times = f"{best['p50_us'] / 1000:.1f} | {best['p99_us'] / 1000:.1f}"
            lines.append(f"| {server.name} | {rate}/s | {times} | {best['server_us']:.0f} | {best['database_us']:.0f} |")
        held = max((one["rate"] for one in seen if one["server"] == "service" and one["in_time"]), default=0)
        if held:
            lines += ["", f"All three at {held}/s, the rate that the service holds", "", "| server | p50 ms | p99 ms | server µs | database µs |", "| --- | --- | --- | --- | --- |"]
        for server in servers if held else []:
            one = load.drive(server, file, seconds, held, N_CONNECTIONS)
            tell(server, held, one, is_in_time(one, held))
            lines.append(f"| {server.name} | {one['p50_us'] / 1000:.1f} | {one['p99_us'] / 1000:.1f} | {one['server_us']:.0f} | {one['database_us']:.0f} |")
    finally:
        for server in servers:
            server.stop()
    drained = drain(load, database, made, post)
    kept.write_text(json.dumps({"load": os.getloadavg(), "mixed": seen, "outbox": drained}, indent=1))
    per_s = drained["deliveries"] / drained["seconds"]
    lines += ["", f"outbox: {drained['deliveries']} deliveries of {drained['events']} events to {N_SUBSCRIPTIONS} subscriptions by {N_WORKERS} processes in {drained['seconds']:.1f} s: {per_s:.0f}/s", f"every figure: {kept}"]
    return lines


def drain(load, database, made, post):
    """How long several processes take to hand over what waits; the receiver is the framework, which answers at once."""
    usual = load.service_environment

    def environment(sending):
        return lambda database: usual(database) | {"WEARCOURSE_OUTBOUND": sending, "WEARCOURSE_OUTBOUND_INSECURE": "on"}

    static = load.directory / "taken.json"
    static.write_text("{}")
    receiver = load.bare("static", str(static), name="receiver")
    load.service_environment = environment("off")
    asked = load.service(database, "asked")
    count = lambda where: database.rows(f"SELECT COUNT(*) AS n FROM {where}")[0]["n"]  # noqa: E731
    try:
        database.rows("UPDATE outbox SET handed_out_at = created_at WHERE handed_out_at IS NULL")
        before = count("outbox")
        for n in range(N_SUBSCRIPTIONS):
            body = {"name": f"Receiver {n}", "url": f"http://{receiver.address}/hook", "event_types": ["wearcourse.contractor.registered.v1"]}
            post(asked.address, "/v1/subscriptions", body, made["token"])
        for n in range(N_EVENTS):
            post(asked.address, "/v1/contractors", {"name": f"Crew {n}"}, made["token"])
        load.service_environment = environment("on")
        begun = time.monotonic()
        workers = [load.service(database, f"worker-{n}") for n in range(N_WORKERS)]
        wanted = N_EVENTS * N_SUBSCRIPTIONS
        while (done := count("deliveries WHERE status = 'delivered'")) < wanted and time.monotonic() - begun < 600:
            time.sleep(0.2)
        took = time.monotonic() - begun
        for worker in workers:
            worker.stop()
    finally:
        load.service_environment = usual
        asked.stop()
        receiver.stop()
    return {"events": count("outbox") - before - N_SUBSCRIPTIONS, "deliveries": done, "seconds": took}
