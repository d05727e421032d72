"""The job from Python: when it is done, what to order first, a reading with its photo, the next step.

    python examples/from_list_to_ladder.py

It works on a copy of a demo build, in a folder that goes away. The cars and people in it are invented.
"""

from __future__ import annotations

import tempfile
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import boostwright as bw

HERE = ZoneInfo("Europe/Lisbon")
MONDAY = datetime(2026, 4, 13, 9, tzinfo=HERE)


def main(path: Path) -> bw.Ladder:
    """Go through the job once and print a line or two of each part."""
    job = bw.load_job(path)

    made = bw.plan(job, MONDAY, HERE, wishes=bw.Wishes(samples=2000, seconds=1.0), what_if=False)
    chance = made.plan.outlook.chance  # from 2000 runs; times of the plan are seconds from its own zero
    print(f"{len(made.tasks)} tasks; done in time in {100 * chance.probability:.0f} of 100 runs")

    found = bw.parts(job.build, job.records)
    needed = bw.parts_needed(job, found, MONDAY, HERE)  # line -> the day on which its first task begins
    account = bw.parts_account(job.build, found, today=MONDAY.date(), needed=needed)
    for due in (account.due or ())[:3]:
        late = "too late already" if due.late else f"order by {due.by}"
        print(f"  {found.line(due.key).what}: needed on {due.needed}, {late}")
    print(f"  in all {account.money.total.middle:.0f} EUR, half of all offers stay below")

    gauge = path.with_name("gauge.jpg")
    gauge.write_bytes(b"\xff\xd8\xff\xe0 a photo of the gauge")
    asked = bw.AskedReading("pump_voltage", "13.4 V", who="Nadja", photos=(gauge,))
    kept = bw.record_reading(path, asked)
    assert kept.judged is not None  # the reading in SI, with the verdict on it
    print(f"read {kept.judged.measurement.words}: {kept.judged.value:.1f} V, {kept.judged.state.value}")

    ladder = bw.ladder(path)
    step = ladder.rungs[ladder.here]
    why = ladder.gates[ladder.here].why  # sentences on what keeps the gate behind it shut
    print(f"next on the ladder: {step.key}; {why[0] if why else 'open'}")

    (photo,) = bw.attachments(path)
    (again,) = bw.fetch_files(path, [photo.number], path.parent / "photos")
    history = bw.job_history(path)
    print(f"{len(history.revisions)} revision, {len(history.standing)} record; photo back: {again.path.name}")
    return ladder


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as folder:
        for name, text in bw.demo_files("sound").items():
            (Path(folder) / name).write_text(text, encoding="utf-8")
        main(Path(folder) / "sound.toml")
