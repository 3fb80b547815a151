"""Throws made-up requests at a real `kerf serve`, as its own OpenAPI document describes them.

The server gets a data folder of its own with the measured demo tooth. Two passes: with whatever ids come to mind, and with the ids of what
is there, so that requests get past the first look-up. Run it by `cargo xtask fuzz`, which names the program in KERF.
"""

import argparse
import json
import os
import re
import subprocess
import sys
import tempfile
import time
import urllib.request

# What has to hold for every answer. What a generator takes for valid may still make no sense (a stage of another exercise), so
# `positive_data_acceptance` is left out; values that are no scan are for the handlers to tell, so is `negative_data_rejection`.
CHECKS = [
    "not_a_server_error",
    "status_code_conformance",
    "content_type_conformance",
    "response_headers_conformance",
    "response_schema_conformance",
    "unsupported_method",
    "allow_header_conformance",
]


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seed", type=int, default=20, help="of the random requests")
    parser.add_argument("--examples", type=int, default=12, help="most requests of a kind for each operation")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="kerf-fuzz-") as folder:
        server = subprocess.Popen(
            [os.environ["KERF"], "serve", "--port", "0", "--no-open", "--data", os.path.join(folder, "data")],
            stdout=subprocess.PIPE,
            text=True,
        )
        try:
            url = re.search(r"http://[^/]+", server.stdout.readline()).group()
            return fuzz(url, folder, options)
        finally:
            server.terminate()
            server.wait()


def fuzz(url: str, folder: str, options: argparse.Namespace) -> int:
    document = ask(url, "GET", "/openapi.json")
    ids = fill(url)
    # Of the endless answer only the beginning would come: it is asked for by the server's own tests.
    del document["paths"]["/api/v1/attempts/{id}/events"]
    failed = False
    for name, schema in [("any ids", document), ("ids that are there", with_ids(document, ids))]:
        print(f"-- {name} --", flush=True)
        path = os.path.join(folder, "openapi.json")
        with open(path, "w", encoding="utf-8") as file:
            json.dump(schema, file)
        command = [sys.executable, "-m", "schemathesis.cli", "run", path, "--url", url]
        command += ["--seed", str(options.seed), "--max-examples", str(options.examples)]
        command += ["--checks", ",".join(CHECKS), "--continue-on-failure", "--suppress-health-check", "all"]
        command += ["--phases", "examples,coverage,fuzzing", "--warnings", "off", "--request-timeout", "60"]
        failed |= subprocess.run(command, cwd=folder, check=False).returncode != 0
    about = ask(url, "GET", "/about")
    print(f"{about['name']} {about['version']} still answers")
    return int(failed)


def fill(url: str) -> dict:
    """Measures the demo tooth, remarks on it; the ids of what there is then."""
    demo = ask(url, "POST", "/demo")
    scans = {scan["role"]: scan["id"] for scan in demo["scans"]}
    request = scans | {name: demo[name] for name in ("tooth", "exercise", "stage", "learner")}
    attempt = ask(url, "POST", "/attempts", request)["id"]
    for _ in range(600):
        state = ask(url, "GET", f"/attempts/{attempt}")["state"]
        if state not in ("waiting", "running"):
            break
        time.sleep(0.1)
    assert state == "done", f"the demo tooth is {state}"
    remark = {"at": [0, 0, 0], "text": "a remark", "by": "QS-I1"}
    return {
        "attempt": attempt,
        "remark": ask(url, "POST", f"/attempts/{attempt}/remarks", remark)["id"],
        "scans": sorted(scans.values()),
        "exercise": demo["exercise"],
        "tooth": demo["tooth"],
    }


def with_ids(document: dict, ids: dict) -> dict:
    """The same document, in which ids and names are those of what is there."""
    known = json.loads(json.dumps(document))
    values = {"remark": [ids["remark"]], "exercise": [ids["exercise"]], "name": [ids["exercise"]]}
    values["body"] = [f"{body}.glb" for body in ("after", "before", "opposing", "target", "none")]
    for path, methods in known["paths"].items():
        values["id"] = ids["scans"] if "/scans/" in path else [ids["attempt"]]
        for operation in methods.values():
            for parameter in operation.get("parameters", []):
                if parameter["name"] in values and not path.endswith("/scans"):
                    parameter["schema"] = {"type": "string", "enum": values[parameter["name"]]}
    schemas = known["components"]["schemas"]
    attempt = schemas["AttemptRequest"]["properties"]
    for role in ("after", "before", "opposing"):
        attempt[role] = {"type": "string", "enum": ids["scans"]}
    attempt["tooth"] = {"type": "string", "enum": [ids["tooth"], "35"]}
    schemas["RolesRequest"]["properties"]["scans"]["items"] = {"type": "string", "enum": ids["scans"]}
    return known


def ask(url: str, method: str, path: str, body: dict | None = None):
    data = None if body is None else json.dumps(body).encode()
    request = urllib.request.Request(f"{url}/api/v1{path}", data, {"content-type": "application/json"}, method=method)
    with urllib.request.urlopen(request) as answer:
        return json.load(answer)


if __name__ == "__main__":
    sys.exit(main())
