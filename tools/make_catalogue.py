"""Compile the field catalogue (library/fields/*.toml, library/engine_classes.toml) to the JSON that the
program loads.

Run it after every change of those files:  .venv/bin/python tools/make_catalogue.py
It checks the records while it reads them, and writes library/catalogue.json and library/build.schema.json.
"""

from __future__ import annotations

import json
import math
import re
import sys
import tomllib
from pathlib import Path
from typing import Any

from boostwright.build.catalogue import FieldType, from_compiled
from boostwright.build.schema import build_schema
from boostwright.build.values import Source
from boostwright.quantity import DIMENSIONLESS, Dimension, find_unit, read, read_many

LIBRARY = Path(__file__).parents[1] / "src" / "boostwright" / "library"
_DIMENSIONS = {d.value: d for d in Dimension}
_SPREAD_SOURCES = {s.value for s in (Source.MEASURED, Source.MAKER, Source.HANDBOOK)}
_FIELD_KEYS = {
    "words",
    "type",
    "dimension",
    "unit",
    "kind",
    "many",
    "range",
    "reason",
    "usual",
    "usual_words",
    "measure",
    "harm",
    "example",
    "choices",
    "refused",
    "spread",
    "default",
    "ask",
    "part",
    "used_by",
    "chosen",
    "whole",
    "counts_from",
    "points",
}
_SECTION_KEYS = {"words", "about", "many", "required", "part"}


class CatalogueError(ValueError):
    """A record of the catalogue that cannot be right."""


def number(text: Any, record: dict[str, Any], base: float) -> float:
    """The SI number of a text in the field's dimension; `base` is added for cam events."""
    return read(str(text), _DIMENSIONS[record["dimension"]]).value + base


def spread(text: str, record: dict[str, Any]) -> list[float]:
    """[fixed part in SI, proportional part] of a spread text: '0.1 mm', '3 %', '3 % + 2 kPa'."""
    fixed, proportional = 0.0, 0.0
    dimension = _DIMENSIONS.get(record.get("dimension", ""), Dimension.RATIO)
    if dimension is Dimension.TEMPERATURE:
        dimension = Dimension.TEMPERATURE_DIFFERENCE
    if dimension is Dimension.CAM_EVENT:
        dimension = Dimension.ANGLE
    for part in text.split("+"):
        percent = re.fullmatch(r"\s*([0-9.]+)\s*%\s*", part)
        if percent and dimension is not Dimension.SHARE:
            proportional = float(percent[1]) / 100
        else:
            fixed = read(part.strip(), dimension).value
    return [fixed, proportional]


def default(given: dict[str, Any], record: dict[str, Any], path: str, base: float) -> dict[str, Any]:
    """The compiled default."""
    made: dict[str, Any] = {"why": given.get("why", "")}
    if not made["why"]:
        raise CatalogueError(f"{path}: a default needs its why")
    if "sd" in given:
        made["spread"] = spread(given["sd"], record)
    for key in ("times", "of", "air_at"):
        if key in given:
            made[key] = given[key]
    if "value" in given:
        value = given["value"]
        if record.get("type", "quantity") != "quantity":
            made["value"] = value
        elif record.get("whole"):
            made["value"] = int(value)
        elif record.get("many"):
            made["value"] = [q.value for q in read_many(value, _DIMENSIONS[record["dimension"]])]
        else:
            made["value"] = number(value, record, base)
    numeric = (
        record.get("type", "quantity") == "quantity" and not record.get("chosen") and not record.get("whole")
    )
    if numeric and "sd" not in given:
        raise CatalogueError(f"{path}: a default number needs its sd")
    return made


def field(section: str, many: bool, name: str, record: dict[str, Any], part: int) -> dict[str, Any]:
    """The compiled record of one field."""
    path = f"{section}{'[]' if many else ''}.{name}"
    strange = set(record) - _FIELD_KEYS
    if strange:
        raise CatalogueError(f"{path}: no such key {sorted(strange)}")
    kind = record.get("type", "quantity")
    FieldType(kind)
    made: dict[str, Any] = {"path": path, "words": record["words"]}
    base = math.radians(record["counts_from"]) if "counts_from" in record else 0.0
    if base:
        made["counts_from"] = base
    copied = (
        "type",
        "dimension",
        "unit",
        "kind",
        "many",
        "reason",
        "measure",
        "harm",
        "example",
        "choices",
        "refused",
        "ask",
        "used_by",
        "chosen",
        "whole",
        "points",
    )
    for key in copied:
        if key in record:
            made[key] = record[key]
    made["part"] = record.get("part", part)
    if "usual_words" in record:
        made["usual"] = record["usual_words"]
    if kind == "quantity":
        dimension = _DIMENSIONS[record["dimension"]]
        if record.get("unit") and dimension is not Dimension.COUNT:
            made["unit"] = find_unit(record["unit"], dimension).name
        elif dimension not in DIMENSIONLESS:
            raise CatalogueError(f"{path}: no unit")
        if dimension is Dimension.PRESSURE and "kind" not in record:
            raise CatalogueError(f"{path}: say whether a bare pressure is gauge, absolute or difference")
        for key, (low, high) in {"range": ("low", "high"), "usual": ("usual_low", "usual_high")}.items():
            if key in record:
                made[low], made[high] = (number(text, record, base) for text in record[key])
                if not made[low] <= made[high]:
                    raise CatalogueError(f"{path}: {key} runs backwards")
        if "range" not in record:
            raise CatalogueError(f"{path}: a quantity needs a range")
        if not record.get("reason"):
            raise CatalogueError(f"{path}: a range needs its reason")
        if "spread" in record:
            if set(record["spread"]) != _SPREAD_SOURCES:
                raise CatalogueError(f"{path}: spread for {sorted(_SPREAD_SOURCES)}")
            made["spreads"] = {source: spread(text, record) for source, text in record["spread"].items()}
        elif not record.get("chosen"):
            raise CatalogueError(f"{path}: a number needs its spreads, or is chosen")
        if not record.get("example"):
            raise CatalogueError(f"{path}: no example")
    if "default" in record:
        made["default"] = default(record["default"], record, path, base)
    return made


def compiled() -> dict[str, Any]:
    """The compiled catalogue of the TOML files."""
    order = tomllib.loads((LIBRARY / "fields" / "sections.toml").read_text("utf-8"))["order"]
    tables: dict[str, dict[str, Any]] = {}
    for path in sorted((LIBRARY / "fields").glob("*.toml")):
        if path.name == "sections.toml":
            continue
        for name, table in tomllib.loads(path.read_text("utf-8")).items():
            if name in tables or name not in order:
                raise CatalogueError(f"{path.name}: section {name} stands twice or is not in the order")
            tables[name] = table
    missing = [name for name in order if name not in tables]
    if missing:
        raise CatalogueError(f"sections without a table: {missing}")
    sections = []
    records: dict[str, dict[str, Any]] = {}
    for name in order:
        table = tables[name]
        about = {key: value for key, value in table.items() if not isinstance(value, dict)}
        strange = set(about) - _SECTION_KEYS
        if strange:
            raise CatalogueError(f"{name}: no such key {sorted(strange)}")
        many = bool(about.get("many", False))
        part = int(about.get("part", 1))
        fields = []
        for key, record in table.items():
            if isinstance(record, dict):
                fields.append(field(name, many, key, record, part))
                records[f"{name}.{key}"] = record
        sections.append({"name": name, **about, "fields": fields})
    classes = {}
    for name, table in tomllib.loads((LIBRARY / "engine_classes.toml").read_text("utf-8")).items():
        defaults = {}
        for path, given in table["defaults"].items():
            record = records[path]
            base = math.radians(record.get("counts_from", 0.0))
            defaults[path] = default(given, record, f"{name}: {path}", base)
        classes[name] = {"words": table["words"], "about": table["about"], "defaults": defaults}
    return {"sections": sections, "classes": classes}


def texts() -> dict[str, str]:
    """The files to write, by name below the library."""
    data = compiled()
    catalogue = json.dumps(data, ensure_ascii=False, separators=(",", ":"), sort_keys=False).replace(
        '{"name":', '\n{"name":'
    )
    schema = json.dumps(build_schema(from_compiled(data)), ensure_ascii=False, indent=1) + "\n"
    return {"catalogue.json": catalogue + "\n", "build.schema.json": schema}


def main() -> int:
    """Write the compiled files."""
    for name, text in texts().items():
        (LIBRARY / name).write_text(text, "utf-8")
        print(f"{name}: {len(text)} characters")
    return 0


if __name__ == "__main__":
    sys.exit(main())
