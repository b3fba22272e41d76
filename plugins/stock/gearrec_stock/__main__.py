"""`python -m gearrec_stock demo PATH` writes an invented stock to try the plugin with."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from sqlalchemy.exc import SQLAlchemyError

from gearrec_stock import URL_VARIABLE, demo


def main(arguments: list[str] | None = None) -> int:
    """Exit status: 0 written, 1 not."""
    parser = argparse.ArgumentParser(prog="python -m gearrec_stock", description=__doc__)
    commands = parser.add_subparsers(dest="command", required=True)
    command = commands.add_parser("demo", help="write a new SQLite file of invented stock")
    command.add_argument("path", type=Path, metavar="PATH")
    path: Path = parser.parse_args(arguments).path
    try:
        demo.write(path)
    except FileExistsError:
        sys.stderr.write(f"{path} exists already; name a file that does not\n")
        return 1
    except (OSError, SQLAlchemyError) as error:
        sys.stderr.write(f"{path} cannot be written: {error}\n")
        return 1
    found = demo.address(path).render_as_string()
    sys.stdout.write(f"Invented stock written. To use it: export {URL_VARIABLE}={found}\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
