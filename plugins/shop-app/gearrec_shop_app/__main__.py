"""`python -m gearrec_shop_app` serves on the loopback address, for this computer alone."""

from __future__ import annotations

import argparse
import sys

import uvicorn

from gearrec import GearrecError
from gearrec_shop_app import create_app

HOST = "127.0.0.1"


def main(arguments: list[str] | None = None) -> int:
    """Exit status: 0 stopped by the user, 1 a catalog or a plugin cannot be used."""
    parser = argparse.ArgumentParser(prog="python -m gearrec_shop_app", description=__doc__)
    parser.add_argument("--port", type=int, default=8000, help="port, 0 for a free one (8000)")
    port: int = parser.parse_args(arguments).port
    try:
        app = create_app()
    except GearrecError as error:
        sys.stderr.write(f"{error}\n")
        return 1
    uvicorn.run(app, host=HOST, port=port, server_header=False, timeout_keep_alive=5)
    return 0


if __name__ == "__main__":
    sys.exit(main())
