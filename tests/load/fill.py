"""Databases that hold as much as is asked for: a few records made by the service itself, copied under new ids by the
database's own bulk load. What is copied has passed every check once; the copies differ in nothing but their names."""

import asyncio
import json
import os
import sqlite3
import subprocess
import time
import uuid
from pathlib import Path
from urllib.parse import urlsplit, urlunsplit

import asyncpg

N_SITES = 100
PER_COPY = 50_000


class Sqlite:
    """A file."""

    name = "SQLite"

    def __init__(self, directory, label, _server):
        self.path = Path(directory) / f"{label}.sqlite"
        self.url = self.service_url = f"sqlite://{self.path}"
        self.peer_url = f"sqlite+aiosqlite:///{self.path}"

    def rows(self, sql):
        with sqlite3.connect(self.path) as connection:
            connection.row_factory = sqlite3.Row
            return [dict(row) for row in connection.execute(sql)]

    def put(self, table, rows):
        connection = sqlite3.connect(self.path)
        # Only here, and synced at the end: the measured servers never see it.
        connection.execute("PRAGMA synchronous = OFF")
        columns, first, rows = opened(rows)
        places = ", ".join("?" * len(columns))
        quoted = ", ".join(f'"{column}"' for column in columns)
        with connection:
            connection.execute(f'INSERT INTO "{table}" ({quoted}) VALUES ({places})', first)
            connection.executemany(f'INSERT INTO "{table}" ({quoted}) VALUES ({places})', rows)
        connection.close()

    def settle(self):
        connection = sqlite3.connect(self.path)
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        connection.close()
        os.sync()

    @staticmethod
    def key(identity):
        return identity.bytes

    @staticmethod
    def text(key):
        return str(uuid.UUID(bytes=key))

    def version(self):
        return f"SQLite (in the service; {sqlite3.sqlite_version} in the peer)"


class Postgres:
    """A database of its own on the private server."""

    name = "PostgreSQL"

    def __init__(self, _directory, label, server):
        self.server = server
        database = f"load_{label}"
        self.loop = asyncio.new_event_loop()
        # The service runs as a role that row-level security binds; whoever fills the tables does not.
        self.ask(server, f"CREATE ROLE {database} LOGIN")
        self.ask(server, f"CREATE DATABASE {database} OWNER {database}")
        parts = urlsplit(server)
        self.url = urlunsplit(parts._replace(path=f"/{database}"))
        self.service_url = urlunsplit(parts._replace(path=f"/{database}", netloc=f"{database}@{parts.netloc.rpartition('@')[2]}"))
        self.peer_url = self.url.replace("postgres://", "postgresql+asyncpg://")

    def ask(self, url, sql):
        async def run():
            connection = await asyncpg.connect(url)
            try:
                return await connection.fetch(sql)
            finally:
                await connection.close()

        return self.loop.run_until_complete(run())

    def rows(self, sql):
        return [dict(row) for row in self.ask(self.url, sql)]

    def put(self, table, rows):
        async def run():
            connection = await asyncpg.connect(self.url)
            columns, first, rest = opened(rows)
            batch = [first]
            for row in rest:
                batch.append(row)
                if len(batch) == PER_COPY:
                    await connection.copy_records_to_table(table, records=batch, columns=columns)
                    batch = []
            if batch:
                await connection.copy_records_to_table(table, records=batch, columns=columns)
            await connection.close()

        self.loop.run_until_complete(run())

    def settle(self):
        self.ask(self.url, "VACUUM ANALYZE")
        self.ask(self.url, "CHECKPOINT")

    @staticmethod
    def key(identity):
        return identity

    text = staticmethod(str)

    def version(self):
        return self.ask(self.url, "SHOW server_version")[0][0]


def opened(rows):
    """The columns, the first row and the rest."""
    rows = iter(rows)
    first = next(rows)
    return list(first), tuple(first.values()), (tuple(row.values()) for row in rows)


def new_ids(n):
    """Ids as the service makes them, version 7, one after the other."""
    start = int(time.time() * 1000) - n
    for number in range(n):
        yield uuid.UUID(int=(start + number) << 80 | 7 << 76 | 2 << 62 | number)


def make(database, command, service, n_surfaces):
    """Fills a database and answers what requests and the bare servers need of it.

    `service` starts the service on it and posts; see `run.py`.
    """
    command("migrate")
    command("tenant", "add", "load")
    examples = json.loads((Path(__file__).parents[2] / "openapi" / "examples.json").read_text())

    def example(operation, **members):
        return examples[operation]["request"] | members

    with service() as post:
        sites = [post("/v1/sites", example("registerSite", name=f"Site {n}")) for n in range(N_SITES)]
        floor = example("registerSurface", site_id=sites[0]["id"])
        # Seen today, so that it is today's film that is planned for.
        floor["film"] = {name: value for name, value in floor["film"].items() if name != "seen_at"}
        surface = post("/v1/surfaces", floor)
        plan_request = example("proposePlan", surface_id=surface["id"])
        plan = post("/v1/plans", plan_request)
        report = example("recordCompletion", surface_id=surface["id"])
        post("/v1/completions", report)
    sample = read_sample(database)
    site_keys = [row["id"] for row in database.rows("SELECT id FROM sites ORDER BY id")]
    surface_ids = copy_surfaces(database, site_keys, n_surfaces)
    copy_observations(database, surface_ids, site_keys)
    copy_plans(database, surface_ids[: n_surfaces // 100])
    copy_completions(database, surface_ids[: n_surfaces // 10])
    # Reports read sums that the service keeps as it writes; what was copied is in none of them yet.
    command("rollup", "rebuild", "load")
    database.settle()
    return {
        "sample": sample,
        "sites": [site["id"] for site in sites],
        "surfaces": [f"srf_{identity}" for identity in surface_ids],
        "plan_request": plan_request,
        "completion_request": report,
        "surface_bytes": len(json.dumps(surface)),
        "plan_bytes": len(json.dumps(plan)),
    }


def read_sample(database):
    one = lambda sql: database.rows(sql)[0]  # noqa: E731
    plan, completion = one("SELECT * FROM plans"), one("SELECT * FROM completions")
    events = {row["type"]: row["payload"] for row in database.rows("SELECT type, payload FROM outbox")}
    kinds = "SELECT kind, stage, product_class FROM {} ORDER BY line_no"
    return {
        "tenant_id": database.text(plan["tenant_id"]),
        "site_id": database.text(plan["site_id"]),
        "rate_card_id": database.text(plan["rate_card_id"]),
        "request": plan["request_document"],
        "plan": plan["document"],
        "plan_event": events["wearcourse.plan.proposed.v1"],
        "plan_lines": database.rows(kinds.format("plan_lines")),
        "completion": completion["document"],
        "completion_event": events["wearcourse.completion.recorded.v1"],
        "completion_lines": database.rows(kinds.format("completion_lines")),
    }


def copy_surfaces(database, site_keys, n):
    [original] = database.rows("SELECT * FROM surfaces")
    old, old_site = database.text(original["id"]), database.text(original["site_id"])
    head, tail = original["document"].split(old)
    site_texts = [database.text(key) for key in site_keys]
    ids = list(new_ids(n))

    def rows():
        for number, identity in enumerate(ids):
            site = number % len(site_keys)
            document = f"{head}{identity}{tail}".replace(old_site, site_texts[site])
            named = {"id": database.key(identity), "site_id": site_keys[site], "document": document}
            yield original | named

    database.put("surfaces", rows())
    return ids


def copy_observations(database, surfaces, site_keys):
    """What was said of each floor when it was registered: without it nobody knows what lies there."""
    [original] = database.rows("SELECT * FROM observations")

    def rows():
        for number, (identity, surface) in enumerate(zip(new_ids(len(surfaces)), surfaces, strict=True)):
            named = {"id": database.key(identity), "surface_id": database.key(surface)}
            yield original | named | {"site_id": site_keys[number % len(site_keys)]}

    database.put("observations", rows())


def copy_plans(database, surfaces):
    [original] = database.rows("SELECT * FROM plans")
    lines = database.rows("SELECT * FROM plan_lines")
    ids = [database.key(identity) for identity in new_ids(len(surfaces))]
    pairs = list(zip(ids, surfaces, strict=True))
    database.put("plans", (original | {"id": plan, "surface_id": database.key(surface)} for plan, surface in pairs))
    database.put("plan_lines", (line | {"plan_id": plan} for plan in ids for line in lines))


def copy_completions(database, surfaces):
    [original] = database.rows("SELECT * FROM completions")
    lines = database.rows("SELECT * FROM completion_lines")
    ids = [database.key(identity) for identity in new_ids(len(surfaces))]
    pairs = list(zip(ids, map(database.key, surfaces), strict=True))
    database.put("completions", (original | {"id": done, "surface_id": surface} for done, surface in pairs))
    copies = (line | {"completion_id": done, "surface_id": surface} for done, surface in pairs for line in lines)
    database.put("completion_lines", copies)


def run_command(binary, environment, *arguments):
    done = subprocess.run([binary, *arguments], env=environment, capture_output=True, text=True, check=False)
    if done.returncode != 0:
        raise SystemExit(f"wearcourse {' '.join(arguments)} failed:\n{done.stdout}{done.stderr}")
    return done.stdout.strip()
