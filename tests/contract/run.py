"""Holds a running service to its API description with requests that a tool makes up from the description alone.

    python tests/contract/run.py BINARY DIRECTORY [--database-url URL] [--cases N]

Prints how many requests were sent, and one test for each operation: it passed if none of its requests was answered in
another way than the description says.
"""

import argparse
import json
import re
import shutil
import subprocess
import sys
import time
from pathlib import Path

from service import EXAMPLES, ROOT, Service, seed

HERE = Path(__file__).resolve().parent
DOCUMENT = ROOT / "openapi" / "openapi.json"


def with_ids_of(ids):
    """The description with the ids of its examples exchanged for those of records that exist."""
    text = re.sub(r"\b([a-z]{3})_[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}", lambda found: ids.get(found[1], found[0]), DOCUMENT.read_text())
    document = json.loads(text)
    prefixes = {"site": "sit", "surface": "srf", "plan": "pln", "estimate": "est", "completion": "cmp", "contractor": "con", "subscription": "sub"}
    for item in document["paths"].values():
        for operation in item.values():
            for parameter in operation.get("parameters", []):
                known = ids.get(prefixes.get(parameter.get("name", "").removesuffix("_id")))
                if known and parameter["in"] == "path":
                    parameter["example"] = known
    return json.dumps(document)


def main():
    arguments = argparse.ArgumentParser()
    arguments.add_argument("binary", type=Path)
    arguments.add_argument("directory", type=Path)
    arguments.add_argument("--database-url")
    arguments.add_argument("--cases", type=int, default=12, help="made-up requests for each operation, beside the systematic ones")
    given = arguments.parse_args()
    shutil.rmtree(given.directory, ignore_errors=True)
    tools = Path(sys.executable).parent
    subprocess.run([tools / "openapi-spec-validator", DOCUMENT], check=True)
    started = time.monotonic()
    with Service(given.binary, given.directory, given.database_url) as service:
        document = given.directory / "openapi.json"
        ids = seed(service)
        ids["sub"] = service.post("/v1/subscriptions", EXAMPLES["makeSubscription"]["request"], "subscription")["id"]
        document.write_text(with_ids_of(ids))
        command = [
            tools / "schemathesis", "--config-file", HERE / "schemathesis.toml",
            "run", document, "--url", service.url,
            "--header", f"Authorization: Bearer {service.token}",
            "--checks", "all", "--phases", "examples,coverage,fuzzing,stateful",
            "--max-examples", str(given.cases), "--seed", "1", "--generation-database", "none",
            # Two threads that parse Python at once break the parser of Python 3.11, which the tool's generator uses.
            "--workers", "1",
            "--max-response-time", "5", "--continue-on-failure", "--no-color",
            "--report", "json", "--report-dir", given.directory / "report",
        ]
        status = subprocess.run(command, cwd=given.directory, check=False).returncode
    reports = sorted((given.directory / "report").glob("*.json"))
    if not reports:
        raise SystemExit("schemathesis left no report")
    report = json.loads(reports[-1].read_text())
    bad = {name for failure in report["failures"] + report["errors"] for name in failure.get("operations", ["?"])}
    tested, cases = report["operations"]["tested"], report["test_cases"]["generated"]
    log = (given.directory / "service.log").read_text()
    if "panicked" in log or not report["complete"]:
        bad.add("the run itself")
        print(log)
    described = sum(len(item) for item in json.loads(DOCUMENT.read_text())["paths"].values())
    if cases < 5_000 or tested < described:
        bad.add(f"{cases} requests to {tested} of {described} operations")
    n_bad = len(bad) or (1 if status else 0)
    print(f"\n{cases} requests to {tested} operations in {time.monotonic() - started:.0f} s; seed 1")
    verdict = "FAILED" if n_bad else "ok"
    print(f"test result: {verdict}. {max(tested - n_bad, 0)} passed; {n_bad} failed; operations held to their description")
    return 1 if n_bad else 0


if __name__ == "__main__":
    sys.exit(main())
