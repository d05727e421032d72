"""Reading a build, judging it, fitting the model to it; and what helps to write one."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import ArrayLike, NDArray

    from boostwright.build.document import Build
    from boostwright.drive.learned import Learned
    from boostwright.findings.leak_answer import LeakAnswer, LeakAsked
    from boostwright.findings.limits import LimitEdit
    from boostwright.findings.result import CheckResult
    from boostwright.fitting import Fit
    from boostwright.store import Revision
    from boostwright.systems.fasteners import SheetRow
    from boostwright.trust.run import Draws

__all__ = [
    "DEFAULT_CLASS",
    "Progress",
    "build_schema",
    "check",
    "demo_build",
    "demo_builds",
    "demo_drive",
    "demo_files",
    "demo_text",
    "engine_classes",
    "explain",
    "fit",
    "keep_fit",
    "kept_fit",
    "kept_fits",
    "leak",
    "load_build",
    "new_build",
    "read_speeds",
    "results_schema",
    "torque",
    "undo_fit",
    "warm_up",
]

Progress = Callable[[str], None]

DEFAULT_CLASS = "four-valve"


def _silent(_: str) -> None:
    """Say nothing."""


def _ignored(_: CheckResult) -> None:
    """Do nothing with a result that is not the last."""


def load_build(path: str | Path) -> Build:
    """Read a build file.

    path: the file. returns: the build, whose values are SI. Raises BuildFileError with every fault that can
    be read (`.faults`: line, field, value, allowed range, remedy); OSError when the file cannot be opened.
    """
    from boostwright.readers.build_file import read_build_file

    return read_build_file(path)


def check(
    build: Build,
    *,
    speeds: ArrayLike | None = None,
    limits: tuple[LimitEdit, ...] = (),
    progress: Progress | None = None,
    draws: Draws | None = None,
    partial: Callable[[CheckResult], None] | None = None,
    fitted: Fit | None = None,
    learned: Learned | None = None,
) -> CheckResult:
    """Judge one build: the engine before the turbo, the engine with it, and every finding, worst first.

    build: from `load_build`. speeds: crank speeds (n,) [rad/s], rising, three or more; None for every 500
    rpm from 1000 rpm to the speed limit. limits: limits that you change, each with its reason. progress:
    called with a few words when a stage begins. draws: how many draws of everything that is not known for
    sure the odds are to rest on, with their seed; None for the middle alone and spreads carried one by one.
    partial: with draws, given the result as it stands: first the middle, then each time the draws have
    doubled; a KeyboardInterrupt ends the draws and keeps what is done. fitted: what `fit` found of this
    engine; its factors stand in for those that nobody stated. learned: what a recorded drive taught of this
    car; it stands over both. returns: a `CheckResult`; arrays (n,),
    SI units. Raises OutOfRange when the engine is outside the ground of the models; BuildFileError when a
    limit that the build changes cannot be read.
    """
    from boostwright import __version__
    from boostwright.findings.judgement import judged

    together, plain = None, build
    if fitted is not None:
        from boostwright.fitting import fitted_build

        plain = fitted_build(build, fitted)
        build, together = fitted_build(build, fitted, for_draws=True), fitted.together()
    if learned is not None:
        from boostwright.drive.learned import learned_build

        plain, build = learned_build(plain, learned), learned_build(build, learned)
        together = {**(together or {}), **learned.together()}
    middle = judged(plain, speeds, limits, progress or _silent, __version__)
    if draws is None:
        return middle.result
    from boostwright.trust.run import sampled

    if partial is not None:
        partial(middle.result)
    return sampled(
        build,
        middle,
        draws,
        edits=limits,
        together=together,
        progress=progress or _silent,
        partial=partial or _ignored,
    )


def fit(build: Build, *, progress: Progress | None = None) -> Fit:
    """Fit the model to what the file says of the engine before the conversion.

    build: from `load_build`, with a torque curve under [baseline]. returns: factors with their spreads and
    correlation, readings beside the model, and sentences on what could not be told. Raises OutOfRange where
    there is nothing to fit to, NotConverged where the readings contradict the engine.
    """
    from boostwright.fitting import fit as fitted

    return fitted(build, progress or _silent)


def keep_fit(build: Build, path: str | Path, found: Fit) -> int:
    """Keep a fit in the history of the build file, and the file with it; returns the fit's number. Raises
    HistoryError.
    """
    from contextlib import suppress

    from boostwright import __version__
    from boostwright.errors import ConflictError
    from boostwright.library.version import data_version
    from boostwright.store import open_job

    with open_job(path) as job:
        kept = job.keep("fit", build.fingerprint, found.to_plain(), program=__version__, data=data_version())
        with suppress(ConflictError, OSError):  # the fit stands; the history tells of the file
            job.note_build(path)
    return kept.number


def kept_fit(build: Build, path: str | Path) -> tuple[Fit, int] | None:
    """The newest fit kept for the file as it stands, and its number; None where there is none.

    Raises HistoryError when the history cannot be read.
    """
    from boostwright.errors import HistoryError
    from boostwright.fitting import Fit
    from boostwright.store import History

    history = History(path)
    revision = history.newest("fit", build.fingerprint)
    if revision is None:
        return None
    try:
        return Fit.from_plain(revision.content), revision.number
    except (KeyError, TypeError, ValueError):
        raise HistoryError(
            f"{history.shown}: revision {revision.number} is no fit that this program can read. Fit again:"
            " the build file itself is whole."
        ) from None


def kept_fits(path: str | Path) -> tuple[Revision, ...]:
    """Every fit that was kept beside a build file and every taking back of one, oldest first.

    Raises HistoryError.
    """
    from boostwright.store import History

    return tuple(entry for entry in History(path).all() if entry.kind in ("fit", "no fit"))


def undo_fit(build: Build, path: str | Path) -> int | None:
    """Take the newest fit of the file as it stands back; nothing is deleted. Returns its number, None where
    there is none. Raises HistoryError.
    """
    from boostwright import __version__
    from boostwright.library.version import data_version
    from boostwright.store import History

    history = History(path)
    newest = history.newest("fit", build.fingerprint)
    if newest is None:
        return None
    history.add("no fit", build.fingerprint, {"of": newest.number}, program=__version__, data=data_version())
    return newest.number


def torque(build: Build) -> tuple[SheetRow, ...]:
    """The torque sheet: one row for each [[fasteners]] of the file, in its order.

    A printed torque with its page stands as it is; a joint of the builder's own is worked out; all else is
    blank, and `row.blank` says why.
    """
    from boostwright.systems.fasteners import torque_sheet
    from boostwright.systems.stated.fasteners import fasteners_of

    return torque_sheet(fasteners_of(build))


def read_speeds(text: str) -> NDArray[np.float64]:
    """Engine speeds from a text like '2000 3000 4000 rpm' [rad/s]; a bare row of numbers counts as rpm.

    Raises OutOfRange when they do not rise, are fewer than three, or are no engine speeds.
    """
    import numpy as np

    from boostwright.errors import OutOfRange
    from boostwright.quantity import Dimension, QuantityError, read_many

    rpm = np.pi / 30.0
    written = text if any(c.isalpha() for c in text) else f"{text} rpm"
    try:
        speeds = np.array([q.value for q in read_many(written, Dimension.ROTATION)])
    except QuantityError as mishap:
        raise OutOfRange(
            f"the speeds '{text}' cannot be read: {mishap}. Write them like '2000 3000 4000 rpm'."
        ) from None
    if speeds.size < 3 or np.any(np.diff(speeds) <= 0.0):
        raise OutOfRange(
            f"the speeds '{text}' must be three or more and must rise, like '2000 3000 4000 rpm'."
        )
    if speeds[0] < 800.0 * rpm or speeds[-1] > 12000.0 * rpm:
        raise OutOfRange(
            f"the speeds '{text}' must lie between 800 and 12000 rpm, where the cycle has ground."
        )
    return speeds


def leak(asked: LeakAsked, build: Build | None = None) -> LeakAnswer:
    """The hole that a pressure test of the charge pipes shows, and what it costs at boost.

    asked: what was read, in texts like '70 kPa'. build: tells what is not asked with. Raises OutOfRange.
    """
    from boostwright.findings.leak_answer import leak_answer

    return leak_answer(asked, build)


def new_build(engine_class: str | None = None) -> str:
    """The text of a commented build file that passes as it is.

    engine_class: a name from `engine_classes()`; None for the commonest. Raises OutOfRange for another name.
    """
    from boostwright.build.new_file import new_build as write
    from boostwright.errors import OutOfRange

    names = [name for name, _ in engine_classes()]
    if engine_class is not None and engine_class not in names:
        raise OutOfRange(f"there is no engine class '{engine_class}'; there are: {', '.join(names)}")
    return write(engine_class or DEFAULT_CLASS)


def engine_classes() -> tuple[tuple[str, str], ...]:
    """The engine classes: name and words."""
    from boostwright.build.catalogue import catalogue

    return tuple((name, known.words) for name, known in catalogue().classes.items())


def explain(name: str = "", width: int = 80) -> str:
    """A field, a section or a finding in plain words; '' lists the sections. Raises UnknownField with near
    names.
    """
    from boostwright.views.explained import explained

    return explained(name, width)


def build_schema() -> dict[str, Any]:
    """The JSON schema of a build file, for editors."""
    from boostwright.build.catalogue import catalogue
    from boostwright.build.schema import build_schema as made

    return made(catalogue())


def results_schema() -> dict[str, Any]:
    """The JSON schema of the results document."""
    from boostwright.views.schema import results_schema as made

    return made()


def demo_builds() -> Mapping[str, str]:
    """The builds that ship with the program, all invented: name and what each is about."""
    import tomllib

    from boostwright.library import demo_builds as names

    told = {}
    for name in names():
        try:
            told[name] = str(tomllib.loads(demo_text(name)).get("build", {}).get("story", ""))
        except tomllib.TOMLDecodeError:  # one of them is faulty by intention
            told[name] = "faulty by intention: see what `check` says"
    return told


def demo_text(name: str) -> str:
    """The text of a demo build. Raises FileNotFoundError for a name that is none."""
    from boostwright.library import read_bytes

    return read_bytes(f"builds/{name}.toml").decode("utf-8", "replace")


def demo_files(name: str) -> Mapping[str, str]:
    """A demo build and the maps that it names, by file name, the build first. Raises FileNotFoundError for a
    name that is none.
    """
    from boostwright.library import demo_maps, read_text

    build = demo_text(name)
    maps = {map_name: read_text(f"builds/{map_name}") for map_name in demo_maps() if f'"{map_name}"' in build}
    return {f"{name}.toml": build, **maps}


def demo_drive(name: str) -> Path:
    """The file of the recorded drive that ships with a demo build."""
    from boostwright.library import demo_drive as found

    return found(name)


def demo_build(name: str) -> Build:
    """A demo build, read. Raises BuildFileError for the one that is faulty by intention."""
    from boostwright.library import read_bytes
    from boostwright.readers.build_file import read_build

    return read_build(
        read_bytes(f"builds/{name}.toml"), f"{name}.toml", lambda beside: read_bytes(f"builds/{beside}")
    )


def warm_up(progress: Progress | None = None) -> float:
    """Compile everything that is compiled and keep it; returns the seconds that it took."""
    import time

    from boostwright import __version__
    from boostwright.findings.judgement import judge

    say = progress or _silent
    began = time.perf_counter()
    say("compiling the engine cycle; once, up to a minute or two")
    judge(demo_build("sound"), read_speeds("2000 3500 5000"), (), say, __version__)
    return time.perf_counter() - began
