"""A logged pull: what it says at the speeds of the curve, and every fault with its line."""

from __future__ import annotations

import contextlib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boostwright import verbs
from boostwright.build.faults import Fault
from boostwright.errors import BuildFileError
from boostwright.readers.pull_log import read_pull_log

RPM = np.pi / 30.0
SPEEDS = [2000 * RPM, 3000 * RPM, 4000 * RPM]
PULL = """# a pull in third gear
speed [rpm]; lambda; manifold pressure [kPa]; IAT [degC]; spark [deg]; throttle [%]; note
1900; 0,95; 60,0; 20,0; 30; 40; before the pedal
1950; 0,90; 99,0; 25,0; 14; 100;
2050; 0,88; 98,8; 25,0; 16; 100;
2900; 0,87; 98,4; 26,0; 20; 99;
3100; 0,89; 98,2; 26,0; 22; 100;
3920; 0,88; 97,8; 27,0; 24; 100;
4100; ; 97,6; 27,0; 26; 100;
"""


def read(text: str, barometer: float = 100e3) -> dict[str, tuple[float, ...]]:
    return read_pull_log(text.encode(), SPEEDS, "pull.csv", barometer).values


def faults(text: str) -> list[tuple[str, int]]:
    with pytest.raises(BuildFileError) as caught:
        read(text)
    return [(fault.code, fault.line) for fault in caught.value.faults]


def test_rows_are_averaged_around_each_speed_and_closed_throttle_is_left_out() -> None:
    found = read(PULL)
    assert set(found) == {"lambda", "manifold_pressure", "air_temperature", "spark"}
    assert found["lambda"] == pytest.approx([0.89, 0.88, 0.88])
    assert found["manifold_pressure"] == pytest.approx([98.9e3, 98.3e3, 97.7e3])
    assert found["air_temperature"] == pytest.approx([298.15, 299.15, 300.15])
    assert found["spark"] == pytest.approx(np.radians([15.0, 21.0, 25.0]))


def test_commas_between_columns_units_in_a_row_and_gauge_pressure() -> None:
    text = "rpm,map,afr\nrpm,mbarg,AFR petrol\n2000,-10,12.9\n3000,-15,12.8\n4000,-20,12.7\n"
    found = read(text, 98e3)
    assert found["manifold_pressure"] == pytest.approx([97e3, 96.5e3, 96e3])
    assert np.all((np.array(found["lambda"]) > 0.8) & (np.array(found["lambda"]) < 0.95))


def test_a_gap_is_bridged_by_a_straight_line_and_a_wide_one_is_a_fault() -> None:
    near = "speed [rpm]; lambda\n1820; 0.90\n2200; 0.86\n3000; 0.88\n4000; 0.88\n"
    assert read(near)["lambda"][0] == pytest.approx(0.90 - 0.04 * 180 / 380)
    wide = near.replace("2200", "2300")
    assert faults(wide) == [("missing-value", 2)]


@pytest.mark.parametrize(
    ("old", "new", "code", "line"),
    [
        ("speed [rpm]", "speed [km]", "wrong-unit", 2),
        ("manifold pressure [kPa]", "manifold pressure", "no-unit", 2),
        ("speed [rpm]", "gear", "missing-key", 2),
        ("IAT [degC]", "lambda", "duplicate-key", 2),
        ("98,4", "9,84", "out-of-range", 6),
        ("98,4", "9x", "no-number", 6),
        ("0,87", "1.234,5", "ambiguous-number", 6),
    ],
)
def test_every_fault_has_its_line(old: str, new: str, code: str, line: int) -> None:
    assert (code, line) in faults(PULL.replace(old, new, 1))


def test_a_column_that_is_not_read_is_a_note() -> None:
    notes = read_pull_log(PULL.encode(), SPEEDS).notes
    assert [(n.line, n.written) for n in notes] == [(2, "note")]


def test_ten_thousand_spoilt_logs_raise_nothing_but_our_own() -> None:
    rng = np.random.default_rng(11)
    whole = PULL.encode()
    signs = list(b';,\t\n\r"[]()-.0123456789eE%#\xff\x00 ')
    for _ in range(10_000):
        spoilt = bytearray(whole)
        for _ in range(int(rng.integers(1, 12))):
            spoilt[int(rng.integers(len(spoilt)))] = signs[int(rng.integers(len(signs)))]
        if rng.random() < 0.2:
            del spoilt[int(rng.integers(len(spoilt))) :]
        with contextlib.suppress(BuildFileError):
            for row in read_pull_log(bytes(spoilt), SPEEDS).values.values():
                assert len(row) == 3
                assert np.isfinite(row).all()


def _car(folder: Path, more: str = "") -> Path:
    text = verbs.demo_text("sound")
    for name, other in verbs.demo_files("sound").items():
        (folder / name).write_text(other)
    head, _, tail = text.partition("[baseline]")
    file = folder / "car.toml"
    file.write_text(f'{head}[baseline]\nlog = "pull.csv"\n{more}{tail}')
    return file


def _log(folder: Path, speeds: tuple[float, ...]) -> None:
    rows = [f"{s / RPM:.0f}; 0,88; 12,5; 100" for s in speeds]
    (folder / "pull.csv").write_text("\n".join(["speed [rpm]; lambda; spark [deg]; throttle [%]", *rows]))


def test_the_build_holds_what_its_log_says_and_what_it_states_itself_counts(tmp_path: Path) -> None:
    speeds = verbs.demo_build("sound").numbers("baseline.speed")
    _log(tmp_path, speeds)
    build = verbs.load_build(_car(tmp_path))
    assert build.numbers("baseline.lambda") == pytest.approx([0.88] * len(speeds))
    assert np.all(np.array(build["baseline.spark"].sd) > 0.0)
    stated = " ".join(["0.91"] * len(speeds))
    own = verbs.load_build(_car(tmp_path, f'lambda = "{stated} lambda"\n'))
    assert own.numbers("baseline.lambda") == pytest.approx([0.91] * len(speeds))
    assert own.fingerprint != build.fingerprint
    _log(tmp_path, speeds[:-2])  # the pull ends too soon
    with pytest.raises(BuildFileError, match="says nothing of"):
        verbs.load_build(_car(tmp_path))


def test_a_log_that_is_not_there_is_said(tmp_path: Path) -> None:
    with pytest.raises(BuildFileError, match="no such file") as caught:
        verbs.load_build(_car(tmp_path))
    assert caught.value.faults[0].field == "baseline.log"


def test_a_log_of_nothing_but_speed_is_said() -> None:
    broken = PULL.replace("speed [rpm]", "speed [rpm\n]", 1)
    for text in ("speed [rpm]\n1500\n2000\n", broken):
        with pytest.raises(BuildFileError, match="no column that can be read"):
            read_pull_log(text.encode(), SPEEDS, "pull.csv")


def answered(data: bytes) -> None:
    """Values at every speed, or faults that say where and what to do; nothing else."""
    said: tuple[Fault, ...] = ()
    rows: dict[str, tuple[float, ...]] = {}
    try:
        rows = read_pull_log(data, SPEEDS, "pull.csv").values
    except BuildFileError as mishap:
        said = mishap.faults
    assert rows or said
    assert all(fault.line >= 1 and fault.why and fault.remedy for fault in said)
    for row in rows.values():
        assert len(row) == len(SPEEDS)
        assert np.all(np.isfinite(row))


@given(
    st.one_of(
        st.binary(max_size=300),
        st.text(alphabet="speed;lambda,rpm\t\n0123456789.[]#=%-e", max_size=300).map(str.encode),
    )
)
def test_any_bytes_are_answered(data: bytes) -> None:
    answered(data)


@given(st.data())
@settings(max_examples=400, deadline=None)
def test_a_damaged_log_is_answered(data: st.DataObject) -> None:
    log = bytearray(PULL.encode())
    for _ in range(data.draw(st.integers(1, 6))):
        at = data.draw(st.integers(0, len(log) - 1))
        kind = data.draw(st.sampled_from(["cut", "put", "swap", "line"]))
        if kind == "cut":
            del log[at : at + data.draw(st.integers(1, 30))]
        elif kind == "put":
            log[at:at] = data.draw(
                st.sampled_from([b";", b"1e999", b"nan", b"-", b"\xff", b"0", b",,", b"\n"])
            )
        elif kind == "swap":
            log[at] = data.draw(st.integers(0, 255))
        else:
            rows = bytes(log).split(b"\n")
            rows.insert(data.draw(st.integers(0, len(rows))), data.draw(st.sampled_from(rows)))
            log = bytearray(b"\n".join(rows))
        if not log:
            break
    answered(bytes(log))
