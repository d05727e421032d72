"""`python -m boostwright` is the same door as `boostwright`."""

from __future__ import annotations

from boostwright.cli import main

if __name__ == "__main__":
    raise SystemExit(main())
