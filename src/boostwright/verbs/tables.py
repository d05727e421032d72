"""The starting calibration: made, and the breakpoints that a person may ask for."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any, NamedTuple

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import ArrayLike, NDArray

    from boostwright.build.document import Build
    from boostwright.calibration.beside import Beside
    from boostwright.calibration.records import Calibration, Check
    from boostwright.drive.learned import Learned
    from boostwright.fitting import Fit
    from boostwright.verbs.judging import Progress

__all__ = ["Tabled", "read_pressures", "tables", "tables_schema"]


def _silent(_: str) -> None:
    """Say nothing."""


class Tabled(NamedTuple):
    """A calibration; its checks as a function, so that an edited one can be judged as well; and what plots
    show beside the tables, None for nothing.
    """

    calibration: Calibration
    recheck: Callable[[Calibration], tuple[Check, ...]]
    beside: Beside | None = None


def tables(
    build: Build,
    *,
    speeds: ArrayLike | None = None,
    pressures: ArrayLike | None = None,
    probability: float = 0.9,
    fitted: Fit | None = None,
    learned: Learned | None = None,
    progress: Progress | None = None,
) -> Tabled:
    """The starting calibration of a build: tables and settings for its engine controller, and their checks.

    build: from `load_build`. speeds: crank speeds of the grid (n,) [rad/s], rising; pressures: of the
    manifold (m,) [Pa absolute], rising; None chooses them along the predicted trajectory. probability: that
    the spark's distance to knock covers its spread [-]. fitted: what `fit` found of this engine. learned:
    what a recorded drive taught of this car; it stands over both, and the charge that it read stands in the
    tables; of knock and burning only what moves spark later is taken. progress: called with a few words when
    a stage begins. A starting point for a competent person with a wideband and knock detection, on a closed
    course or dynamometer wherever local law does not allow it on the road.
    Raises OutOfRange.
    """
    from dataclasses import replace

    import numpy as np

    from boostwright.calibration.beside import beside_of
    from boostwright.calibration.checks import checks_of
    from boostwright.calibration.make import PROBABILITIES, calibration_in
    from boostwright.errors import OutOfRange
    from boostwright.findings.limit_edits import edits_of
    from boostwright.findings.prepare import prepare

    least, most = PROBABILITIES
    if not least <= probability <= most:  # said before anything is computed
        raise OutOfRange(
            f"the probability {probability:g} is none that a margin can be made for: from {least:g}, which is"
            f" no margin at all, to {most:g}, beyond which no spread here is known."
        )
    together: dict[tuple[str, str], float] = {}
    if fitted is not None:
        from boostwright.fitting import fitted_build

        build, together = fitted_build(build, fitted), dict(fitted.together())
    breathing = None
    said: tuple[str, ...] = ()
    if learned is not None:
        from boostwright.drive.charge_left import charge_left
        from boostwright.drive.learned_spark import careful_build

        breathing, careful = charge_left(build, learned), careful_build(build, learned)
        build, said = careful.build, careful.words
        together |= careful.together
    say = progress or _silent
    prepared = prepare(build, None, edits_of(build), say, arrival=False)
    made = calibration_in(
        build,
        prepared.case,
        speeds=None if speeds is None else np.asarray(speeds, dtype=float),
        pressures=None if pressures is None else np.asarray(pressures, dtype=float),
        probability=probability,
        together=together,
        breathing=breathing,
        progress=say,
    )
    calibration = replace(made.calibration, warnings=(*said, *made.calibration.warnings, *prepared.warnings))
    return Tabled(calibration, lambda edited: checks_of(edited, made.work, made.cut), beside_of(made.work))


def read_pressures(text: str) -> NDArray[np.float64]:
    """Manifold pressures from a text like '40 60 80 100 kPa' or '0.4 0.8 1.2 bar absolute' [Pa absolute].

    Raises OutOfRange when they do not rise, are fewer than three, are gauge, or are no manifold pressures.
    """
    import numpy as np

    from boostwright.errors import OutOfRange
    from boostwright.quantity import Dimension, PressureKind, QuantityError, read_many

    example = "Write them like '30 50 70 100 130 160 kPa absolute'."
    try:
        read = read_many(text, Dimension.PRESSURE)
    except QuantityError as mishap:
        raise OutOfRange(f"the pressures '{text}' cannot be read: {mishap}. {example}") from None
    if any(one.kind is PressureKind.GAUGE for one in read):
        raise OutOfRange(f"the pressures '{text}' are gauge, and a table counts from vacuum. {example}")
    values = np.array([one.value for one in read])
    if values.size < 3 or np.any(np.diff(values) <= 0.0):
        raise OutOfRange(f"the pressures '{text}' must be three or more and must rise. {example}")
    if values[0] < 10e3 or values[-1] > 400e3:
        raise OutOfRange(
            f"the pressures '{text}' must lie between 10 and 400 kPa absolute: no manifold of a road car goes"
            f" beyond. {example}"
        )
    return values


def tables_schema() -> dict[str, Any]:
    """The JSON schema of the calibration document."""
    from boostwright.views.calibration_document import calibration_schema

    return calibration_schema()
