"""How long callers wait while a schedule is made, beside how long they wait when none is.

Fifty requests are due each second, whether or not earlier ones were answered, and each one's time counts from when it was due. In turns
nothing else is asked of the service, and a schedule of about 1,950 tasks is searched for. The service has both processors of
the machine, as it would have; the driver takes its share of one of them.
"""

import datetime
import json
import os
import statistics
import time
import urllib.request
from pathlib import Path

import fill
import mixed

EXAMPLES = json.loads((Path(__file__).parents[2] / "openapi" / "examples.json").read_text())

RATE, N_CONNECTIONS = 50, 32
# The p95 beside a search is at most so many times that of an idle service, and so many µs more.
BAR_TIMES, BAR_MORE_US = 1.5, 2_000
# Floors of 260 m²: what one of them comes to is found out first.
FLOOR = {"area_m2": 260, "perimeter_m": 66, "name": "Hall"}
MAX_PLANS = 200


def get(address, path, token):
    request = urllib.request.Request(f"http://{address}{path}", headers={"Authorization": f"Bearer {token}"})
    with urllib.request.urlopen(request, timeout=30) as answer:
        return json.load(answer)


class Searches:
    """Schedules of the floors of a site of their own."""

    def __init__(self, server, made, post, n_tasks):
        self.server, self.token, self.post = server, made["token"], post
        site = self.send("/v1/sites", EXAMPLES["registerSite"]["request"] | {"name": "Large"})["id"]
        days = ["monday", "tuesday", "wednesday", "thursday", "friday"]
        monday = datetime.datetime.now(datetime.UTC).replace(hour=12, minute=0, second=0, microsecond=0) + datetime.timedelta(days=7)
        self.body = {
            "site_id": site,
            "from": monday.strftime("%Y-%m-%dT%H:%M:%SZ"),
            "to": (monday + datetime.timedelta(days=91)).strftime("%Y-%m-%dT%H:%M:%SZ"),
            "crews": [{"name": f"Crew {n}", "operatives": 4, "shifts": [{"days": days, "from": "18:00", "to": "06:00"}]} for n in range(6)],
        }
        self.plans = []
        self.add(1)
        of_one = self.search(1)["result"]["choices"][0]["n_tasks"]
        self.add(min(MAX_PLANS, -(-n_tasks // of_one)) - 1)
        self.n_tasks = of_one * len(self.plans)

    def send(self, path, body):
        return self.post(self.server.address, path, body, self.token)

    def add(self, count):
        for _ in range(count):
            floor = EXAMPLES["registerSurface"]["request"] | FLOOR | {"site_id": self.body["site_id"]}
            surface = self.send("/v1/surfaces", floor)["id"]
            plan = EXAMPLES["proposePlan"]["request"] | {"surface_id": surface}
            self.plans.append({"plan_id": self.send("/v1/plans", plan)["id"]})

    def begin(self, schedules):
        """Asks for a schedule and waits until it is worked on; answers its address."""
        path = f"/v1/schedules/{self.send('/v1/schedules', self.body | {'plans': self.plans, 'schedules': schedules})['id']}"
        self.wait(path, lambda told: told["status"] != "queued")
        return path

    def wait(self, path, holds):
        until = time.monotonic() + 600
        while not holds(told := get(self.server.address, path, self.token)):
            if time.monotonic() > until:
                raise SystemExit(f"{path} is {told['status']} and stays so")
            time.sleep(0.1)
        return told

    def search(self, schedules):
        told = self.wait(self.begin(schedules), lambda told: told["status"] not in ("queued", "running"))
        if told["status"] != "succeeded" or told["result"]["outcome"] != "scheduled":
            raise SystemExit(f"no schedule: {json.dumps(told)[:2000]}")
        return told

    def end(self, path):
        """Ends a search that is to have lasted until now; answers how far it came."""
        told = get(self.server.address, path, self.token)
        self.send(f"{path}/cancel", {})
        self.wait(path, lambda told: told["status"] not in ("queued", "running"))
        return told


def measure(load, post, kept):
    """Measures in turns and answers the lines that tell of it; `post` sends a body to the service."""
    small, _ = load.arguments.surfaces
    lines = ["", "| database | round | p95 idle ms | p95 beside ms | schedules made meanwhile |", "| --- | --- | --- | --- | --- |"]
    seen = []
    for name in load.arguments.databases:
        database, made = load.database({"sqlite": fill.Sqlite, "postgres": fill.Postgres}[name], "beside", small)
        file, seconds = mixed.requests(load, made), max(load.arguments.seconds, 10)
        server = load.service(database, cpus="0,1")
        try:
            searches = Searches(server, made, post, load.arguments.tasks)
            load.drive(server, file, 2, RATE, N_CONNECTIONS)
            own = []
            for number in range(load.arguments.rounds):
                idle = load.drive(server, file, seconds, RATE, N_CONNECTIONS)
                path = searches.begin(20_000)
                beside = load.drive(server, file, seconds, RATE, N_CONNECTIONS)
                told = searches.end(path)
                if told["status"] != "running":
                    raise SystemExit(f"the search was over before the round: {told['status']}")
                own.append((idle["p95_us"], beside["p95_us"]))
                seen.append({"database": name, "idle": idle, "beside": beside, "tried": told["progress"]["tried"]})
                lines.append(f"| {name} | {number + 1} | {idle['p95_us'] / 1000:.2f} | {beside['p95_us'] / 1000:.2f} | {told['progress']['tried']} |")
                print(lines[-1], flush=True)
            idle, beside = (statistics.median(pair[at] for pair in own) for at in (0, 1))
            bar = BAR_TIMES * idle + BAR_MORE_US
            verdict = "✓" if beside <= bar else "✗ misses its bar"
            lines.append(f"| {name} | median | {idle / 1000:.2f} | {beside / 1000:.2f}, bar {bar / 1000:.2f} {verdict} | {searches.n_tasks} tasks |")
        finally:
            server.stop()
    kept.write_text(json.dumps({"load": os.getloadavg(), "beside": seen}, indent=1))
    return [*lines, "", f"load average {os.getloadavg()[0]:.1f}; every figure: {kept}"]
