"""Clients that public generators make from openapi/openapi.json each do the main job against a running service.

    python tests/clients/run.py BINARY DIRECTORY

Prints one test and one time for each client. Node with npm and a JDK must be there; npm puts its packages, by their
exact versions, into DIRECTORY.
"""

import os
import shutil
import subprocess
import sys
import time
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE.parent / "contract"))
from service import ROOT, Service  # noqa: E402

DOCUMENT = ROOT / "openapi" / "openapi.json"
DATA = HERE / "journey.json"
TOOLS = Path(sys.executable).parent
NPM = ["typescript@5.9.3", "openapi-typescript@7.13.0"]


def run(*command, cwd):
    environment = os.environ | {"PATH": f"{TOOLS}{os.pathsep}{os.environ['PATH']}"}
    done = subprocess.run([str(word) for word in command], cwd=cwd, env=environment, capture_output=True, text=True, check=False)
    if done.returncode != 0:
        raise RuntimeError(f"{Path(str(command[0])).name} failed:\n{done.stdout[-3000:]}{done.stderr[-3000:]}")
    return done.stdout


def python(home, service):
    run("openapi-python-client", "generate", "--path", DOCUMENT, "--output-path", home / "generated", "--meta", "none", cwd=home)
    shutil.copy(HERE / "journey.py", home)
    return run(sys.executable, "journey.py", service.url, service.token, DATA, cwd=home)


def typescript(home, service):
    run("npm", "install", "--no-save", "--no-audit", "--no-fund", "--ignore-scripts", "--prefix", home, *NPM, cwd=home)
    tools = home / "node_modules" / ".bin"
    shutil.copy(HERE / "journey.ts", home)
    run(tools / "openapi-typescript", DOCUMENT, "-o", home / "generated.ts", cwd=home)
    settings = ["--strict", "--target", "es2022", "--module", "commonjs", "--lib", "es2022,dom,dom.iterable"]
    run(tools / "tsc", "--noEmit", *settings, "journey.ts", cwd=home)
    run(tools / "tsc", *settings, "--outDir", home / "out", "journey.ts", cwd=home)
    return run("node", "out/journey.js", service.url, service.token, DATA, cwd=home)


def java(home, service):
    # A list that is left out is not an empty list: without `containerDefaultToNull` this generator sends `[]` for it.
    options = "hideGenerationTimestamp=true,openApiNullable=false,containerDefaultToNull=true"
    run("openapi-generator-cli", "generate", "-g", "java", "--library", "native", "-i", DOCUMENT, "-o", home / "generated",
        f"--additional-properties={options}", cwd=home)
    # The generator's own archive holds the libraries that its clients are built on.
    archive = next(TOOLS.parent.rglob("openapi-generator*.jar"))
    sources = [*(home / "generated" / "src" / "main" / "java").rglob("*.java"), *(HERE / "java").rglob("*.java")]
    (home / "sources").write_text("\n".join(f'"{source}"' for source in sources))
    run("javac", "-nowarn", "-cp", archive, "-d", home / "out", f"@{home / 'sources'}", cwd=home)
    return run("java", "-cp", f"{home / 'out'}{os.pathsep}{archive}", "Journey", service.url, service.token, DATA, cwd=home)


def main(binary, directory):
    directory = Path(directory)
    shutil.rmtree(directory, ignore_errors=True)
    n_failed, started = 0, time.monotonic()
    with Service(binary, directory / "service") as service:
        for client in (python, typescript, java):
            begun, home = time.monotonic(), directory / client.__name__
            home.mkdir(parents=True)
            try:
                told = client(home, service).strip()
                if "test result: ok. 1 passed" not in told:
                    raise RuntimeError(f"it did not say that it passed:\n{told}")
                print(told)
            except (RuntimeError, OSError) as fault:
                n_failed += 1
                print(f"{fault}\ntest result: FAILED. 0 passed; 1 failed; the journey with a {client.__name__} client")
            print(f"{client.__name__}: generated, built and run in {time.monotonic() - begun:.0f} s", flush=True)
    print(f"all clients in {time.monotonic() - started:.0f} s")
    return 1 if n_failed else 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
