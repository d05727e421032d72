"""The build: everything that a person stated, and the class defaults for the rest."""

from __future__ import annotations

import dataclasses
import hashlib
import json
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from boostwright.build.air import standard_pressure
from boostwright.build.catalogue import Default, Field, FieldType, catalogue
from boostwright.build.faults import Fault
from boostwright.build.map_points import MapPoints
from boostwright.build.recorded import Recorded
from boostwright.build.turbine_points import TurbinePoints
from boostwright.build.values import Source, StatedValue
from boostwright.errors import UnknownField

__all__ = ["Build", "Row"]

Row = Mapping[str, StatedValue]
"""One table of a list of tables: field name -> value."""

_MOST_STEPS = 12  # a default may hang on another; a circle is a fault of our data


@dataclass(frozen=True)
class Build:
    """One build file, read and found without faults. It does not change.

    `build["engine.bore"]` is the stated value, or the assumed one of the engine class.
    """

    values: Mapping[str, StatedValue]
    tables: Mapping[str, tuple[Row, ...]] = field(default_factory=dict)
    notes: tuple[Fault, ...] = ()
    file: str = ""
    maps: Mapping[str, MapPoints] = field(default_factory=dict)  # what the files hold that the build names
    turbine_map: TurbinePoints | None = None  # the same for turbo.turbine_map
    recorded: tuple[Recorded, ...] = ()  # readings from the job's records that stand in the values and tables
    _defaults: dict[str, StatedValue] = field(default_factory=dict, repr=False, compare=False)

    @property
    def name(self) -> str:
        """The build's own name."""
        return str(self["build.name"].value)

    @property
    def engine_class(self) -> str:
        """The key of the engine class whose defaults stand in."""
        stated = self.values.get("engine.class")
        return str(stated.value) if stated else "four-valve"

    def __getitem__(self, path: str) -> StatedValue:
        found = self.get(path)
        if found is None:
            catalogue().field(path)  # raises with the nearest names when there is no such field
            raise UnknownField(f"'{path}' is not stated in this build and has no default.")
        return found

    def __contains__(self, path: object) -> bool:
        return isinstance(path, str) and path in catalogue().fields and self.get(path) is not None

    def get(self, path: str) -> StatedValue | None:
        """The stated value, else the assumed one, else None. Raises UnknownField for no field."""
        found = self.values.get(path) or self._defaults.get(path)
        if found is None:
            found = self._assume(path, _MOST_STEPS)
            if found is not None:
                self._defaults[path] = found
        return found

    def number(self, path: str) -> float:
        """The SI value of a quantity. Raises UnknownField, TypeError when the field is no single number."""
        value = self[path].value
        if isinstance(value, (int, float)) and not isinstance(value, bool):
            return float(value)
        raise TypeError(f"'{path}' is not a single number")

    def count(self, path: str) -> int:
        """A whole number. Raises UnknownField, TypeError."""
        number = self.number(path)
        if not number.is_integer():
            raise TypeError(f"'{path}' is not a whole number")
        return int(number)

    def numbers(self, path: str) -> tuple[float, ...]:
        """The SI values of a row. Raises UnknownField, TypeError when the field is no row of numbers."""
        value = self[path].value
        if isinstance(value, tuple):
            return tuple(float(v) for v in value)
        raise TypeError(f"'{path}' is not a row of numbers")

    def words(self, path: str) -> str:
        """The text or the choice of a field. Raises UnknownField, TypeError."""
        value = self[path].value
        if isinstance(value, str):
            return value
        raise TypeError(f"'{path}' is not a text")

    def flag(self, path: str) -> bool:
        """True or false. Raises UnknownField, TypeError."""
        value = self[path].value
        if isinstance(value, bool):
            return value
        raise TypeError(f"'{path}' is not a yes or no")

    def is_stated(self, path: str) -> bool:
        """True when the file states the field."""
        catalogue().field(path)
        return path in self.values

    def stated(self) -> tuple[StatedValue, ...]:
        """Every value that the file states, in its order."""
        return tuple(self.values.values())

    def assumed(self, used_by: str = "") -> tuple[StatedValue, ...]:
        """Every assumed value in the catalogue's order, or only those that a command uses."""
        found: list[StatedValue] = []
        for path, known in catalogue().fields.items():
            if path in self.values or "[]" in path or (used_by and used_by not in known.used_by):
                continue
            value = self.get(path)
            if value is not None:
                found.append(value)
        return tuple(found)

    def table(self, section: str) -> tuple[Row, ...]:
        """The tables of a list section such as 'joints'. Raises UnknownField."""
        if section not in catalogue().sections:
            raise UnknownField(f"There is no section '{section}'.")
        return self.tables.get(section, ())

    @property
    def barometer(self) -> float:
        """The air pressure of the place [Pa absolute]."""
        return self.number("place.barometer")

    @property
    def swept_volume(self) -> float:
        """The swept volume of one cylinder [m3]."""
        return math.pi / 4 * self.number("engine.bore") ** 2 * self.number("engine.stroke")

    @property
    def displacement(self) -> float:
        """The swept volume of the engine [m3]."""
        return self.count("engine.cylinders") * self.swept_volume

    @property
    def fingerprint(self) -> str:
        """SHA-256 over what file, maps and recorded readings state, whatever their comments, order, units."""
        content: dict[str, Any] = {
            "values": {path: _canonical(value) for path, value in self.values.items()},
            "tables": {
                name: [{key: _canonical(value) for key, value in row.items()} for row in rows]
                for name, rows in self.tables.items()
                if rows
            },
        }
        if self.maps:
            content["maps"] = {path: dataclasses.asdict(points) for path, points in self.maps.items()}
        if self.turbine_map is not None:
            content["turbine_map"] = dataclasses.asdict(self.turbine_map)
        if self.recorded:
            content["recorded"] = [[one.id, one.standing.value, one.repeated] for one in self.recorded]
        text = json.dumps(content, sort_keys=True, separators=(",", ":"), ensure_ascii=True)
        return hashlib.sha256(text.encode("ascii")).hexdigest()

    def _assume(self, path: str, steps: int) -> StatedValue | None:
        known = catalogue().field(path)
        default = catalogue().default(path, self.engine_class)
        if default is None or steps <= 0:
            return None
        worked = self._worked_out(default, steps - 1)
        if worked is None:
            return None
        value, sd = worked
        if known.whole:
            value, sd = round(value), 0.0
        if known.type is not FieldType.QUANTITY or known.chosen:
            sd = 0.0 if not known.many else (0.0,) * len(value)
        return StatedValue(path, value, sd, Source.ASSUMED, None, "", known.kind, default.why)

    def _worked_out(self, default: Default, steps: int) -> tuple[Any, Any] | None:
        if default.air_at:
            altitude = self._number_or_default(default.air_at, steps)
            if altitude is None:
                return None
            return standard_pressure(altitude), default.spread.at(standard_pressure(altitude))
        if default.of:
            base = self._base(default.of, steps)
            if base is None:
                return None
            value = default.times * base
            return value, default.spread.at(value)
        value = default.value
        if isinstance(value, tuple):
            return value, tuple(default.spread.at(v) for v in value)
        if isinstance(value, (int, float)) and not isinstance(value, bool):
            return value, default.spread.at(value)
        return value, 0.0

    def _base(self, of: str, steps: int) -> float | None:
        if of in ("swept volume", "displacement"):
            bore = self._number_or_default("engine.bore", steps)
            stroke = self._number_or_default("engine.stroke", steps)
            cylinders = self._number_or_default("engine.cylinders", steps) if of == "displacement" else 1.0
            if bore is None or stroke is None or cylinders is None:
                return None
            return math.pi / 4 * bore**2 * stroke * cylinders
        return self._number_or_default(of, steps)

    def _number_or_default(self, path: str, steps: int) -> float | None:
        found = self.values.get(path) or self._defaults.get(path) or self._assume(path, steps)
        if found is None or isinstance(found.value, (str, bool, tuple, date)):
            return None
        return float(found.value)

    def __iter__(self) -> Iterator[str]:
        return iter(self.values)

    def field(self, path: str) -> Field:
        """The catalogue's record of a field. Raises UnknownField."""
        return catalogue().field(path)


def _canonical(value: StatedValue) -> list[Any]:
    return [_plain(value.value), _plain(value.sd), value.source.value]


def _plain(value: Any) -> Any:
    if isinstance(value, bool) or value is None or isinstance(value, str):
        return value
    if isinstance(value, (int, float)):
        return f"{value:.12g}"
    if isinstance(value, tuple):
        return [_plain(v) for v in value]
    return str(value)
