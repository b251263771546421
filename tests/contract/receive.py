"""Receives what the service sends and holds it to two public libraries: `standardwebhooks` for the signatures, the SDK of
CloudEvents for the events.

    python tests/contract/receive.py BINARY DIRECTORY [--database-url URL]
"""

import argparse
import json
import shutil
import subprocess
import sys
import threading
import time
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

from cloudevents.core.bindings.http import HTTPMessage, from_structured
from cloudevents.core.formats.json import JSONFormat
from standardwebhooks import Webhook, WebhookVerificationError

from service import Service, seed

RECEIVED = []


class Receiver(BaseHTTPRequestHandler):
    """Takes everything, but the first message only at the second attempt."""

    def do_POST(self):
        body = self.rfile.read(int(self.headers["content-length"]))
        RECEIVED.append(({name.lower(): value for name, value in self.headers.items()}, body))
        self.send_response(204 if len(RECEIVED) > 1 else 503)
        self.end_headers()

    def log_message(self, *_):
        pass


SNIPPETS = Path(__file__).resolve().parents[2] / "api" / "src" / "guide"
# The code that the page for integrators shows, and what runs it; Python and a shell are there wherever this runs.
VERIFIERS = [(sys.executable, "verify.py"), ("sh", "verify.sh"), ("bash", "verify.sh"), ("node", "verify.mjs"), ("java", "Verify.java")]


def verifiers_believe(secret, headers, body):
    """Runs the code that integrators are shown over a message as it came and as somebody forged it."""
    message = [headers["webhook-id"], headers["webhook-timestamp"], headers["webhook-signature"]]
    # Nothing of a header may be run or end the program, and a text that is no time is none.
    odd = [headers["webhook-id"], "a[$(exit 7)0]", "v1,\u00fc * " + headers["webhook-signature"]]
    old = [headers["webhook-id"], str(int(headers["webhook-timestamp"]) - 400), headers["webhook-signature"]]
    n = 0
    for program, name in VERIFIERS:
        if not shutil.which(program):
            print(f"{name} was not run: there is no {program} here")
            continue
        for told, sent, wanted in ((message, body, 0), (message, body + b" ", 1), (old, body, 1), (odd, body, 1)):
            found = subprocess.run([program, SNIPPETS / name, secret, *told], input=sent, check=False, timeout=60).returncode
            must(found == wanted, f"{name} ended with {found} and not {wanted}")
        n += 1
    return n


def must(condition, what):
    if not condition:
        raise SystemExit(f"FAILED: {what}")


def main():
    arguments = argparse.ArgumentParser()
    arguments.add_argument("binary", type=Path)
    arguments.add_argument("directory", type=Path)
    arguments.add_argument("--database-url")
    given = arguments.parse_args()
    shutil.rmtree(given.directory, ignore_errors=True)
    server = ThreadingHTTPServer(("127.0.0.1", 0), Receiver)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    service = Service(given.binary, given.directory, given.database_url)
    service.environment |= {"WEARCOURSE_OUTBOUND": "on", "WEARCOURSE_OUTBOUND_INSECURE": "on"}
    with service:
        url = f"http://127.0.0.1:{server.server_port}/"
        subscription = service.post("/v1/subscriptions", {"name": "Outside", "url": url}, "subscription")
        seed(service)
        # Its own making; two sites, contractors and estimates; six surfaces, plans and completions; the second attempt.
        wanted, deadline = 1 + 3 * 2 + 3 * 6 + 1, time.monotonic() + 60
        while len(RECEIVED) < wanted and time.monotonic() < deadline:
            time.sleep(0.1)
    must(len(RECEIVED) >= wanted, f"{len(RECEIVED)} messages and not {wanted}")
    hook, n_events = Webhook(subscription["secret"]), {}
    for headers, body in RECEIVED:
        hook.verify(body, headers)
        for forged in (body + b" ", body.replace(b"1.0", b"1.1", 1)):
            try:
                hook.verify(forged, headers)
            except WebhookVerificationError:
                continue
            raise SystemExit("FAILED: a forged message was believed")
        event = from_structured(HTTPMessage(headers, body), JSONFormat())
        must(event.get_id() == headers["webhook-id"], "the message and the event have two ids")
        must(event.get_data() == json.loads(body)["data"], "the data is another")
        n_events.setdefault(event.get_type(), set()).add(event.get_id())
    n = sum(len(ids) for ids in n_events.values())
    must(len(RECEIVED) > n, "no message came twice")
    n_verifiers = verifiers_believe(subscription["secret"], *RECEIVED[-1])
    must(n_verifiers >= 2, "the code for Python and a shell was not run")
    print(f"{n_verifiers} programs of the guide verified a message and refused two forged ones")
    print(f"\n{len(RECEIVED)} messages of {n} events of {len(n_events)} types were verified and read")
    print(f"test result: ok. {len(RECEIVED)} passed; 0 failed; messages held to public libraries")
    return 0


if __name__ == "__main__":
    sys.exit(main())
