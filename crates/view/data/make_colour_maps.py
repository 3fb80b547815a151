"""Writes colour_maps.json: the colour maps of reports and screens, 256 colours each, as #rrggbb.

Run it in an environment with the packages of requirements.txt beside it. Reads the text tables of the package
cmcrameri, which are those of F. Crameri, Scientific colour maps (MIT, notice in LICENSE-crameri.txt).
"""

import json
from importlib.util import find_spec
from pathlib import Path

MAPS = ["batlow", "vik"]


def colours(name):
    """The 256 colours of one map, from lines of three numbers in 0..1."""
    # The tables alone, without the plotting library that importing the package would load.
    package = Path(find_spec("cmcrameri").origin).parent
    lines = (package / "cmaps" / f"{name}.txt").read_text().split("\n")
    rows = [[float(word) for word in line.split()] for line in lines if line.strip()]
    if len(rows) != 256 or any(len(row) != 3 for row in rows):
        raise SystemExit(f"{name}: expected 256 rows of three numbers")
    return ["#" + "".join(f"{round(255 * part):02x}" for part in row) for row in rows]


def main():
    document = {
        "source": "F. Crameri, Scientific colour maps, from the package cmcrameri 1.10; MIT, see LICENSE-crameri.txt",
        "maps": {name: colours(name) for name in MAPS},
    }
    target = Path(__file__).with_name("colour_maps.json")
    target.write_text(json.dumps(document, indent=1) + "\n", newline="\n")


if __name__ == "__main__":
    main()
