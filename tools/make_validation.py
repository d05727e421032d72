"""Write docs/validation.md from the labels of the tests: `make validation`, or
`.venv/bin/python tools/make_validation.py`.

With `--check` it writes nothing and ends with 1 when the page is not what it would write. The tests are
collected, not run.
"""

from __future__ import annotations

import ast
import contextlib
import inspect
import io
import re
import sys
from pathlib import Path
from typing import Any, NamedTuple

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

import pytest  # noqa: E402

from boostwright.sources import SOURCES  # noqa: E402
from tests.disagreements import known  # noqa: E402
from tests.labels import KINDS  # noqa: E402

PAGE = ROOT / "docs" / "validation.md"
LOCK = ROOT / "requirements" / "test.lock"
HEAD = """# Validation

This page is made from the labels of the tests by `tools/make_validation.py`; a test keeps it current (`make
validation` writes it anew). Each line is one numerical check that `make test` runs. It says what the answer
is held to, where that comes from, and why the tolerance is what it is. 'From memory' means that the
publication was not at hand: such a value guards against gross error, it is not a citation that was verified.
"""


class Row(NamedTuple):
    """One labelled test function."""

    file: str
    line: int
    name: str
    kind: str
    id: str
    source: str
    note: str
    expected_to_fail: tuple[str, ...]


class _Collector:
    """Reads the labels off the collected tests."""

    def __init__(self) -> None:
        self.rows: dict[tuple[str, str, str, str], Row] = {}
        self.unlabelled = 0
        self.names: set[str] = set()

    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        for item in items:
            marks = list(item.iter_markers("check"))
            fails = tuple(str(m.kwargs.get("reason", "")) for m in item.iter_markers("xfail"))
            file = Path(item.path).relative_to(ROOT).as_posix()
            function: Any = getattr(item, "function", None)
            name = getattr(item, "originalname", None) or item.name
            self.names.add(f"{file}::{name}")
            for mark in marks:
                label = mark.kwargs
                key = (file, name, label["kind"], label["source"])
                line = inspect.unwrap(function).__code__.co_firstlineno if function else 0
                before = self.rows[key].expected_to_fail if key in self.rows else ()
                self.rows[key] = Row(
                    file,
                    line,
                    name,
                    label["kind"],
                    label["id"] or "",
                    label["source"],
                    label["note"],
                    tuple(dict.fromkeys(before + fails)),
                )


def collect() -> list[Row]:
    """The labelled tests, in the order of files and lines."""
    collector = _Collector()
    said = io.StringIO()
    with contextlib.redirect_stdout(said):
        code = pytest.main(
            ["--collect-only", "-q", "-p", "no:cacheprovider", "-p", "no:xdist", str(ROOT / "tests")],
            plugins=[collector],
        )
    if code != 0:
        raise SystemExit(f"the tests cannot be collected:\n{said.getvalue()[-1500:]}")
    return sorted(collector.rows.values())


def versions() -> dict[str, str]:
    """Locked version of every package, by lower-case name."""
    found = re.findall(r"^([A-Za-z0-9._-]+)==([^\s;\\]+)", LOCK.read_text(encoding="utf-8"), re.MULTILINE)
    return {name.lower(): version for name, version in found}


def say(text: str) -> str:
    """Text that does not break a table."""
    return text.replace("|", "\\|").replace("\n", " ")


def source_words(source: str, locked: dict[str, str]) -> str:
    """A publication by author and year, a library with its locked version."""
    if source in SOURCES:
        row = SOURCES[source]
        return f"{row.authors.split(',')[0]} {row.year} (`{source}`)"
    version = locked.get(source.lower())
    return f"{source} {version}" if version else source


def heading(file: str) -> str:
    """First line of a test file's docstring."""
    text = ast.get_docstring(ast.parse((ROOT / file).read_text(encoding="utf-8"))) or file
    return text.splitlines()[0].rstrip(".")


def sentence(name: str) -> str:
    """A test's name in words."""
    return name.removeprefix("test_").replace("_", " ")


def disagreements() -> list[str]:
    """The known disagreements as text."""
    lines = [
        "## Known disagreements",
        "",
        (
            "Here the program and a published value, or what the trade expects, differ, and the difference"
            " stays. Each has a test that must fail."
        ),
        "",
    ]
    for row in known().values():
        lines += [
            (
                f"**{row['id']}: {row['what']}.** Ours: {row['ours']}. Theirs: {row['theirs']}"
                f" ({row['source']}). {row['why']}"
            ),
            "",
        ]
    return lines


def other_failures(rows: list[Row]) -> list[str]:
    """Expected failures that are no disagreement with a source."""
    ids = tuple(f"{key}:" for key in known())
    found = [
        (row, reason)
        for row in rows
        for reason in row.expected_to_fail
        if reason and not reason.startswith(ids)
    ]
    if not found:
        return []
    lines = ["## Known shortfalls", "", "Checks that do not hold yet; each must fail until it is mended.", ""]
    lines += [f"* {sentence(row.name)} (`{row.file}`): {reason}" for row, reason in found]
    return [*lines, ""]


def page() -> str:
    """The text of the page."""
    rows, locked = collect(), versions()
    lines = [HEAD, "| kind | checks | what it is |", "|---|---|---|"]
    for kind, words in KINDS.items():
        lines.append(f"| {kind} | {sum(row.kind == kind for row in rows)} | {words} |")
    lines += ["", *disagreements(), *other_failures(rows)]
    lines += ["## Checks", ""]
    for file in dict.fromkeys(row.file for row in rows):
        lines += [f"### {heading(file)}", "", f"`{file}`", ""]
        lines += ["| id | check | kind | source | held to, and why that close |", "|---|---|---|---|---|"]
        for row in (r for r in rows if r.file == file):
            mark = " *(expected to fail, see above)*" if any(row.expected_to_fail) else ""
            lines.append(
                f"| {row.id} | {sentence(row.name)}{mark} | {row.kind}"
                f" | {say(source_words(row.source, locked))} | {say(row.note)} |"
            )
        lines.append("")
    cited = sorted({row.source for row in rows} & set(SOURCES))
    lines += ["## Publications cited", ""]
    for key in cited:
        s = SOURCES[key]
        lines.append(f"* `{key}`: {s.authors}, {s.title}, {s.where}, {s.year} ({s.seen.value})")
    return "\n".join(lines) + "\n"


def main(arguments: list[str]) -> int:
    """Write the page, or with --check say whether it is current."""
    text = page()
    if "--check" in arguments:
        current = PAGE.read_text(encoding="utf-8") if PAGE.exists() else ""
        if current != text:
            print(
                "docs/validation.md is not what the tests' labels say; run: make validation", file=sys.stderr
            )
            return 1
        return 0
    PAGE.write_text(text, encoding="utf-8")
    print(f"{PAGE.relative_to(ROOT)} written")
    return 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
