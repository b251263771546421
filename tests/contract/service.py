"""The service as a process of its own, on an empty database, for tools that know nothing of its code."""

import base64
import json
import os
import socket
import subprocess
import time
import urllib.error
import urllib.request
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
EXAMPLES = json.loads((ROOT / "openapi" / "examples.json").read_text())
TENANT = "outside"


class Service:
    """Serves until the `with` block ends; its log is in the directory that was given."""

    def __init__(self, binary, directory, database_url=None):
        self.binary, self.directory = str(binary), Path(directory)
        self.directory.mkdir(parents=True, exist_ok=True)
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            port = probe.getsockname()[1]
        self.url = f"http://127.0.0.1:{port}"
        self.environment = {name: value for name, value in os.environ.items() if not name.startswith("WEARCOURSE_")} | {
            "WEARCOURSE_BIND": f"127.0.0.1:{port}",
            "WEARCOURSE_METRICS_BIND": "off",
            "WEARCOURSE_LOG": "warn",
            "WEARCOURSE_DRAIN_S": "0",
            # Nobody is called at addresses that a tool makes up.
            "WEARCOURSE_OUTBOUND": "off",
            "WEARCOURSE_AUTH_SECRET": "a secret of a test that is thrown away with its database",
            "WEARCOURSE_RATE_PER_S": "0",
            "WEARCOURSE_FAILED_AUTH_PER_MIN": "0",
            "WEARCOURSE_SEAL_KEYS": f"test:{base64.b64encode(os.urandom(32)).decode()}",
            "WEARCOURSE_DATABASE_URL": database_url or f"sqlite://{self.directory / 'outside.sqlite'}",
        }
        self.process = None
        self.token = None

    def _command(self, *arguments):
        done = subprocess.run(
            [self.binary, *arguments], env=self.environment, cwd=self.directory, capture_output=True, text=True, check=False
        )
        if done.returncode != 0:
            raise SystemExit(f"wearcourse {' '.join(arguments)} failed:\n{done.stdout}{done.stderr}")
        return done.stdout.strip()

    def __enter__(self):
        self._command("migrate")
        self._command("tenant", "add", TENANT)
        self.token = self._command("token", "--tenant", TENANT, "--bundle", "admin").splitlines()[-1]
        log = open(self.directory / "service.log", "w")
        self.process = subprocess.Popen([self.binary, "serve"], env=self.environment, cwd=self.directory, stdout=log, stderr=log)
        for _ in range(300):
            try:
                with urllib.request.urlopen(f"{self.url}/readyz", timeout=2):
                    return self
            except (urllib.error.URLError, ConnectionError):
                if self.process.poll() is not None:
                    break
                time.sleep(0.1)
        self.__exit__()
        raise SystemExit(f"the service did not start:\n{(self.directory / 'service.log').read_text()}")

    def __exit__(self, *_):
        if self.process.poll() is None:
            self.process.terminate()
            try:
                self.process.wait(20)
            except subprocess.TimeoutExpired:
                self.process.kill()
                self.process.wait()

    def post(self, path, body, key):
        headers = {
            "Authorization": f"Bearer {self.token}",
            "Content-Type": "application/json",
            "Idempotency-Key": key,
        }
        request = urllib.request.Request(self.url + path, json.dumps(body).encode(), headers)
        try:
            with urllib.request.urlopen(request, timeout=30) as answer:
                return json.load(answer)
        except urllib.error.HTTPError as refused:
            raise SystemExit(f"POST {path}: {refused.code} {refused.read().decode()}") from refused


def seed(service):
    """Makes a small estate of the examples in the API description and answers an id of each kind, by its prefix.

    Without it a tool that makes up ids meets little but 404.
    """
    ids = {}

    def made(path, body, key):
        identity = service.post(path, body, key)["id"]
        ids[identity[:3]] = identity
        return identity

    def example(operation, **members):
        return EXAMPLES[operation]["request"] | members

    for number in range(2):
        site = made("/v1/sites", example("registerSite", name=f"House {number}"), f"site-{number}")
        contractor = made("/v1/contractors", example("registerContractor"), f"contractor-{number}")
        for floor, material in enumerate(["vinyl_composition_tile", "vinyl_sheet", "vinyl_sheet"]):
            key = f"{number}-{floor}"
            members = {"site_id": site, "name": f"Room {key}", "material": material}
            surface = made("/v1/surfaces", example("registerSurface", **members), f"surface-{key}")
            made("/v1/plans", example("proposePlan", surface_id=surface), f"plan-{key}")
            done = example("recordCompletion", surface_id=surface, contractor_id=contractor)
            made("/v1/completions", done, f"completion-{key}")
        made("/v1/estimates", example("makeEstimate", site_id=site), f"estimate-{number}")
    return ids
