"""What it costs to import the package, to start the command, to look for plugins."""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from measure import in_turn, line, process, python

EXAMPLE = Path(__file__).parents[2] / "docs" / "examples" / "bread-van.yaml"

FLOOR_OF_THE_COMMAND = """
import numpy, pydantic
class Point(pydantic.BaseModel):
    x: float
Point(x=1)
"""


def main() -> None:
    """Print the rows."""
    _, _, ratio = in_turn(python("pass"), python("import gearrec"), rounds=31)
    line("import gearrec / python -c pass", f"{ratio:.2f} x", "1.10 x", met=ratio <= 1.10)
    command = [str(Path(sys.executable).parent / "gearrec"), "advise", str(EXAMPLE)]
    with tempfile.TemporaryDirectory() as folder:
        # What an installed plugin imports is not the library's to answer for.
        run = process(command, GEARREC_CACHE=folder, GEARREC_PLUGINS="")
        run()
        floor, work, ratio = in_turn(python(FLOOR_OF_THE_COMMAND), run, rounds=15)
    figure = f"{ratio:.2f} x ({work * 1e3:.0f} ms / {floor * 1e3:.0f} ms)"
    line("gearrec advise / numpy and one model", figure, "1.3 x", met=ratio <= 1.3)
    _scan()


def _scan() -> None:
    from gearrec.plugin_discovery import installed_entry_points

    with tempfile.TemporaryDirectory() as folder:
        for number in range(120):
            info = Path(folder) / f"dist_{number}-1.0.dist-info"
            info.mkdir()
            (info / "METADATA").write_text(f"Name: dist-{number}\nVersion: 1.0\n")
            if number % 3 == 0:
                (info / "entry_points.txt").write_text("[console_scripts]\nx = y:z\n")
        _, work, _ = in_turn(lambda: None, lambda: installed_entry_points([folder]), rounds=1)
    figure = f"{work * 1e3:.1f} ms"
    line("first scan of 120 installed distributions", figure, "10 ms", met=work <= 0.010)


if __name__ == "__main__":
    main()
