"""Shows the pages that people see to a browser: the guide, the completion form, job sheets.

    python tests/pages/run.py BINARY DIRECTORY

Node with npm and Chromium must be there; npm puts its packages, by their exact versions, into DIRECTORY, where the pictures
and prints of each page stay too.
"""

import json
import shutil
import subprocess
import sys
from datetime import datetime, timedelta, timezone
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE.parent / "contract"))
from service import EXAMPLES, Service  # noqa: E402

NPM = ["playwright-core@1.65.1", "axe-core@4.14.1"]


def main(binary, directory):
    home = Path(directory).resolve()
    home.mkdir(parents=True, exist_ok=True)
    browser = shutil.which("chromium")
    if browser is None:
        raise SystemExit("chromium is missing (Debian: apt-get install chromium)")
    install = ["npm", "install", "--no-save", "--no-audit", "--no-fund", "--ignore-scripts", "--prefix", home, *NPM]
    subprocess.run(install, check=True, stdout=subprocess.DEVNULL)
    shutil.copy(HERE / "look.mjs", home)
    service = Service(binary, home / "service")
    service.environment["WEARCOURSE_DOCS"] = "on"
    with service:
        site = service.post("/v1/sites", EXAMPLES["registerSite"]["request"], "site")["id"]
        surface = EXAMPLES["registerSurface"]["request"] | {"site_id": site}
        # In the shape of an L, so that bays are drawn.
        surface["outline"] = [[[0, 0], [20, 0], [20, 6], [6, 6], [6, 26], [0, 26], [0, 0]]]
        for member in ("area_m2", "perimeter_m"):
            surface.pop(member, None)
        surface = service.post("/v1/surfaces", surface, "surface")["id"]
        plan = service.post("/v1/plans", {"surface_id": surface, "wish": {"goal": "restore"}}, "plan")["id"]
        link = service.post(f"/v1/plans/{plan}/completion-links", {}, "link")["address"]
        form = service.url + link
        closed = (datetime.now(timezone.utc) + timedelta(days=1)).strftime("%Y-%m-%dT20:00:00Z")
        sheet = f"{service.url}/v1/plans/{plan}/sheet?closed_at={closed}"
        pages = [
            {"name": "guide", "url": f"{service.url}/guide"},
            {"name": "form", "url": form},
            {"name": "sheet", "url": f"{sheet}&form={form}", "token": service.token},
            {"name": "sheet-de-us", "url": f"{sheet}&language=de&units=us", "token": service.token},
        ]
        (home / "seen.json").write_text(json.dumps({"pages": pages, "form": form, "out": str(home)}))
        return subprocess.run(["node", "look.mjs", browser, home / "seen.json"], cwd=home, check=False).returncode


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:3]))
