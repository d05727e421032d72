"""Recording: units, doubt, witnesses, photos, sheets, taking back; and what of it reaches the build."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest

from boostwright import verbs
from boostwright.build.recorded import Standing
from boostwright.errors import ReadingError
from boostwright.job.records import Reading, Step, TaskEvent
from boostwright.planning.tasks import tasks_for
from boostwright.store import open_job
from boostwright.verbs import AskedEvent, AskedReading

BAR = 1e5


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "car.toml"
    path.write_text(verbs.demo_text("sound"), encoding="utf-8")
    (tmp_path / "sound_compressor.csv").write_text(verbs.demo_files("sound")["sound_compressor.csv"])
    return path


def asked(key: str, text: str, **more: object) -> AskedReading:
    return AskedReading(key, text, who="Lena", **more)  # type: ignore[arg-type]


def test_looking_keeps_nothing_and_makes_no_file(file: Path) -> None:
    job = verbs.load_job(file)
    assert job.records == ()
    assert job.build == verbs.load_build(file)
    verbs.due_readings(job)
    assert sorted(p.name for p in file.parent.iterdir()) == ["car.toml", "sound_compressor.csv"]


def test_a_reading_reaches_the_build_and_its_fingerprint(file: Path) -> None:
    before = verbs.load_build(file)
    kept = verbs.record_reading(file, asked("oil_pressure_idle", "1,4 bar", instrument="gauge"))
    assert kept.judged is not None
    assert kept.judged.state is Standing.INSIDE
    assert kept.stands_for == (("engine.oil_pressure_idle", "1.5 bar gauge"),)
    job = verbs.load_job(file)
    assert job.build.number("engine.oil_pressure_idle") == pytest.approx(1.4 * BAR)
    assert job.build.fingerprint != before.fingerprint
    assert "1 recorded reading used" in verbs.used_words(job.build)
    verbs.take_back(file)
    assert verbs.load_job(file).build == before
    assert verbs.load_job(file).build.fingerprint == before.fingerprint
    assert verbs.used_words(verbs.load_job(file).build) == ""
    with open_job(file) as opened:
        assert len(opened.records()) == 2  # nothing is deleted


def test_really_seven_bar_is_asked_first(file: Path) -> None:
    with pytest.raises(ReadingError, match="Really 7 bar gauge") as refused:
        verbs.record_reading(file, asked("oil_pressure_idle", "7 bar"))
    assert refused.value.ask
    assert verbs.load_job(file).records == ()
    kept = verbs.record_reading(file, asked("oil_pressure_idle", "7 bar", sure=True))
    assert kept.judged is not None
    assert kept.judged.state is Standing.FAR
    assert not kept.judged.holds_work
    again = verbs.record_reading(file, asked("oil_pressure_idle", "7.1 bar"))
    assert again.judged is not None
    assert again.judged.holds_work


def test_the_same_reading_with_its_time_is_kept_once(file: Path) -> None:
    one = asked("pump_voltage", "13.4 V", time="2025-04-12 09:40")
    assert not verbs.record_reading(file, one).same
    assert verbs.record_reading(file, one).same
    assert len(verbs.load_job(file).records) == 1


@pytest.mark.parametrize("time", ["yesterday", "2999-01-01", "1066-10-14", "", "2025-13-40"])
def test_times_are_past_and_readable(file: Path, time: str) -> None:
    if time:
        with pytest.raises(ReadingError):
            verbs.record_reading(file, asked("pump_voltage", "13.4 V", time=time))


def test_nobody_is_their_own_witness(file: Path) -> None:
    with pytest.raises(ReadingError, match="two people"):
        verbs.record_reading(file, asked("go_signed", "yes"))
    with pytest.raises(ReadingError, match="own witness"):
        verbs.record_reading(file, asked("go_signed", "yes", witness=" lena "))
    assert verbs.record_reading(file, asked("go_signed", "yes", witness="Tom")).judged is not None


def test_a_critical_task_is_done_with_another_pair_of_eyes(file: Path) -> None:
    critical = next(task.key for task in tasks_for(verbs.load_build(file)) if task.critical)
    with pytest.raises(ReadingError, match="second person"):
        verbs.record_event(file, AskedEvent(critical, Step.DONE, "Lena"))
    with pytest.raises(ReadingError, match="cannot witness"):
        verbs.record_event(file, AskedEvent(critical, Step.DONE, "Lena", witness="LENA"))
    assert verbs.load_job(file).records == ()
    kept = verbs.record_event(file, AskedEvent(critical, Step.DONE, "Lena", witness="Tom"))
    assert isinstance(kept.record, TaskEvent)
    assert kept.record.what == "done"
    verbs.record_event(file, AskedEvent(critical, Step.STARTED, "Lena"))  # needs none


def test_a_hold_point_says_which_readings_it_wants(file: Path) -> None:
    task = next(t for t in tasks_for(verbs.load_build(file)) if t.key == "baseline.compression")
    assert task.hold is not None
    kept = verbs.record_event(file, AskedEvent(task.key, Step.DONE, "Lena", witness="Tom"))
    assert any("compression" in note for note in kept.notes)


def test_tasks_that_there_are_not_and_problems_without_words_are_refused(file: Path) -> None:
    with pytest.raises(ReadingError, match=r"strip\.sump"):
        verbs.record_event(file, AskedEvent("strip.sumpf", Step.DONE, "Lena"))
    with pytest.raises(ReadingError, match="needs its words"):
        verbs.record_event(file, AskedEvent("strip.nuts", Step.PROBLEM, "Lena"))


def test_a_photo_is_kept_with_its_reading(file: Path) -> None:
    photo = file.parent / "gauge.jpg"
    photo.write_bytes(b"\xff\xd8\xff\xe0" + bytes(range(256)))
    kept = verbs.record_reading(file, asked("pump_voltage", "13.4 V", photos=(photo,)))
    assert isinstance(kept.record, Reading)
    with open_job(file) as job:
        assert job.content(kept.record.photos[0]) == photo.read_bytes()
        assert job.attachments()[0].record == kept.record.id


def test_a_sheet_is_kept_whole_or_not_at_all(file: Path) -> None:
    good = "measurement,value\noil_pressure_3000,4.0 bar\npump_voltage,13.4 V\n"
    bad = good + "oil_pressure_idle,7 bar\n"
    refused = verbs.record_sheet(file, bad, who="Lena", time="2025-04-12")
    assert [fault.line for fault in refused.faults] == [4]
    assert verbs.load_job(file).records == ()
    kept = verbs.record_sheet(file, good, who="Lena", time="2025-04-12")
    assert [line for line, _ in kept.kept] == [2, 3]
    again = verbs.record_sheet(file, good, who="Lena", time="2025-04-12")
    assert (len(again.kept), again.same) == (0, 2)
    sure = verbs.record_sheet(file, bad, who="Lena", time="2025-04-12", sure=True)
    assert len(sure.kept) == 1


def test_the_printed_sheet_reads_back_as_what_is_on_record(file: Path) -> None:
    verbs.record_reading(file, asked("compression", "13.0 13.1 13.0 13.1 bar", note="hot, charger on"))
    verbs.record_reading(file, asked("coolant_gas", "none"))
    job = verbs.load_job(file)
    other = file.with_name("other.toml")
    other.write_text(file.read_text("utf-8"), encoding="utf-8")
    kept = verbs.record_sheet(other, verbs.readings_sheet(job), who="nobody")
    assert kept.faults == ()
    read = [one for one in verbs.load_job(other).records if isinstance(one, Reading)]
    was = [one for one in job.records if isinstance(one, Reading)]
    assert sorted((r.measurement, r.values, r.answer, r.who, r.time, r.when, r.note) for r in read) == sorted(
        (r.measurement, r.values, r.answer, r.who, r.time, r.when, r.note) for r in was
    )


def test_another_store_can_be_named(file: Path) -> None:
    verbs.record_reading(file, asked("pump_voltage", "13.4 V"), where=str(file.parent / "shop.sqlite"))
    assert verbs.load_job(file).records == ()
    assert len(verbs.load_job(file, str(file.parent / "shop.sqlite")).records) == 1


def test_torques_read_back_are_checked_against_the_sheet(file: Path) -> None:
    rows = [row for row in verbs.torque(verbs.load_build(file)) if row.low is not None]
    row = rows[0]
    assert row.low is not None
    assert row.high is not None
    middle, name = (row.low + row.high) / 2.0, row.bolt.name
    event = AskedEvent("baseline.photos", Step.DONE, "Lena", witness="Tom")
    good = verbs.record_event(file, replace(event, torques=(f"{name.upper()} = {middle:.3f} Nm",)))
    assert isinstance(good.record, TaskEvent)
    assert good.record.joints == ((name, pytest.approx(middle, abs=1e-3)),)
    assert not [note for note in good.notes if "torque sheet" in note]
    over = verbs.record_event(file, replace(event, torques=(f"{name} = {2 * row.high:.1f} Nm",)))
    assert any("outside the torque sheet" in note for note in over.notes)
    count = len(verbs.load_job(file).records)
    for text, why in (
        (f"{name[:-1]}x = 5 Nm", "Did you mean"),
        (f"{name} = 5", "unit"),
        ("5 Nm", "names no joint"),
        (f"{name} = -5 Nm", "no torque"),
        (f"{name} = nan Nm", name),
    ):
        with pytest.raises(ReadingError, match=re.escape(why)):
            verbs.record_event(file, replace(event, torques=(text,)))
    assert len(verbs.load_job(file).records) == count


def test_a_step_that_there_is_not_is_refused_with_the_nearest(file: Path) -> None:
    with pytest.raises(ReadingError, match="pull-low"):
        verbs.record_reading(file, asked("pull_knock", "0", step="pull-lo"))
    assert verbs.load_job(file).records == ()
    assert isinstance(verbs.record_reading(file, asked("pull_knock", "0", step="pull-low")).record, Reading)


def test_a_task_out_of_its_order_is_said_and_kept(file: Path) -> None:
    kept = verbs.record_event(file, AskedEvent("strip.nuts", Step.STARTED, "Lena"))
    assert any("OUT OF ORDER" in note and "come before strip.nuts" in note for note in kept.notes)
    first = next(
        task for task in tasks_for(verbs.load_build(file)) if task.place != "desk" and not task.critical
    )
    kept = verbs.record_event(file, AskedEvent(first.key, Step.STARTED, "Lena"))
    assert not any("OUT OF ORDER" in note for note in kept.notes), kept.notes


def left(task: str, note: str = "", witness: str = "") -> AskedEvent:
    return AskedEvent(task, Step.NOT_NEEDED, "Lena", note=note, witness=witness)


def test_what_guards_a_person_is_not_left_out_by_one_word(file: Path) -> None:
    tasks = {task.key: task for task in tasks_for(verbs.load_build(file))}
    with pytest.raises(ReadingError, match="never left out"):
        verbs.record_event(file, left("prove.fuel_dry", "it looked dry to us", "Tom"))
    assert tasks["prove.audit"].critical
    with pytest.raises(ReadingError, match="without a reason"):
        verbs.record_event(file, left("prove.audit", "ok", "Tom"))
    with pytest.raises(ReadingError, match="second person"):
        verbs.record_event(file, left("prove.audit", "a shop has done it all"))
    assert verbs.load_job(file).records == ()
    verbs.record_event(file, left("prove.audit", "a shop has done it all", "Tom"))
    branch = next(task for task in tasks.values() if task.odds < 0.5)
    verbs.record_event(file, left(branch.key))  # what did not come to pass


@pytest.mark.parametrize("witness", ["", "   ", "\u200b", " LENA ", "L e n a", "Lena.", "\uff2cena"])
def test_one_person_under_two_spellings_is_one(file: Path, witness: str) -> None:
    with pytest.raises(ReadingError):
        verbs.record_reading(file, asked("go_signed", "yes", witness=witness))
    line = f'measurement,value,who,witness\ngo_signed,yes,Lena,"{witness}"\n'
    kept = verbs.record_sheet(file, line, time="2025-04-12")
    assert [fault.line for fault in kept.faults] == [2]
    assert verbs.load_job(file).records == ()


def test_a_sheet_names_steps_that_there_are(file: Path) -> None:
    head = "measurement,value,step,who\n"
    kept = verbs.record_sheet(file, f"{head}pull_knock,3,pull-lo,Lena\n", time="2025-04-12")
    assert "no step 'pull-lo'" in kept.faults[0].why
    kept = verbs.record_sheet(file, f"{head}pull_knock,3,Pull-Low,Lena\n", time="2025-04-12")
    assert kept.faults == ()
    assert [r.step for r in verbs.load_job(file).records if isinstance(r, Reading)] == ["pull-low"]


def test_a_sheet_without_times_is_not_put_behind_what_was_read(file: Path) -> None:
    """Its day's noon would make this afternoon's knock older than the good pull before it."""
    verbs.record_reading(file, asked("pull_knock", "0", step="pull-low", time=""))
    line = "measurement,value,step,who\npull_knock,3,pull-low,Lena\n"
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("boostwright.verbs.recording.now", lambda: "2999-01-01T00:00:00.000+00:00")
        assert verbs.record_sheet(file, line).faults == ()  # noon is later than what was read
    verbs.take_back(file, reason="written to try the sheet of this test")
    moment = verbs.load_job(file).records[0].time
    with pytest.MonkeyPatch.context() as patch:
        earlier = f"{moment[:10]}T00:00:00.000+00:00"
        patch.setattr("boostwright.verbs.recording.now", lambda: earlier)
        kept = verbs.record_sheet(file, line)
    assert "pull_knock was read at" in kept.faults[0].why
    assert "--time" in kept.faults[0].remedy
    assert len(verbs.load_job(file).records) == 3


def test_times_of_a_sheet_are_those_of_the_place(file: Path) -> None:
    text = file.read_text("utf-8")
    assert "time_zone" not in text
    file.write_text(f'{text}\n[hours]\ntime_zone = "Asia/Tokyo"\n', encoding="utf-8")
    verbs.record_sheet(file, "measurement,value,time,who\npump_voltage,13.4 V,2025-04-12 21:00,Lena\n")
    assert verbs.load_job(file).records[0].time == "2025-04-12T12:00:00.000+00:00"


def test_harm_is_not_taken_back_without_a_word(file: Path) -> None:
    verbs.record_reading(file, asked("pull_knock", "3", step="pull-low"))
    with pytest.raises(ReadingError, match="harm does not go away"):
        verbs.take_back(file, who="Lena")
    with pytest.raises(ReadingError, match="harm does not go away"):
        verbs.take_back(file, who="Lena", reason="wrong")
    assert len(verbs.load_job(file).records) == 1
    verbs.take_back(file, who="Lena", reason="the sensor's plug was off, its log shows noise at rest")
    verbs.record_reading(file, asked("pull_knock", "0", step="pull-low"))
    verbs.take_back(file, who="Lena")  # nothing that harms
    assert len(verbs.load_job(file).records) == 4
