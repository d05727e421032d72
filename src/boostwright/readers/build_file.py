"""A build file's bytes to a Build, or to every fault that can be read in it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Final

from boostwright.build.air import SEA_LEVEL, standard_pressure
from boostwright.build.catalogue import Ask, catalogue
from boostwright.build.derive import cam_events
from boostwright.build.document import Build
from boostwright.build.faults import Fault, Severity
from boostwright.build.limits import example_line
from boostwright.build.map_points import MapPoints
from boostwright.build.rules import check_rules
from boostwright.build.turbine_points import TurbinePoints
from boostwright.build.values import StatedValue
from boostwright.errors import BuildFileError
from boostwright.readers.assemble import Filled, assemble
from boostwright.readers.attached import Beside, attached_log, attached_maps
from boostwright.readers.decode import LARGEST_FILE, decode
from boostwright.readers.interpret import Interpreter
from boostwright.readers.toml_lines import Statement, statements

__all__ = ["MOST_FAULTS", "read_build", "read_build_file"]

MOST_FAULTS: Final = 100
"""Reading stops after so many faults."""

_FEW: Final = 6  # faults; fewer are listed whatever the file is
_EXAMPLES: Final = 4  # faults listed of a file that is no build file
_READABLE: Final = 0.05  # lines understood for each faulty one; below, it is no build file


def read_build_file(path: str | Path) -> Build:
    """The build of a file on disk, and the maps that it names. Raises BuildFileError with all faults,
    OSError."""
    folder = Path(path).parent

    def beside(name: str) -> bytes:
        if not (folder / name).exists():
            raise FileNotFoundError(name)
        if not (folder / name).is_file():
            raise OSError(0, "it is no plain file")
        with (folder / name).open("rb") as opened:
            return opened.read(LARGEST_FILE + 1)

    return read_build(Path(path).read_bytes(), str(path), beside)


def read_build(data: bytes, file: str = "", beside: Beside | None = None) -> Build:
    """The build that the bytes of a build file state.

    beside: gives the bytes of a file that the build names, by its path from the build file; None leaves such
    files unread.

    Raises BuildFileError with every fault that can still be read, in the order of the file. What is unusual
    but possible does not stop the file: it is in the build's `notes`.
    """
    known = catalogue()
    lines, faults = decode(data)
    parts = statements(lines, faults, MOST_FAULTS) if lines else []
    last_line = max(1, len(lines))
    while last_line > 1 and not lines[last_line - 1].strip():
        last_line -= 1
    headers = [(part.line, part.path[0]) for part in parts if part.header]
    faults[:] = [_with_section(fault, headers) for fault in faults]
    sections, top_source = ({}, None) if not lines else assemble(parts, known, last_line, faults)

    reader = Interpreter(known, faults, top_source, MOST_FAULTS)
    values: dict[str, StatedValue] = {}
    tables: dict[str, tuple[dict[str, StatedValue], ...]] = {}
    for name in ("place", *(s for s in sections if s != "place")):
        for filled in sections.get(name, ())[:1] if not known.sections[name].many else ():
            read = reader.section(filled)
            values.update((f"{name}.{key}", value) for key, value in read.items())
            if name == "place":
                reader.numbers.barometer = _barometer(values)
            _missing(filled, read, faults)
        if known.sections[name].many:
            tables[name] = tuple(reader.section(filled) for filled in sections.get(name, ()))
            for filled, row in zip(sections.get(name, ()), tables[name], strict=True):
                _missing(filled, row, faults)
    if beside is not None and len(faults) < MOST_FAULTS:
        values |= attached_log(values, _barometer(values), beside, faults, MOST_FAULTS)
    ordered = {path: values[path] for path in sorted(values, key=lambda p: (values[p].line or 0, p))}
    build = Build(ordered, tables, (), file)
    if len(faults) < MOST_FAULTS:
        check_rules(build, faults)
    maps = attached_maps(values, beside, faults, MOST_FAULTS) if beside is not None else {}
    faults.sort(key=lambda fault: (fault.line, fault.column or 0))
    hard = tuple(fault for fault in faults if fault.severity is Severity.FAULT)
    if hard:
        if len(hard) >= _FEW and _reads_nothing(parts, hard):
            hard = (_no_build_file(hard), *hard[:_EXAMPLES])
        if len(hard) >= MOST_FAULTS:
            hard = (*hard[: MOST_FAULTS - 1], _enough(hard[MOST_FAULTS - 1].line))
        raise BuildFileError(_message(hard, file), hard)
    turbine = next((found for found in maps.values() if isinstance(found, TurbinePoints)), None)
    compressor = {path: found for path, found in maps.items() if isinstance(found, MapPoints)}
    return Build(
        {**ordered, **cam_events(ordered)}, tables, tuple(faults), file, compressor, turbine_map=turbine
    )


def _with_section(fault: Fault, headers: list[tuple[int, str]]) -> Fault:
    """The same fault with its field's section, which the lines before it name."""
    before = [name for line, name in headers if line < fault.line]
    if not fault.field or "." in fault.field or not before:
        return fault
    return replace(fault, field=f"{before[-1]}.{fault.field}")


def _barometer(values: dict[str, StatedValue]) -> float:
    stated = values.get("place.barometer")
    if stated is not None:
        return float(stated.value)
    altitude = values.get("place.altitude")
    return standard_pressure(float(altitude.value)) if altitude is not None else SEA_LEVEL


def _missing(filled: Filled, read: dict[str, StatedValue], faults: list[Fault]) -> None:
    for known in catalogue().sections[filled.section].fields:
        if known.ask is Ask.MUST and known.name not in read and known.name not in filled.entries:
            faults.append(
                Fault(
                    "missing-value",
                    filled.line,
                    f"{filled.section}.{known.name}",
                    "nothing",
                    "",
                    f"'{known.name}' is missing: {known.words}",
                    f"Add a line: {example_line(known)}." if known.example else f"Add {known.name}.",
                )
            )


def _reads_nothing(parts: list[Statement], faults: tuple[Fault, ...]) -> bool:
    """True when hardly a line is one of a build file: a known section, or a known name inside one."""
    names = catalogue().names_by_section
    section, understood = "", 0
    for part in parts:
        if part.header:
            section = part.path[0]
            understood += section in names
        elif not part.broken:
            understood += part.path[0] in names.get(section, ())
    return understood < _READABLE * len({fault.line for fault in faults[:MOST_FAULTS]})


def _no_build_file(faults: tuple[Fault, ...]) -> Fault:
    count = f"{MOST_FAULTS} or more" if len(faults) >= MOST_FAULTS else f"{len(faults)}"
    return Fault(
        "no-build-file",
        1,
        "",
        "",
        'sections such as [engine], with lines such as bore = "86 mm"',
        f"this is not a build file: hardly a line reads ({count} faults; {_EXAMPLES} follow)",
        "Name the build file itself, or start one: boostwright new.",
    )


def _enough(line: int) -> Fault:
    return Fault(
        "too-many",
        line,
        "",
        "",
        "",
        f"more than {MOST_FAULTS} faults; the rest is not listed",
        "Mend these first and read the file again.",
    )


def _message(faults: tuple[Fault, ...], file: str) -> str:
    count = "1 fault" if len(faults) == 1 else f"{len(faults)} faults"
    return f"{file or 'the build file'}: {count}. First: {faults[0].sentence()}"
