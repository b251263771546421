"""Reports over millions of completions, on PostgreSQL: from sums by month and from lines, through the service and without it, and as files."""

import contextlib
import glob
import http.client
import json
import os
import re
import shutil
import statistics
import subprocess
import time
import urllib.request
from decimal import Decimal
from pathlib import Path

import duckdb
import fill
from ledger import MATERIALS, N_SITES, N_TABLE, Ledger

YEAR = "from=2026-01&to=2027-01"
BY = f"{YEAR}&group_by=site,month,material"
ROUNDS = 5
# The bars: what sums by month save the database, what the service may add to the same statement in psql, what they save
# a caller, and what a table may take beside the database's own COPY.
BAR_DIRECT, BAR_PSQL, BAR_CALLER, BAR_COPY = 5.0, 1.2, 3.0, 1.5
# A table is handed out page by page: the service may grow by so much, however long the table is.
BAR_GROWTH_MB = 16.0
SUMMED = "actual_seconds actual_ml water_ml voc_mg voc_unknown_ml planned_seconds planned_ml".split()


def median_ms(times):
    return statistics.median(times) * 1000


def psql():
    found = shutil.which("psql") or next(iter(sorted(glob.glob("/usr/lib/postgresql/*/bin/psql"))), None)
    if found is None:
        raise SystemExit("psql is missing: install PostgreSQL's client")
    return found


class Log:
    """What the private server writes of statements and their times while a database is told to."""

    def __init__(self, database):
        self.database = database
        self.path = Path(database.rows("SHOW data_directory")[0]["data_directory"]).parent / "log"
        self.name = database.url.rsplit("/", 1)[-1]

    @contextlib.contextmanager
    def all(self):
        """Every statement, of connections that are opened within."""
        self.database.rows(f"ALTER DATABASE {self.name} SET log_min_duration_statement = 0")
        self.start = self.path.stat().st_size
        try:
            yield self
        finally:
            self.database.rows(f"ALTER DATABASE {self.name} RESET log_min_duration_statement")

    def statements(self):
        """Milliseconds, kind, text and values of each statement; of one with values its bind, in which it is planned, counts too."""
        with open(self.path, "rb") as file:
            file.seek(self.start)
            lines = file.read().decode(errors="replace").splitlines()
        records = []
        for line in lines:
            if line.startswith("\t") and records:
                records[-1] += "\n" + line[1:]
            else:
                records.append(line)
        found, bound = [], {}
        for record in records:
            process = re.search(r"\[(\d+)\]", record)
            said = re.search(r"LOG:  duration: ([\d.]+) ms  (bind|execute|statement)([^:]*): (.*)", record, re.S)
            values = re.search(r"DETAIL:  [Pp]arameters: (.*)", record, re.S)
            if process and said:
                ms, kind, _, text = said.groups()
                if kind == "bind":
                    bound[process[1]] = float(ms)
                    continue
                ms = float(ms) + (bound.pop(process[1], 0.0) if kind == "execute" else 0.0)
                found.append([ms, kind, text, None, process[1]])
            elif process and values and found and found[-1][4] == process[1]:
                found[-1][3] = re.findall(r"\$\d+ = '([^']*)'", values[1])
        return found


class Reports:
    """One database, what is asked of it, and what was seen."""

    def __init__(self, load, ledger):
        self.load, self.ledger, self.database = load, ledger, ledger.database
        self.tenant = ledger.ids[ledger.tenants[0]]
        self.seen = {}

    def get(self, server, path):
        """Seconds, and the answer."""
        asked = urllib.request.Request(f"http://{server.address}{path}", headers={"Authorization": f"Bearer {self.ledger.token}"})
        begun = time.perf_counter()
        with urllib.request.urlopen(asked, timeout=120) as answer:
            body = answer.read()
        return time.perf_counter() - begun, body

    def in_psql(self, statements, values, output="/dev/null"):
        """Runs statements on a connection of their own, as the role that the fences bind and with the memory that the service gives to
        sums; answers their milliseconds as psql tells them, added up."""
        given = ", ".join(f"'{value}'" for value in values)
        types = ", ".join(["uuid", "text", "text"][: len(values)])
        script = f"SELECT set_config('app.tenant_id', '{self.tenant}', false) \\g /dev/null\nSET work_mem = '32MB';\n"
        script += "".join(f"PREPARE asked_{n} ({types}) AS {sql};\n" for n, sql in enumerate(statements))
        script += f"\\timing on\n\\o {output}\n" + "".join(f"EXECUTE asked_{n} ({given});\n" for n in range(len(statements)))
        done = subprocess.run([psql(), "-X", "-q", "-v", "ON_ERROR_STOP=1", self.database.service_url], input=script, capture_output=True, text=True, check=False)
        told = re.findall(r"Time: ([\d.]+) ms", done.stdout)
        if done.returncode != 0 or len(told) != len(statements):
            raise SystemExit(f"psql failed: {done.stdout}{done.stderr}\n{statements}")
        return sum(float(one) for one in told)

    def statements_of(self, path, mark):
        """The texts of the statements that the service sends for a report, their values, and their times on the server together."""
        log = Log(self.database)
        with log.all():
            server = self.load.service(self.database)
            try:
                for _ in range(ROUNDS + 1):
                    self.get(server, path)
            finally:
                server.stop()
            found = [one for one in log.statements() if mark in one[2] and "floor_mm2" in one[2] and one[1] == "execute"]
        texts = list(dict.fromkeys(one[2] for one in found))
        if len(texts) != 2 or len(found) != 2 * (ROUNDS + 1):
            raise SystemExit(f"a report asks {len(texts)} statements, {len(found)} times")
        both = [one[0] + two[0] for one, two in zip(found[::2], found[1::2], strict=True)]
        # The first are planned and read what is not in memory yet.
        return texts, found[0][3], both[1:]

    def database_time(self):
        """A year by site, month and material: out of sums by month, and out of lines."""
        texts, values, through = self.statements_of(f"/v1/reports/costs?{BY}&skip_empty=true", "r.material AS material")
        runs = {"rollups": texts, "over lines": [self.plain("l.site_id, l.month, l.material, l.currency")]}
        times = {name: [] for name in runs}
        for turn in range(ROUNDS + 1):
            for name, statements in runs.items():
                took = self.in_psql(statements, values)
                times[name] += [took] if turn else []
        seen = {name: statistics.median(of) for name, of in times.items()} | {"through the service": statistics.median(through)}
        self.seen["database_ms"] = {"all": times | {"through the service": through}, "median": seen}
        yield "| a year by site, month and material | database ms | beside |"
        yield "| --- | --- | --- |"
        yield f"| sums by month, through the service | {seen['through the service']:.1f} | {self.bar('psql', seen['through the service'] / seen['rollups'], BAR_PSQL)} the same in psql |"
        yield f"| sums by month, in psql | {seen['rollups']:.1f} | 1 |"
        yield f"| over lines, in psql | {seen['over lines']:.1f} | {self.bar('direct', seen['over lines'] / seen['rollups'], BAR_DIRECT, least=True)} the sums by month |"

    @staticmethod
    def plain(by):
        """What somebody who knows the tables writes: no area, which lines of one completion share."""
        sums = ", ".join(f"SUM(l.{name})" for name in SUMMED)
        return (
            f"SELECT {by}, {sums}, SUM(CASE WHEN l.kind = 'tax' THEN 0 ELSE l.actual_amount END), "
            "SUM(CASE WHEN l.kind = 'tax' THEN l.actual_amount ELSE 0 END) FROM completion_lines AS l "
            "JOIN completions AS c ON c.tenant_id = l.tenant_id AND c.id = l.completion_id "
            "WHERE l.tenant_id = $1 AND l.month >= $2 AND l.month < $3 AND c.status = 'recorded' "
            f"GROUP BY {by}"
        )

    def end_to_end(self):
        """By month through the service, beside the statement over lines alone; what the service itself costs a row."""
        values = [self.tenant, "2026-01", "2027-01"]
        server = self.load.service(self.database)
        try:
            groups = ["month", "month,stage", "month,product_class"]
            paths = {group: f"/v1/reports/costs?{YEAR}&group_by={group}" for group in groups}
            lines = {"lines": "l.month, l.currency", "lines by stage": "l.month, l.stage, l.currency"}
            times = {name: [] for name in [*paths, *lines]}
            for turn in range(ROUNDS + 1):
                for name, path in paths.items():
                    took, body = self.get(server, path)
                    times[name] += [took] if turn else []
                for name, by in lines.items():
                    took = self.in_psql([self.plain(by)], values) / 1000
                    times[name] += [took] if turn else []
            before, n_rows, n_asked = server.cpu_s(), 0, 20
            for form in ["json", "csv"] * (n_asked // 2):
                _, body = self.get(server, f"/v1/reports/costs?{BY}&skip_empty=true&format={form}")
                n_rows += len(json.loads(body)["rows"]) if form == "json" else body.count(b"\n") - 1
            per_row = (server.cpu_s() - before) * 1e6 / n_rows
        finally:
            server.stop()
        seen = {name: median_ms(of) for name, of in times.items()}
        self.seen["end_to_end_ms"] = {"all": times, "median": seen, "service_us_per_row": per_row, "rows": n_rows // n_asked}
        yield "| a year by month, end to end | ms | beside |"
        yield "| --- | --- | --- |"
        yield f"| service, from sums by month | {seen['month']:.1f} | 1 |"
        yield f"| the statement over lines alone, in psql | {seen['lines']:.1f} | {self.bar('caller', seen['lines'] / seen['month'], BAR_CALLER, least=True)} |"
        for group in groups[1:]:
            yield f"| service, by {group}, from parts of these sums | {seen[group]:.1f} | {seen[group] / seen['month']:.1f} |"
        yield f"| the statement over lines by month and stage, in psql | {seen['lines by stage']:.1f} | {seen['lines by stage'] / seen['month,stage']:.1f} times the service by month and stage |"
        yield ""
        yield f"The service's own processor time: {per_row:.1f} µs a row, in reports of {n_rows // n_asked} rows, half of them JSON, half CSV."

    def extract(self):
        """The ledger as Parquet, and DuckDB over it."""
        folder = self.load.directory / f"extract-{self.ledger.n_tenants}"
        folder.mkdir()
        environment = self.load.service_environment(self.database) | {"WEARCOURSE_BIND": "127.0.0.1:0"}
        command = [str(self.load.binaries / "wearcourse"), "extract", "--into", f"file://{folder}", "--all-tenants"]
        begun = time.perf_counter()
        process = subprocess.Popen(command, env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True)
        peak = 0
        while process.poll() is None:
            with contextlib.suppress(OSError, IndexError):
                peak = max(peak, int(Path(f"/proc/{process.pid}/status").read_text().split("VmHWM:")[1].split()[0]) / 1024)
            time.sleep(0.02)
        took = time.perf_counter() - begun
        if process.returncode != 0:
            raise SystemExit(f"the extract failed: {process.stderr.read()}")
        size = sum(file.stat().st_size for file in folder.rglob("*.parquet")) / 1e6
        ask = (
            "SELECT site_id, month, material, currency, sum(n_completions), sum(area_m2), sum(actual_hours), sum(actual_l), sum(water_l), "
            "sum(voc_g), sum(planned_net), sum(actual_net), sum(actual_tax), sum(variance_net) "
            f"FROM read_parquet('{folder}/*/*/*.parquet', hive_partitioning = true, hive_types_autocast = false) "
            f"WHERE tenant = '{self.ledger.tenants[0]}' AND month >= '2026-01' AND month < '2027-01' GROUP BY ALL"
        )
        times = []
        for _ in range(ROUNDS + 1):
            begun = time.perf_counter()
            rows = duckdb.sql(ask).fetchall()
            times.append(time.perf_counter() - begun)
        server = self.load.service(self.database)
        try:
            told = json.loads(self.get(server, f"/v1/reports/costs?{BY}&skip_empty=true")[1])
        finally:
            server.stop()
        own = {total["currency"]: sum(row[11] for row in rows if row[3] == total["currency"]) for total in told["totals"]}
        wanted = {total["currency"]: Decimal(total["actual"]["net"]["amount"]) for total in told["totals"]}
        equal = own == wanted and len(rows) == len(told["rows"])
        if not equal:
            raise SystemExit(f"the files are not the report: {own} in {len(rows)} rows for {wanted} in {len(told['rows'])}")
        duck, rollups = median_ms(times[1:]), self.seen.get("database_ms", {}).get("median", {}).get("rollups")
        self.seen["extract"] = {"seconds": took, "peak_mb": peak, "mb": size, "duckdb_ms": times}
        yield f"Extract of {self.ledger.n_completions:,} completions ({3 * self.ledger.n_completions:,} lines), {self.ledger.n_tenants} tenants: {took:.1f} s, {size:.0f} MB, at most {peak:.0f} MB of memory."
        yield f"DuckDB over its files, the same year by site, month and material: {duck:.1f} ms; " + (
            f"sums by month take {self.bar('duckdb', rollups / duck, 1.0)} that." if rollups else "its rows and sums are those of the report."
        )

    def table(self):
        """A table of many rows beside the database's own COPY, its memory, and what a reader sees of one that is cut."""
        site = "0190000a-0000-7000-8000-000000000000"
        path = f"/v1/sites/sit_{site}/surface-table"
        copy = (
            "COPY (SELECT id, version, external_system, external_id, document FROM surfaces "
            f"WHERE tenant_id = '{self.tenant}' AND site_id = '{site}' ORDER BY id) TO STDOUT (FORMAT csv)"
        )
        self.ledger.fill_table()
        server = self.load.service(self.database)
        try:
            self.get(server, "/readyz")
            times, copies = [], []
            idle = server.memory_mb()
            for _ in range(3):
                took, body = self.get(server, path)
                times.append(took)
                begun = time.perf_counter()
                subprocess.run([psql(), "-X", "-q", "-c", copy, self.database.url], stdout=subprocess.DEVNULL, check=True)
                copies.append(time.perf_counter() - begun)
            grown = int(Path(f"/proc/{server.process.pid}/status").read_text().split("VmHWM:")[1].split()[0]) / 1024 - idle
            n_rows = body.count(b"\r\n") - 1
            if n_rows < N_TABLE:
                raise SystemExit(f"the table has {n_rows} rows")
            cut = self.cut(server, path, len(body))
        finally:
            server.stop()
        ours, theirs = statistics.median(times), statistics.median(copies)
        self.seen["table"] = {"seconds": times, "copy_seconds": copies, "grown_mb": grown, "rows": n_rows, "cut": cut}
        self.seen.setdefault("bars", {})["cut"] = {"figure": cut, "held": cut.startswith("seen")}
        yield f"CSV of {n_rows:,} rows: {ours:.2f} s, {self.bar('copy', ours / theirs, BAR_COPY)} the database's own COPY ({theirs:.2f} s); the service grew by {self.bar('growth', grown, BAR_GROWTH_MB)} MB."
        yield f"A table that the database ends in the middle: {cut}."

    def cut(self, server, path, whole):
        """Reads a little, ends every connection of the database, and reads on."""
        connection = http.client.HTTPConnection(server.address, timeout=60)
        connection.request("GET", path, headers={"Authorization": f"Bearer {self.ledger.token}"})
        answer = connection.getresponse()
        n_read = len(answer.read(4096))
        role = self.database.service_url.split("//")[1].split("@")[0]
        self.database.rows(f"SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE usename = '{role}'")
        try:
            while part := answer.read(65536):
                n_read += len(part)
        except (http.client.IncompleteRead, ConnectionError) as error:
            return f"seen by the reader ({type(error).__name__})"
        finally:
            connection.close()
        return f"NOT seen: {n_read} of {whole} bytes came and looked whole"

    def ingest(self):
        """Completions by 32 writers on few floors, beside bare inserts of the same rows without sums by month."""
        surfaces = self.ledger.surfaces(min(50, self.ledger.n_surfaces))
        made = {"surfaces": surfaces, "sites": [], "plan_request": {}, "completion_request": self.ledger.report, "token": self.ledger.token}
        file = self.load.requests(made, "create completion", "reports")
        deadlocks = lambda: self.database.rows("SELECT deadlocks FROM pg_stat_database WHERE datname = current_database()")[0]["deadlocks"]  # noqa: E731
        before = deadlocks()
        servers = [self.load.service(self.database), self.load.bare(self.database.url, str(self.ledger.sample_file), name="bare")]
        seen = {server.name: [] for server in servers}
        try:
            for turn in range(self.load.arguments.rounds + 1):
                for server in servers[:: 1 if turn % 2 else -1]:
                    one = self.load.drive(server, file, self.load.arguments.seconds if turn else 1)
                    seen[server.name] += [one] if turn else []
        finally:
            for server in servers:
                server.stop()
        found = deadlocks() - before
        rate = {name: statistics.median(one["per_s"] for one in of) for name, of in seen.items()}
        cost = {name: statistics.median(one["server_us"] + one["database_us"] for one in of) for name, of in seen.items()}
        refused = sum(one["refused"] for one in seen["service"])
        self.seen["ingest"] = {"all": seen, "deadlocks": found}
        self.seen.setdefault("bars", {})["deadlocks"] = {"figure": found, "held": found == 0}
        yield f"| ingest by 32 writers on {len(surfaces)} floors | completions/s | server + database µs | refused |"
        yield "| --- | --- | --- | --- |"
        for name in seen:
            yield f"| {name} | {rate[name]:.0f} | {cost[name]:.0f} | {sum(one['refused'] for one in seen[name])} |"
        yield f"\nDeadlocks: {found}. Refused by the service: {refused}. The service writes sums by month, an event and an audit row with each; bare inserts write no sums."

    def bar(self, name, figure, limit, least=False):
        held = figure >= limit if least else figure <= limit
        self.seen.setdefault("bars", {})[name] = {"figure": figure, "limit": limit, "held": held}
        return f"{figure:.2f} ({'at least' if least else 'at most'} {limit:g}: {'held' if held else 'MISSED'})"


def measure(load, postmaster, post, kept):
    """Measures all and tells of each part as it ends; answers the last lines."""
    figures = {"load_before": os.getloadavg(), "completions": load.arguments.completions}

    def tell(*lines):
        print("\n".join(lines), flush=True)

    for label, n_tenants in [("one", 1), ("many", 20)]:
        begun = time.monotonic()
        ledger = Ledger(load, f"reports_{label}", load.arguments.completions, n_tenants)
        ledger.make(post)
        ledger.fill()
        filled = time.monotonic() - begun
        for tenant in ledger.tenants:
            ledger.command("rollup", "rebuild", tenant)
        ledger.database.settle()
        rebuilt = time.monotonic() - begun - filled
        load.postmaster = postmaster(ledger.database)
        reports = Reports(load, ledger)
        rows, parts = (ledger.database.rows(f"SELECT COUNT(*) AS n FROM {table}")[0]["n"] for table in ["cost_rollups", "cost_part_rollups"])
        tell("", f"## {ledger.n_completions:,} completions, {n_tenants} tenant(s)", "")
        tell(f"{N_SITES} sites, {ledger.n_surfaces:,} floors, {len(MATERIALS)} materials, 24 months; {rows:,} sums by month, {parts:,} parts of them. Filled in {filled:.0f} s, sums made anew in {rebuilt:.0f} s.", "")
        measured = [reports.database_time, reports.end_to_end, reports.extract]
        measured += [reports.table, reports.ingest] if n_tenants == 1 else []
        for part in measured:
            begun = time.monotonic()
            tell(*part(), "", f"({part.__name__}: {time.monotonic() - begun:.0f} s)", "")
        figures[label] = reports.seen | {"filled_s": filled, "rebuilt_s": rebuilt, "rollups": rows, "parts": parts}
        # The next one needs the room.
        ledger.database.ask(load.server_url, f"DROP DATABASE {ledger.database.url.rsplit('/', 1)[-1]} WITH (FORCE)")
    figures["load_after"] = os.getloadavg()
    kept.write_text(json.dumps(figures, indent=1, default=str))
    missed = [f"{label}: {name}" for label in ("one", "many") for name, bar in figures[label].get("bars", {}).items() if not bar["held"]]
    return [f"Bars that were missed: {', '.join(missed) or 'none'}. Load average {figures['load_before'][0]:.1f} before, {figures['load_after'][0]:.1f} after. Every figure: {kept}"]
