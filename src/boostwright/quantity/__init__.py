"""Reading and writing numbers with units: '10 psi', '0,7 bar', '440 +/- 15 cc/min'. SI inside."""

from boostwright.quantity.nearest import nearest
from boostwright.quantity.number import read_number
from boostwright.quantity.problem import QuantityError
from boostwright.quantity.reader import COVERAGE, Quantity, read, read_many
from boostwright.quantity.units import DIMENSIONLESS, Dimension, PressureKind, Unit, find_unit, unit_names
from boostwright.quantity.writer import in_unit, write

__all__ = [
    "COVERAGE",
    "DIMENSIONLESS",
    "Dimension",
    "PressureKind",
    "Quantity",
    "QuantityError",
    "Unit",
    "find_unit",
    "in_unit",
    "nearest",
    "read",
    "read_many",
    "read_number",
    "unit_names",
    "write",
]
