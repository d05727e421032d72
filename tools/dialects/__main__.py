"""python -m tools.dialects: write every file and its answer anew into tests/readers/drive_logs_given/."""

from __future__ import annotations

import sys

from tools.dialects import clocks, mdf, meaning, more, odd, plain, refused

MODULES = (plain, clocks, odd, meaning, more, refused, mdf)


def main() -> int:
    """Write all pairs."""
    for module in MODULES:
        for make in module.ALL:
            make()
    return 0


if __name__ == "__main__":
    sys.exit(main())
