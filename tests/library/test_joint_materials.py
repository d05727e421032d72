"""The table of what hoses, fittings and seals stand."""

from __future__ import annotations

import pytest

from boostwright.build.catalogue import catalogue
from boostwright.library.joint_materials import Figure, asked, materials, seal_temperature, unknown_material
from boostwright.library.seals import Seal, read_seals
from boostwright.systems.joints import Carried
from tests.disagreements import disagreement
from tests.labels import check

PSI = 6894.757
MUCH = 0.85  # share of ethanol of the fuel that the handbook is about


def stands_much(name: str) -> bool:
    row = materials()[name].ethanol
    return row.value + row.sd >= MUCH


@check("published", source="doee85", note="what stands much ethanol, excerpt read; words, no numbers")
@pytest.mark.parametrize("name", ["steel", "stainless", "cast-iron", "fluoro-rubber", "ptfe"])
def test_what_stands_much_ethanol(name: str) -> None:
    assert stands_much(name)


@check("published", source="doee85", note="what much ethanol attacks, from memory; words, no numbers")
@pytest.mark.parametrize("name", ["brass", "aluminium", "nylon"])
def test_what_much_ethanol_attacks(name: str) -> None:
    assert not stands_much(name)


@disagreement("Q8")
@check("published", source="doee85", note="nitrile is listed as fit, excerpt read")
def test_nitrile_and_much_ethanol() -> None:
    assert stands_much("nitrile")


@check("published", source="saej30", note="50 and 100 psi, from memory; rounded to 0.1 bar")
def test_pressure_of_fuel_hose() -> None:
    assert materials()["nitrile"].pressure.value == pytest.approx(50 * PSI, abs=0.06e5)
    assert materials()["fluoro-rubber"].pressure.value == pytest.approx(100 * PSI, abs=0.06e5)


@check("common practice", note="rubbers in the order in which the trade ranks them by heat")
def test_heat_ranks_the_rubbers() -> None:
    order = ["nitrile", "epdm", "fluoro-rubber", "silicone", "ptfe"]
    heat = [materials()[name].temperature.value for name in order]
    assert heat == sorted(heat)


@check("limit", note="hoop stress: pressure times bore is one number, up to the cap")
def test_a_wide_hose_stands_less() -> None:
    silicone = materials()["silicone"]
    assert silicone.pressure_at(0.054).value == pytest.approx(silicone.pressure_at(0.108).value * 2)
    assert silicone.pressure_at(0.002) == silicone.pressure
    assert silicone.pressure_at(None) == silicone.pressure
    steel = materials()["steel"]
    assert steel.pressure_at(0.05) == steel.pressure


ASKED = ("oil_above_coolant", "drain_rise", "soak_above_coolant")


def test_every_figure_has_a_spread_and_a_source() -> None:
    rows = [*materials().values(), unknown_material(True), unknown_material(False)]
    figures = [f for row in rows for f in row if isinstance(f, Figure)]
    figures += [f for seal in Seal if (f := seal_temperature(seal)) is not None]
    figures += [asked(name) for name in ASKED]
    assert len(figures) > 45
    for figure in figures:
        assert figure.sd > 0.0
        assert len(figure.source) > 10
    for row in rows:
        assert 350.0 < row.temperature.value < 1200.0
        assert set(row.bad_for) <= {carried.value for carried in Carried}


def test_an_unknown_material_is_less_sure_than_any_known_one_of_its_kind() -> None:
    hose = unknown_material(True)
    for name in ("nitrile", "fluoro-rubber", "epdm", "silicone"):
        known = materials()[name]
        assert hose.temperature.sd > known.temperature.sd
    metal = unknown_material(False)
    assert metal.pressure.value <= min(materials()[n].pressure.value for n in ("steel", "brass", "aluminium"))


def test_the_words_of_the_build_file_are_those_of_the_table() -> None:
    fields = catalogue().fields
    assert dict(fields["ports[].material"].choices) == {n: m.words for n, m in materials().items()}
    assert set(fields["joints[].carries"].choices) == {carried.value for carried in Carried}


@pytest.mark.parametrize(
    ("text", "seals"),
    [
        ("taper and thread paste", {Seal.PASTE}), ("Copper washers", {Seal.WASHER}),
        ("o ring", {Seal.O_RING}),
        ("two O-rings", {Seal.O_RING}), ("PTFE tape", {Seal.TAPE}), ("nothing", {Seal.NOTHING}),
        ("metal on metal", {Seal.NOTHING}), ("worm-drive clip", {Seal.CLAMP}), ("its own", {Seal.OWN}),
        ("cone and clamp", {Seal.CLAMP}), ("paste, tape", {Seal.PASTE, Seal.TAPE}), ("gum", set()),
        ("", set()),
        ("paste, no tape", {Seal.PASTE}), ("paste with PTFE, never PTFE tape", {Seal.PASTE}),
        ("PTFE", {Seal.TAPE}),
        ("PTFE paste", {Seal.PASTE}), ("PTFE washer", {Seal.WASHER}), ("without paste", set()),
        ("bonded washer", {Seal.WASHER}), ("gasket" + "x" * 500, set()), ("sealant", {Seal.PASTE}),
    ],
)  # fmt: skip
def test_seals_are_read_from_workshop_words(text: str, seals: set[Seal]) -> None:
    assert read_seals(text) == seals
