"""Reads the cost report as an analyst does, with programs that know nothing of the service's code.

    python tests/analyst/run.py BINARY DIRECTORY [--database-url URL]

The same report as JSON, CSV and Parquet must hold the same numbers, to the last digit, as DuckDB reads the two files; the rows
must add up to the totals; and on SQLite the totals must be what Python's own integers make of the ledger's lines.
"""

import argparse
import json
import shutil
import sqlite3
import subprocess
import sys
import urllib.parse
import urllib.request
from decimal import Decimal
from pathlib import Path

import duckdb

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "tests" / "contract"))
from service import EXAMPLES, TENANT, Service, seed  # noqa: E402  (the path comes first)

MONEY = [
    "planned_net", "planned_tax", "committed_net", "committed_tax", "actual_net", "actual_tax", "variance_net", "variance_price",
    "variance_quantity", "variance_productivity", "variance_overheads", "variance_unplanned", "actual_per_m2", "actual_per_m2_year",
]
NUMBERS = ["area_m2", "planned_hours", "actual_hours", "planned_l", "actual_l", "water_l", "voc_g", "voc_unknown_l", "floor_m2", "rework_m2", "rework_share"]
ADDED = ["n_completions", "n_unplanned", *MONEY[:12], "actual_hours", "actual_l", "water_l", "voc_g"]
GROUPINGS = ["month", "site,quarter", "year,material,process", "surface,contractor", "stage", "product_class,month", "storey&top=1&rework_days=30"]
checks = 0


def check(true, what):
    global checks
    checks += 1
    if not true:
        raise SystemExit(f"not so: {what}")


def get(service, path, token=True):
    headers = {"Authorization": f"Bearer {service.token}"} if token else {}
    with urllib.request.urlopen(urllib.request.Request(service.url + path, headers=headers), timeout=30) as answer:
        return answer.read()


def flat(row):
    """A row of the JSON under the names of the table's columns; money and numbers as decimals of their text."""
    parts = row.get("variance_parts") or {}
    money = {f"{kind}_{part}": (row[kind] or {}).get(part) for kind in ("planned", "committed", "actual") for part in ("net", "tax")}
    money |= {f"variance_{part}": parts.get(part) for part in ("price", "quantity", "productivity", "overheads", "unplanned")}
    money |= {name: row[name] for name in ("variance_net", "actual_per_m2", "actual_per_m2_year")}
    amounts = {name: value and Decimal(value["amount"]) for name, value in money.items()}
    return {name: value for name, value in row.items() if not isinstance(value, dict)} | amounts


def add_work(service, ids):
    """A plan that is done with more hours and less polish, a charge, a correction and a void, in two months."""
    floor = EXAMPLES["registerSurface"]["request"] | {"site_id": ids["sit"], "name": "Analyst's hall"}
    # Seen today, so that it is today's film that is planned for.
    floor["film"] = {name: value for name, value in floor["film"].items() if name != "seen_at"}
    surface = service.post("/v1/surfaces", floor, "analyst-floor")["id"]
    plan = service.post("/v1/plans", EXAMPLES["proposePlan"]["request"] | {"surface_id": surface}, "analyst-plan")["id"]
    work = EXAMPLES["recordCompletion"]["request"] | {"surface_id": surface}
    late = {"started_at": "2026-02-10T20:00:00Z", "finished_at": "2026-02-11T04:00:00Z"}
    planned = {name: value for name, value in work.items() if name != "process"} | late | {"plan_id": plan}
    service.post("/v1/completions", planned, "analyst-planned")
    charged = service.post("/v1/completions", work | {"charged": {"amount": "812.35", "currency": "GBP"}}, "analyst-charged")
    service.post(f"/v1/completions/{charged['id']}/supersede", work | {"charged": {"amount": "799.99", "currency": "GBP"}}, "analyst-corrected")
    wrong = service.post("/v1/completions", work, "analyst-wrong")
    service.post(f"/v1/completions/{wrong['id']}/void", {"reason": "Reported for the wrong night."}, "analyst-void")


def compare(service, directory, query):
    report = json.loads(get(service, f"/v1/reports/costs?{query}"), parse_float=Decimal)
    told = [flat(row) for row in report["rows"]]
    check(told, f"{query} has rows")
    for form, reader in [("csv", "read_csv('{}', all_varchar = true)"), ("parquet", "read_parquet('{}')")]:
        file = directory / f"costs.{form}"
        file.write_bytes(get(service, f"/v1/reports/costs?{query}&format={form}"))
        found = duckdb.sql(f"SELECT * FROM {reader.format(file)}")
        if form == "parquet":
            types = dict(zip(found.columns, map(str, found.types)))
            check(all(types[name] == "DECIMAL(18,4)" for name in MONEY), f"money is decimal: {types}")
            check(all(types[name] == "DOUBLE" for name in NUMBERS if name in types), f"numbers are doubles: {types}")
        rows = [dict(zip(found.columns, row)) for row in found.fetchall()]
        check(len(rows) == len(told), f"{query} as {form}: {len(rows)} rows for {len(told)}")
        for row, wanted in zip(rows, told):
            for name, cell in row.items():
                want = wanted.get(name)
                if cell is None or want is None:
                    check(cell is None and want is None, f"{query} as {form}: {name} is {cell!r} for {want!r}")
                elif name in MONEY:
                    check(Decimal(str(cell)) == want, f"{query} as {form}: {name} is {cell} for {want}")
                elif name in NUMBERS:
                    check(float(cell) == float(want), f"{query} as {form}: {name} is {cell} for {want}")
                else:
                    check(str(cell).lower() == str(want).lower(), f"{query} as {form}: {name} is {cell!r} for {want!r}")
    by_line = "stage" in query or "product_class" in query
    for total in map(flat, report["totals"]):
        for name in ADDED:
            if by_line and name.startswith("n_"):
                continue
            parts = [row[name] for row in told if row["currency"] == total["currency"] and row[name] is not None]
            # A group whose work is unplanned has no plan, so its variance is told in no row.
            if name.startswith(("planned", "variance")) and len(parts) < len(told):
                continue
            check(sum(parts) == (total[name] or 0), f"{query}: {name} adds up to {sum(parts)} for {total[name]}")
        parts = [total[name] for name in MONEY[7:12]]
        check(sum(parts) == total["variance_net"], f"{query}: {parts} are {total['variance_net']}")


def recount(service, file):
    """The totals out of the ledger's lines, by nothing but integers of Python."""
    report = json.loads(get(service, "/v1/reports/costs?from=2026-01&to=2027-01"), parse_float=Decimal)
    lines = sqlite3.connect(f"file:{file}?mode=ro", uri=True).execute(
        "SELECT l.currency, l.kind, l.planned_amount, l.actual_amount, l.actual_seconds, l.actual_ml FROM completion_lines l "
        "JOIN completions c ON c.tenant_id = l.tenant_id AND c.id = l.completion_id WHERE c.status = 'recorded'"
    ).fetchall()
    for total in map(flat, report["totals"]):
        own = [line for line in lines if line[0] == total["currency"]]
        net = [line for line in own if line[1] != "tax"]
        check(Decimal(sum(line[2] for line in net)) / 10000 == total["planned_net"], "planned is what the lines say")
        check(Decimal(sum(line[3] for line in net)) / 10000 == total["actual_net"], "actual is what the lines say")
        check(abs(Decimal(sum(line[4] for line in own)) / 3600 - total["actual_hours"]) < Decimal("0.0001"), "hours are what the lines say")
        check(Decimal(sum(line[5] for line in own)) / 1000 == total["actual_l"], "litres are what the lines say")


def pull_link(service, directory):
    body = {"name": "Board", "query": "from=2026-01&to=2027-01&group_by=site,month&format=csv"}
    link = service.post("/v1/report-links", body, "analyst-link")
    path = urllib.parse.urlparse(link["address"]).path
    (directory / "shared.csv").write_bytes(get(service, path, token=False))
    (directory / "own.csv").write_bytes(get(service, f"/v1/reports/costs?{body['query']}"))
    read = "SELECT * FROM read_csv('{}')"
    shared, own = (duckdb.sql(read.format(directory / name)).fetchall() for name in ("shared.csv", "own.csv"))
    check(shared and shared == own, "a link opens the report that its maker sees")


def main():
    arguments = argparse.ArgumentParser()
    arguments.add_argument("binary", type=Path)
    arguments.add_argument("directory", type=Path)
    arguments.add_argument("--database-url")
    given = arguments.parse_args()
    shutil.rmtree(given.directory, ignore_errors=True)
    with Service(given.binary, given.directory, given.database_url) as service:
        add_work(service, seed(service))
        for groups in GROUPINGS:
            compare(service, given.directory, f"from=2026-01&to=2027-01&group_by={groups}")
        pull_link(service, given.directory)
        if given.database_url is None:
            recount(service, given.directory / "outside.sqlite")
        verify = [service.binary, "rollup", "verify", TENANT]
        done = subprocess.run(verify, env=service.environment, cwd=given.directory, capture_output=True, text=True, check=False)
        check(done.returncode == 0, f"the sums by month are right: {done.stdout}{done.stderr}")
    print(f"test result: ok. {len(GROUPINGS) + 2} passed; 0 failed; {checks} comparisons")


if __name__ == "__main__":
    main()
