"""Check a build from Python: what breaks first, and the torque before and after.

    python examples/check_a_build.py [my-car.toml]

Without a file it takes a demo build. The cars and parts in the demo builds are invented.
"""

from __future__ import annotations

import sys

import numpy as np

import boostwright as bw

RPM = np.pi / 30  # rad/s


def main(path: str | None = None) -> bw.CheckResult:
    """Check one build and print a short answer."""
    build = bw.load_build(path) if path else bw.demo_build("sound")
    result = bw.check(build, speeds=np.arange(2000, 6001, 1000) * RPM)

    print(f"{result.name}: {result.verdict.value}")
    for finding in result.findings[:3]:
        odds = "cannot be told yet" if finding.probability is None else f"{100 * finding.probability:.0f} %"
        print(f"  {finding.verdict.value:8} {finding.subject}: {odds}")

    # arrays are SI, one entry for each engine speed
    before = result.baseline
    for i, speed in enumerate(before.speeds):
        line = f"  {speed / RPM:5.0f} rpm  {before.result.torque[i]:5.0f} N m before"
        if result.goal is not None:
            line += f"  {result.goal.result.torque[i]:5.0f} N m at {result.goal.boost[i] / 1e5:.2f} bar"
        print(line)

    hottest = int(np.argmax(before.result.exhaust_valve_temperature))
    print(f"  hottest before the turbo at {before.speeds[hottest] / RPM:.0f} rpm")
    return result


if __name__ == "__main__":
    main(sys.argv[1] if len(sys.argv) > 1 else None)
