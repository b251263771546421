"""Reads the cost report as an analyst does, with programs that know nothing of the service's code.

    python tests/analyst/run.py BINARY DIRECTORY [--database-url URL]

The same report as JSON, CSV and Parquet must hold the same numbers, to the last digit, as DuckDB reads the two files; the rows
must add up to the totals; and on SQLite the totals must be what Python's own integers make of the ledger's lines. The ledger as it is
extracted must add up to the report, and be the same in a folder and in a bucket.
"""

import argparse
import json
import logging
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


def lines_of(files):
    """The lines of an extract, whose path tells tenant and month."""
    return f"read_parquet('{files}/*/*/*.parquet', hive_partitioning = true, hive_types_autocast = false)"


def extract(service, into, environment=None):
    command = [service.binary, "extract", "--into", into, "--tenant", TENANT]
    done = subprocess.run(command, env=service.environment | (environment or {}), capture_output=True, text=True, check=False)
    check(done.returncode == 0, f"the ledger is extracted into {into}: {done.stdout}{done.stderr}")


def compare_extract(service, files):
    """Sums over the lines are the report, to the cent, however they are grouped."""
    for groups in ["month", "month,site", "month,material,process", "site,storey,contractor", "stage", "product_class,month"]:
        report = json.loads(get(service, f"/v1/reports/costs?from=2026-01&to=2027-01&group_by={groups}&skip_empty=true"), parse_float=Decimal)
        dims = [{"site": "site_id", "contractor": "contractor_id"}.get(group, group) for group in groups.split(",")]
        is_of_lines = "stage" in groups or "product_class" in groups
        once = "count(DISTINCT completion_id)" if is_of_lines else "sum(n_completions)"
        found = duckdb.sql(
            f"SELECT {', '.join(dims)}, currency, {once}, sum(actual_net), sum(actual_tax), coalesce(sum(planned_net), 0), sum(variance_net), "
            f"sum(variance_price), sum(actual_hours), sum(actual_l), sum(water_l), sum(area_m2) FROM {lines_of(files)} "
            f"WHERE tenant = '{TENANT}' GROUP BY ALL"
        ).fetchall()
        sums = {row[: len(dims) + 1]: row[len(dims) + 1 :] for row in found}
        # What is only committed is of plans.
        told = [row for row in report["rows"] if row["n_completions"]]
        check(len(told) == len(sums) > 0, f"{groups}: {len(sums)} groups for {len(told)}")
        for row in told:
            own = sums[(*(row[dim] for dim in dims), row["currency"])]
            amount = lambda member: Decimal(member["amount"]) if member else None  # noqa: E731
            planned = row["planned"] or {"net": {"amount": "0"}}
            exact = [row["n_completions"], amount(row["actual"]["net"]), amount(row["actual"]["tax"]), amount(planned["net"])]
            check(list(own[:4]) == exact, f"{groups}: {own} are {row}")
            if row["variance_parts"]:
                check([own[4], own[5]] == [amount(row["variance_net"]), amount(row["variance_parts"]["price"])], f"{groups}: variance of {row}")
            near = [row["actual_hours"], row["actual_l"], row["water_l"], *([] if is_of_lines else [row["area_m2"]])]
            check(all(abs(Decimal(have) - want) < Decimal("0.0001") for have, want in zip(own[6:], near)), f"{groups}: {own} are {row}")


def compare_bucket(service, folder):
    """An S3-compatible store gets the same files, byte for byte, as moto keeps them, which knows nothing of the service."""
    import boto3
    from moto.server import ThreadedMotoServer

    logging.getLogger("werkzeug").setLevel(logging.ERROR)
    server = ThreadedMotoServer(ip_address="127.0.0.1", port=0, verbose=False)
    server.start()
    try:
        host, port = server.get_host_and_port()
        address = f"http://{host}:{port}"
        access = {"AWS_ACCESS_KEY_ID": "test", "AWS_SECRET_ACCESS_KEY": "test", "AWS_REGION": "us-east-1"}
        client = boto3.client("s3", endpoint_url=address, region_name="us-east-1", aws_access_key_id="test", aws_secret_access_key="test")
        client.create_bucket(Bucket="ledger")
        for _ in range(2):
            extract(service, "s3://ledger/floors", access | {"AWS_ENDPOINT_URL": address, "AWS_ALLOW_HTTP": "true"})
        kept = {one["Key"]: client.get_object(Bucket="ledger", Key=one["Key"])["Body"].read() for one in client.list_objects_v2(Bucket="ledger")["Contents"]}
        own = {f"floors/{file.relative_to(folder)}": file.read_bytes() for file in folder.rglob("*") if file.is_file()}
        check(set(kept) == set(own), f"the bucket holds {sorted(kept)} for {sorted(own)}")
        check(all(kept[name] == own[name] for name in own if name.endswith(".parquet")), "the files in the bucket are those in the folder")
    finally:
        server.stop()


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
        folder = given.directory / "extract"
        folder.mkdir()
        extract(service, f"file://{folder.resolve()}")
        compare_extract(service, folder)
        compare_bucket(service, folder)
        if given.database_url is None:
            recount(service, given.directory / "outside.sqlite")
        verify = [service.binary, "rollup", "verify", TENANT]
        done = subprocess.run(verify, env=service.environment, cwd=given.directory, capture_output=True, text=True, check=False)
        check(done.returncode == 0, f"the sums by month are right: {done.stdout}{done.stderr}")
    print(f"test result: ok. {len(GROUPINGS) + 4} passed; 0 failed; {checks} comparisons")


if __name__ == "__main__":
    main()
