"""Public rule checkers read openapi/openapi.json: it must give them nothing to report but what is explained here.

    python3 tests/description/run.py DIRECTORY

Needs Node with npm, which puts the checkers, by their exact versions, into DIRECTORY.
"""

import json
import os
import subprocess
import sys
from collections import Counter
from pathlib import Path

HERE = Path(__file__).resolve().parent
DOCUMENT = HERE.parent.parent / "openapi" / "openapi.json"
NPM = ["@redocly/cli@2.77.0", "@stoplight/spectral-cli@6.16.3"]

# Schemas that only words lead to.
WORDED = ("InboundNameRequest", "InboundVoidRequest", "ResultLine")
WHY_WORDED = (
    "finds no reference: they tell what is in an NDJSON line, and in the data of a signed event by its type, which OpenAPI 3.1 can "
    "only say in words"
)
# Rules of checkers that the document breaks on purpose: what the message holds where that is so, and the reason.
EXPLAINED = {
    "oas3-operation-security-defined": (
        ("",),
        "asks that the scopes of a bearer token be declared, which OpenAPI 3.1 offers for OAuth2 only; 3.1 lets any scheme list the "
        "roles that a call needs, and a caller reads them there",
    ),
    "no-unused-components": (WORDED, WHY_WORDED),
    "oas3-unused-component": (WORDED, WHY_WORDED),
    "no-illogical-composition-keywords": (
        ("`#/components/schemas/SurfaceBatchRequest` and `#/components/schemas/SurfaceMergeBatchRequest`",),
        "sees no difference where a member may be left out: `merge` is `true` in one of the two and `false`, which is its default, in "
        "the other, so no body fits both",
    ),
}


def is_explained(problem):
    rule, message = problem
    return any(text in message for text in EXPLAINED.get(rule, ((),))[0])


def run(*command, cwd):
    environment = os.environ | {"REDOCLY_TELEMETRY": "off", "REDOCLY_SUPPRESS_UPDATE_NOTICE": "true", "NO_COLOR": "1"}
    return subprocess.run([str(word) for word in command], cwd=cwd, env=environment, capture_output=True, text=True, check=False)


def told(done, problems):
    """The problems of a checker; one that failed and tells of none has not looked."""
    if done.returncode and not problems:
        raise ValueError(done.stderr[-500:])
    return problems


def redocly(home):
    done = run(home / "node_modules/.bin/redocly", "lint", "--extends", "recommended", "--format", "json", DOCUMENT, cwd=home)
    return told(done, [(problem["ruleId"], problem["message"]) for problem in json.loads(done.stdout)["problems"]])


def spectral(home):
    command = ["lint", "--ruleset", HERE / "ruleset.yaml", "--format", "json", "--quiet", "--fail-severity", "hint", DOCUMENT]
    done = run(home / "node_modules/.bin/spectral", *command, cwd=home)
    problems = json.loads(done.stdout)
    return told(done, [(problem["code"], f"{'/'.join(map(str, problem['path']))}: {problem['message']}") for problem in problems])


def main(directory):
    home = Path(directory)
    home.mkdir(parents=True, exist_ok=True)
    done = run("npm", "install", "--no-save", "--no-audit", "--no-fund", "--prefix", home, *NPM, cwd=home)
    if done.returncode != 0:
        sys.exit(f"npm could not install {', '.join(NPM)}:\n{done.stderr[-2000:]}")
    n_failed = 0
    for checker in (redocly, spectral):
        try:
            problems = checker(home)
        except (ValueError, KeyError) as fault:
            problems = [("no report", repr(fault))]
        unexplained = [problem for problem in problems if not is_explained(problem)]
        for rule, message in unexplained[:50]:
            print(f"  {rule}: {message}")
        for rule, n in Counter(rule for rule, message in problems if is_explained((rule, message))).items():
            print(f"  {rule}: {n} times, on purpose: it {EXPLAINED[rule][1]}")
        n_failed += bool(unexplained)
        word = "FAILED. 0 passed; 1 failed" if unexplained else "ok. 1 passed; 0 failed"
        print(f"test result: {word}; {checker.__name__} with {len(unexplained)} unexplained problems", flush=True)
    return 1 if n_failed else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1]))
