"""Measures the service beside servers that do less, in one run, in alternating rounds; see README.md beside this file.

Processor time per request comes first: requests per second move with everything else that the machine does.
"""

import argparse
import atexit
import base64
import contextlib
import json
import os
import platform
import socket
import statistics
import subprocess
import sys
import tempfile
import time
import urllib.error
import urllib.request
from pathlib import Path

import beside
import fill
import jobs
import mixed
import reports

HERE = Path(__file__).resolve().parent
SERVER_CPU, DRIVER_CPU = "0", "1"
N_CONNECTIONS = 32
TICKS = os.sysconf("SC_CLK_TCK")
OPERATIONS = ["get surface", "list 50 surfaces", "create plan", "create completion"]
# The bars: at most so many times the processor time of the bare statement, at least so many times the peer's rate, and
# at most so many times the processor time on a hundred times the records.
BAR_BARE, BAR_PEER, BAR_GROWTH = 1.5, 10.0, 1.3
KINDS = {"sqlite": fill.Sqlite, "postgres": fill.Postgres}


class Server:
    """A process that is measured: pinned to one processor, its log in a file."""

    def __init__(self, name, command, environment, directory, cpus=SERVER_CPU):
        self.name, self.port = name, free_port()
        self.log = Path(directory) / f"{name}-{self.port}.log"
        command = [part.replace("PORT", str(self.port)) for part in command]
        environment = {key: value.replace("PORT", str(self.port)) for key, value in environment.items()}
        with open(self.log, "w") as log:
            pinned = ["taskset", "-c", cpus, *command]
            self.process = subprocess.Popen(pinned, env=environment, cwd=directory, stdout=log, stderr=log)
        # One that starts and another that does not: none of them outlives the run.
        atexit.register(self.process.kill)
        self.address = f"127.0.0.1:{self.port}"
        self.wait()
        self.idle_mb = self.memory_mb()

    def wait(self):
        until = time.monotonic() + 30
        while time.monotonic() < until and self.process.poll() is None:
            with contextlib.suppress(OSError), socket.create_connection(("127.0.0.1", self.port), 1):
                return
            time.sleep(0.05)
        raise SystemExit(f"{self.name} did not start:\n{self.log.read_text()}")

    def cpu_s(self):
        return cpu_s(self.process.pid)

    def memory_mb(self):
        status = Path(f"/proc/{self.process.pid}/status").read_text()
        return int(status.split("VmRSS:")[1].split()[0]) / 1024

    def stop(self):
        self.process.terminate()
        self.process.wait(30)


def free_port():
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


def fields(pid):
    """The fields of /proc/PID/stat from the third on: the name before them may hold anything."""
    return Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()


def cpu_s(pid):
    stat = fields(pid)
    return (int(stat[11]) + int(stat[12])) / TICKS


# One for all processes: what one of them seals the others open.
SEAL_KEYS = f"load:{base64.b64encode(os.urandom(32)).decode()}"


class Load:
    """Where everything is, and what is measured so far."""

    def __init__(self, arguments, directory):
        self.arguments = arguments
        self.binaries = Path(arguments.binaries).resolve()
        self.directory = directory
        self.server_url = os.environ.get("WEARCOURSE_TEST_DATABASE_URL")
        self.environment = {name: value for name, value in os.environ.items() if not name.startswith("WEARCOURSE_")}
        self.postmaster = None
        self.server_cpu = SERVER_CPU
        self.number = time.time_ns() // 1000
        self.measures = []

    def service_environment(self, database):
        return self.environment | {
            "WEARCOURSE_BIND": "127.0.0.1:PORT",
            "WEARCOURSE_METRICS_BIND": "off",
            "WEARCOURSE_WORKERS": "1",
            "WEARCOURSE_LOG": "info",
            "WEARCOURSE_AUTH_SECRET": "a secret of a measurement that is thrown away with its database",
            "WEARCOURSE_RATE_PER_S": "0",
            "WEARCOURSE_FAILED_AUTH_PER_MIN": "0",
            "WEARCOURSE_SEAL_KEYS": SEAL_KEYS,
            "WEARCOURSE_DATABASE_URL": database.service_url,
        }

    def command(self, database):
        environment = self.service_environment(database) | {"WEARCOURSE_BIND": "127.0.0.1:0"}
        return lambda *words: fill.run_command(str(self.binaries / "wearcourse"), environment, *words)

    def service(self, database, name="service", cpus=SERVER_CPU):
        return Server(name, [str(self.binaries / "wearcourse"), "serve"], self.service_environment(database), self.directory, cpus)

    def bare(self, *arguments, name):
        command = [str(self.binaries / "examples" / "bare"), "127.0.0.1:PORT", *arguments]
        return Server(name, command, self.environment, self.directory)

    def peer(self, database, sample):
        environment = self.environment | {"PEER_DATABASE_URL": database.peer_url, "PEER_SAMPLE": str(sample)}
        command = [sys.executable, "-m", "uvicorn", "peer:app", "--app-dir", str(HERE), "--port", "PORT"]
        return Server("peer", [*command, "--no-access-log", "--log-level", "warning"], environment, self.directory)

    def database(self, kind, label, n_surfaces):
        """A filled database, a token for it and what is in it."""
        print(f"filling {kind.name} with {n_surfaces:,} surfaces", file=sys.stderr, flush=True)
        database = kind(self.directory, label, self.server_url)
        command = self.command(database)

        @contextlib.contextmanager
        def service():
            token, server = command("token", "--tenant", "load", "--bundle", "admin").splitlines()[-1], self.service(database)
            try:
                yield lambda path, body: post(server.address, path, body, token)
            finally:
                server.stop()

        made = fill.make(database, command, service, n_surfaces)
        made["token"] = command("token", "--tenant", "load", "--bundle", "admin", "--hours", "12").splitlines()[-1]
        made["sample_file"] = self.directory / f"sample-{kind.name}-{label}.json"
        made["sample_file"].write_text(json.dumps(made["sample"]))
        made["requests"] = {name: self.requests(made, name, f"{kind.name}-{label}") for name in OPERATIONS}
        return database, made

    def requests(self, made, operation, label):
        """A file of requests for the driver, spread over the whole table."""
        n = len(made["surfaces"])
        some = [made["surfaces"][index * n // 4000] for index in range(4000)]
        some = [some[index * 1597 % 4000] for index in range(4000)]
        if operation == "get surface":
            requests = [request(made, "GET", f"/v1/surfaces/{surface}") for surface in some]
        elif operation == "list 50 surfaces":
            requests = [request(made, "GET", f"/v1/surfaces?site_id={site}&limit=50") for site in made["sites"]]
        elif operation == "create plan":
            bodies = (made["plan_request"] | {"surface_id": surface} for surface in some)
            requests = [request(made, "POST", "/v1/plans", body) for body in bodies]
        else:
            bodies = (made["completion_request"] | {"surface_id": surface} for surface in some)
            requests = [request(made, "POST", "/v1/completions", body, ["Idempotency-Key: load-################"]) for body in bodies]
        file = self.directory / f"requests-{label}-{operation.replace(' ', '-')}"
        file.write_bytes(b"".join(b"%d\n%s" % (len(one), one) for one in requests))
        return file

    def drive(self, server, file, seconds, rate=None, connections=N_CONNECTIONS):
        """Sends requests for a while, so many a second if `rate` says so; answers what the driver saw and what it cost."""
        before, database_before = server.cpu_s(), self.database_cpu_s()
        command = ["taskset", "-c", DRIVER_CPU, str(self.binaries / "examples" / "drive"), server.address]
        command += [str(connections), str(seconds), str(file), str(self.number), *([str(rate)] if rate else [])]
        done = subprocess.run(command, capture_output=True, text=True, check=False)
        if done.returncode != 0:
            raise SystemExit(f"driving {server.name} failed: {done.stderr}\n{server.log.read_text()[-2000:]}")
        seen = json.loads(done.stdout)
        self.number += seen["answered"] + seen["refused"]
        # A busy machine keeps some waiting for a connection until they are told to come back; more is a mistake.
        if rate is None and seen["refused"] * 20 > seen["answered"]:
            raise SystemExit(f"{server.name} refused {seen['refused']} requests of {file.name}: {seen['first_refusal']}")
        answered = max(seen["answered"], 1)
        return {
            "server_us": (server.cpu_s() - before) * 1e6 / answered,
            "database_us": (self.database_cpu_s() - database_before) * 1e6 / answered,
            "per_s": answered / seen["seconds"],
            "refused": seen["refused"],
            "p50_us": seen["p50_us"],
            "p95_us": seen["p95_us"],
            "p99_us": seen["p99_us"],
        }

    def database_cpu_s(self):
        """The processor time of the private server with all that it started and ended."""
        if self.postmaster is None:
            return 0.0
        children = Path(f"/proc/{self.postmaster}/task/{self.postmaster}/children").read_text().split()
        ended = sum(int(field) for field in fields(self.postmaster)[13:15]) / TICKS
        total = cpu_s(self.postmaster) + ended
        for child in children:
            with contextlib.suppress(OSError):
                total += cpu_s(child)
        return total

    def rounds(self, kind, subject, runs):
        """Measures every run once in each round, beginning with another one each time."""
        for _, server, file in runs:
            self.drive(server, file, 0.7)
        for number in range(self.arguments.rounds):
            turn = number % len(runs)
            for operation, server, file in runs[turn:] + runs[:turn]:
                seen = self.drive(server, file, self.arguments.seconds)
                about = {"database": kind.name, "subject": subject, "operation": operation, "server": server.name, "round": number}
                self.measures.append(about | {"load": os.getloadavg()[0]} | seen)
                print(
                    f"{kind.name:10} {subject:10} {operation:18} {server.name:10} {seen['server_us']:9.1f} us {seen['per_s']:9.0f}/s",
                    file=sys.stderr,
                    flush=True,
                )

    def measure(self, kind):
        small, large = self.arguments.surfaces
        database, made = self.database(kind, "small", small)
        if kind is fill.Postgres:
            self.postmaster = postmaster(database)
        static = self.directory / f"static-{kind.name}.json"
        static.write_text(made["sample"]["plan"][: made["surface_bytes"]])
        servers = [
            self.service(database),
            self.bare(database.url, str(made["sample_file"]), name="bare"),
            self.peer(database, made["sample_file"]),
        ]
        framework = self.bare("static", str(static), name="framework")
        try:
            for operation in OPERATIONS:
                runs = [(operation, server, made["requests"][operation]) for server in servers]
                if operation == "get surface":
                    runs.append((operation, framework, made["requests"][operation]))
                self.rounds(kind, "beside", runs)
            memory = {server.name: [server.idle_mb, server.memory_mb()] for server in [*servers, framework]}
        finally:
            for server in [*servers, framework]:
                server.stop()
        if large:
            self.growth(kind)
        return {"version": database.version(), "memory_mb": memory}

    def growth(self, kind):
        """On databases of their own, because nobody has written to these yet."""
        named = list(zip(["small", "large"], self.arguments.surfaces, strict=True))
        filled = [(name, *self.database(kind, f"{name}_alone", n)) for name, n in named]
        servers = [(self.service(database, name), made) for name, database, made in filled]
        try:
            for operation in OPERATIONS:
                runs = [(operation, server, made["requests"][operation]) for server, made in servers]
                self.rounds(kind, "growth", runs)
        finally:
            for server, _ in servers:
                server.stop()


def postmaster(database):
    """The process of the server: the parent of any that serves a connection."""

    async def ask():
        connection = await fill.asyncpg.connect(database.url)
        try:
            return int(fields(await connection.fetchval("SELECT pg_backend_pid()"))[1])
        finally:
            await connection.close()

    return database.loop.run_until_complete(ask())


def request(made, method, path, body=None, more=()):
    head = [f"{method} {path} HTTP/1.1", "Host: localhost", f"Authorization: Bearer {made['token']}"]
    text = b""
    if body is not None:
        text = json.dumps(body).encode()
        head += ["Content-Type: application/json", f"Content-Length: {len(text)}", *more]
    return "\r\n".join([*head, "", ""]).encode() + text


def post(address, path, body, token):
    headers = {"Authorization": f"Bearer {token}", "Content-Type": "application/json", "Idempotency-Key": f"fill-{time.time_ns()}"}
    sent = urllib.request.Request(f"http://{address}{path}", json.dumps(body).encode(), headers)
    try:
        with urllib.request.urlopen(sent, timeout=30) as answer:
            return json.load(answer)
    except urllib.error.HTTPError as refused:
        raise SystemExit(f"POST {path}: {refused.code} {refused.read().decode()}") from refused


class Result:
    """What the tables are made of: medians over the rounds."""

    def __init__(self, measures):
        self.measures = measures

    def of(self, **about):
        found = [one for one in self.measures if all(one[key] == value for key, value in about.items())]
        names = ["server_us", "database_us", "per_s", "refused", "p50_us", "p99_us"]
        if not found:
            return None
        spread = [one["server_us"] for one in found]
        return {name: statistics.median(one[name] for one in found) for name in names} | {"low": min(spread), "high": max(spread)}

    def beside(self, database):
        yield "| operation | server | server µs (low-high) | database µs | requests/s | p50 ms | p99 ms | service µs / its µs | service rate / its rate |"
        yield "| --- | --- | --- | --- | --- | --- | --- | --- | --- |"
        for operation in OPERATIONS:
            own = self.of(database=database, subject="beside", operation=operation, server="service")
            for server in ["service", "bare", "peer", "framework"]:
                one = self.of(database=database, subject="beside", operation=operation, server=server)
                if one is None:
                    continue
                cost, rate = own["server_us"] / one["server_us"], own["per_s"] / one["per_s"]
                judged = [f"{cost:.2f}", f"{rate:.2f}"]
                if server == "bare" and operation == "get surface":
                    judged[0] += verdict(cost <= BAR_BARE)
                if server == "peer":
                    judged[1] += verdict(rate >= BAR_PEER)
                numbers = [f"{one['server_us']:.1f} ({one['low']:.1f}-{one['high']:.1f})", f"{one['database_us']:.1f}", f"{one['per_s']:.0f}" + (f" ({one['refused']:.0f} refused)" if one["refused"] else "")]
                times = [f"{one['p50_us'] / 1000:.2f}", f"{one['p99_us'] / 1000:.2f}"]
                yield "| " + " | ".join([operation, server, *numbers, *times, *(judged if server != "service" else ["", ""])]) + " |"

    def growth(self, database):
        yield "| operation | small: server + database µs | large: server + database µs | large / small |"
        yield "| --- | --- | --- | --- |"
        for operation in OPERATIONS:
            sizes = [self.of(database=database, subject="growth", operation=operation, server=name) for name in ["small", "large"]]
            if None in sizes:
                return
            costs = [one["server_us"] + one["database_us"] for one in sizes]
            shown = [f"{one['server_us']:.1f} + {one['database_us']:.1f}" for one in sizes]
            ratio = costs[1] / costs[0]
            yield f"| {operation} | {shown[0]} | {shown[1]} | {ratio:.2f}{verdict(ratio < BAR_GROWTH)} |"


def verdict(held):
    return " ✓" if held else " ✗ misses its bar"


def busy():
    """What else takes processor time just now, without this process and what it started."""
    listing = subprocess.run(["ps", "-eo", "pid,ppid,pcpu,comm", "--sort=-pcpu"], capture_output=True, text=True, check=False).stdout
    lines = [line.split(None, 3) for line in listing.splitlines()[1:12]]
    return [f"{comm} {cpu}%" for pid, ppid, cpu, comm in lines if float(cpu) >= 1 and str(os.getpid()) not in (pid, ppid)]


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("binaries", help="the directory of an optimised build")
    parser.add_argument("directory", help="for databases, logs and the file with the figures; several GB")
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--seconds", type=float, default=3)
    parser.add_argument("--surfaces", type=int, nargs=2, default=[10_000, 1_000_000], help="small and large; 0 leaves the large one out")
    parser.add_argument("--databases", nargs="+", choices=["sqlite", "postgres"], default=["sqlite", "postgres"])
    parser.add_argument("--mixed", action="store_true", help="only the mixed run and the outbox, on PostgreSQL")
    parser.add_argument("--reports", action="store_true", help="only reports over many completions, on PostgreSQL")
    parser.add_argument("--completions", type=int, default=2_000_000, help="with --reports: so many, once in one tenant and once in twenty")
    parser.add_argument("--jobs", action="store_true", help="only an estimate over as many surfaces as a job may have")
    parser.add_argument("--beside-schedule", action="store_true", help="only how long callers wait while a schedule is made")
    parser.add_argument("--tasks", type=int, default=1_950, help="of about so many tasks")
    arguments = parser.parse_args()
    kept = Path(arguments.directory).resolve()
    kept.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=kept) as directory:
        load = Load(arguments, Path(directory))
        if arguments.mixed:
            print("\n".join(mixed.measure(load, postmaster, post, kept / "mixed.json")))
            return
        if arguments.reports:
            print("\n".join(reports.measure(load, postmaster, post, kept / "reports.json")))
            return
        if arguments.jobs:
            found = [jobs.measure(load, KINDS[name]) for name in arguments.databases]
            (kept / "jobs.json").write_text(json.dumps({"beside": busy(), "jobs": found}, indent=1))
            print("\n".join(jobs.told(found, verdict)))
            return
        if arguments.beside_schedule:
            print("\n".join(beside.measure(load, post, kept / "beside.json")))
            return
        about = measure(load)
    figures = kept / "figures.json"
    figures.write_text(json.dumps({"about": about, "measures": load.measures}, indent=1))
    tell(about, load.measures)
    print(f"\nEvery figure of every round: {figures}")


def measure(load):
    """Measures all, and says what it was measured with."""
    arguments = load.arguments
    about = {
        "started": time.strftime("%Y-%m-%dT%H:%M:%SZ", time.gmtime()),
        "load_before": os.getloadavg(),
        "beside_before": busy(),
        "machine": [platform.processor() or platform.machine(), platform.release(), f"{os.cpu_count()} processors"],
        "rustc": subprocess.run(["rustc", "--version"], capture_output=True, text=True, check=False).stdout.strip(),
        "commit": subprocess.run(["git", "describe", "--always", "--dirty"], cwd=HERE, capture_output=True, text=True, check=False).stdout.strip(),
        "python": platform.python_version(),
        "peer": (HERE / "requirements.txt").read_text().split("\n")[1:-1],
        "rounds": arguments.rounds,
        "seconds": arguments.seconds,
        "surfaces": arguments.surfaces,
    }
    databases = {KINDS[name].name: load.measure(KINDS[name]) for name in arguments.databases}
    return about | {"load_after": os.getloadavg(), "beside_after": busy(), "databases": databases}


def tell(about, measures):
    """Prints the tables."""
    result = Result(measures)
    print("# Load\n")
    for name, value in about.items():
        print(f"- {name}: {value}")
    small, large = about["surfaces"]
    for database in about["databases"]:
        print(f"\n## {database}\n")
        print("\n".join(result.beside(database)))
        if large:
            print(f"\nGrowth from {small:,} to {large:,} surfaces\n")
            print("\n".join(result.growth(database)))


if __name__ == "__main__":
    main()
