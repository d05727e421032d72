"""python -m tools.drives BUILD --seed N --minutes M --out FOLDER [--clean] [--rate HZ]."""

from __future__ import annotations

import argparse
import sys


def main() -> int:
    """Make the drives that the command line asks for."""
    ask = argparse.ArgumentParser(
        prog="python -m tools.drives",
        description="Make recorded drives of an invented car, with planted faults and their key.",
        epilog="example: python -m tools.drives my-car.toml --seed 4 --out drives",
    )
    ask.add_argument("build", help="a build file; sizes and aims of the car come from it")
    ask.add_argument("--seed", type=int, default=1, help="which drive (default 1)")
    ask.add_argument("--count", type=int, default=1, help="so many seeds from this one on (default 1)")
    ask.add_argument(
        "--minutes", type=float, default=30.0, help="about so long (default 30; 25 or more unless clean)"
    )
    ask.add_argument(
        "--rate", type=float, choices=[10, 20, 25, 50, 100], help="rows a second (default by seed)"
    )
    ask.add_argument("--out", default="drives", help="folder to write into (default drives)")
    ask.add_argument("--clean", action="store_true", help="a drive without any event")
    given = ask.parse_args()

    from boostwright.errors import BoostwrightError
    from tools.drives.drive import make_drive
    from tools.drives.write import write_drive

    for seed in range(given.seed, given.seed + given.count):
        try:
            drive = make_drive(given.build, seed, given.minutes, clean=given.clean, rate=given.rate)
        except (ValueError, OSError, BoostwrightError) as problem:
            print(problem, file=sys.stderr)
            return 2
        log, _ = write_drive(drive, given.out)
        key = drive.key
        print(
            f"{log}: {key['true_seconds'] / 60:.1f} min, {key['rows']} rows, "
            f"{len(drive.logger.present) + 1} columns, {len(key['events'])} events of "
            f"{len(key['kinds'])} kinds, "
            f"{key['events_that_can_be_seen']} to be seen"
        )
    return 0


if __name__ == "__main__":
    sys.exit(main())
