"""All benchmarks: figures beside floors measured in the same run. Nothing here passes or fails."""

from __future__ import annotations

import os
import sys


def main() -> None:
    """Run every benchmark once."""
    for name in ("PYTHONDONTWRITEBYTECODE", "OPENBLAS_CORETYPE", "OPENBLAS_L2_SIZE"):
        os.environ.pop(name, None)
    os.environ["OPENBLAS_NUM_THREADS"] = "1"
    import bench_advice
    import bench_catalog
    import bench_reader
    import bench_start

    print(f"python {sys.version.split()[0]}, {os.cpu_count()} processors, {sys.platform}")
    print("start")
    bench_start.main()
    print("advice")
    bench_advice.main()
    print("catalog")
    bench_catalog.main()
    bench_reader.main()


if __name__ == "__main__":
    main()
