"""A whole job as one file: a round trip is exact, and what is damaged or made to harm is refused as a
whole.
"""

from __future__ import annotations

import hashlib
import io
import json
import random
import shutil
import struct
import tracemalloc
import zipfile
import zlib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from boostwright.errors import ArchiveError, HistoryError
from boostwright.job import Override, Reading, Record, TaskEvent, Withdrawal, new_id, now
from boostwright.store import Document, Job, open_job
from boostwright.store.archive_form import BLOBS, LISTS, MANIFEST
from boostwright.store.blobs import LARGEST

PHOTO = b"\xff\xd8\xff\xe0" + bytes(range(256)) * 8


def everything(job: Job) -> tuple[Any, ...]:
    """All that a job holds, contents included."""
    revisions = job.revisions()
    photos = job.attachments()
    return (
        job.records(),
        revisions,
        tuple(
            (document.body, dict(document.files)) for document in (job.document(r.number) for r in revisions)
        ),
        job.kept(),
        photos,
        tuple(job.content(photo.digest) for photo in photos),
    )


def packed(job: Job) -> bytes:
    target = io.BytesIO()
    job.export(target, program="0", data="d")
    return target.getvalue()


def filled(job: Job) -> None:
    one = Reading(new_id(), "Ada", now(), "compression", (1.1e6, 1.25e6), text="11 12.5 bar")
    job.save(Document(b"[engine]\r\n", {"map.csv": b"1,2\n"}), based_on=0, who="Ada", why="begun")
    job.add(one, TaskEvent(new_id(), "Ben", now(), "oil.drill", "done", joints=(("sump", 11.0),)))
    job.attach(PHOTO, "bore 1.jpg", record=one.id, who="Ada")
    job.attach(b"time,rpm\n0,900\n", "pull.csv")
    job.save(Document(b"[engine]\nbore = 1\n"), based_on=1, who="Ben")
    job.keep("fit", "ab", {"x": [0.1, None, "é"]}, program="0", data="d")


@pytest.fixture
def archive(tmp_path: Path) -> Path:
    path = tmp_path / "car.job"
    with open_job(tmp_path / "from" / "car.toml", str(tmp_path / "from.sqlite")) as job:
        filled(job)
        path.write_bytes(packed(job))
    return path


def refused(path: Path, words: str, where: str = "") -> None:
    """It is refused in words, and the store that should have taken it in is as it was."""
    place = where or str(path.with_name("refusing.sqlite"))
    with open_job(path.with_name("car.toml"), place) as job:
        before = everything(job)
        with pytest.raises(ArchiveError, match=words) as told:
            job.take_in(path)
        assert "Nothing" in str(told.value)
        assert everything(job) == before


def test_a_round_trip_is_exact(tmp_path: Path, archive: Path, where: str) -> None:
    with open_job(tmp_path / "from" / "car.toml", str(tmp_path / "from.sqlite")) as job:
        wanted = everything(job)
    with open_job(tmp_path / "car.toml", where) as job:
        taken = job.take_in(archive)
        assert (taken.revisions, taken.records, taken.kept, taken.attachments) == (2, 2, 1, 2)
        assert everything(job) == wanted
        assert packed(job) == archive.read_bytes(), "the very same bytes"
        again = job.take_in(archive)
        assert (again.revisions, again.records, again.kept, again.attachments) == (0, 0, 0, 0)
        assert everything(job) == wanted


@pytest.fixture(scope="module")
def empty_store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A store that holds nothing yet, to be copied: quicker than to make each one anew."""
    path = tmp_path_factory.mktemp("empty") / "empty.sqlite"
    with open_job("none.toml", str(path)) as job:
        job.prepare()
    return path


WORDS = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), max_size=12)
NUMBERS = st.floats(allow_nan=False, allow_infinity=False)
IDS = st.integers(0, 2**128 - 1).map(lambda number: f"{number:032x}")
PHOTOS = st.lists(WORDS, max_size=2).map(tuple)
RECORDS: st.SearchStrategy[Record] = st.one_of(
    st.builds(
        Reading, IDS, WORDS, WORDS, WORDS, st.lists(NUMBERS, max_size=4).map(tuple), st.none() | NUMBERS,
        WORDS, WORDS, photos=PHOTOS, note=st.text(max_size=20),
    ),
    st.builds(
        TaskEvent, IDS, WORDS, WORDS, WORDS, WORDS, note=st.text(max_size=20),
        joints=st.lists(st.tuples(WORDS, NUMBERS), max_size=3).map(tuple), photos=PHOTOS,
    ),
    st.builds(Override, IDS, WORDS, WORDS, WORDS, WORDS),
    st.builds(Withdrawal, IDS, WORDS, WORDS, IDS),
)  # fmt: skip
DOCUMENTS = st.builds(
    Document, st.binary(max_size=40), st.dictionaries(WORDS, st.binary(max_size=20), max_size=2)
)


@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.lists(RECORDS, max_size=6, unique_by=lambda one: one.id),
    st.lists(DOCUMENTS, max_size=3),
    st.lists(st.tuples(st.binary(min_size=1, max_size=30), WORDS), max_size=3),
    st.lists(st.dictionaries(WORDS, NUMBERS | WORDS | st.none(), max_size=3), max_size=2),
)
def test_any_job_survives_the_round_trip(
    empty_store: Path,
    tmp_path_factory: pytest.TempPathFactory,
    records: list[Record],
    documents: list[Document],
    photos: list[tuple[bytes, str]],
    fits: list[dict[str, Any]],
) -> None:
    folder = tmp_path_factory.mktemp("trip")
    for name in ("car.history.sqlite", "o"):
        shutil.copy(empty_store, folder / name)
    with (
        open_job(folder / "car.toml") as job,
        open_job(folder / "other" / "car.toml", str(folder / "o")) as other,
    ):
        job.keep("fit", "none", {}, program="0", data="d")  # so that there is a job
        job.add(*records)
        for text in documents:
            head = job.head()
            job.save(text, based_on=head.number if head else 0)
        for content, name in photos:
            job.attach(content, name)
        for fit in fits:
            job.keep("fit", "ab", fit, program="0", data="d")
        (folder / "a").write_bytes(packed(job))
        other.take_in(folder / "a")
        assert everything(other) == everything(job)
        assert packed(other) == (folder / "a").read_bytes()


def test_the_side_that_is_behind_catches_up(tmp_path: Path, archive: Path, where: str) -> None:
    with open_job(tmp_path / "car.toml", where) as job:
        job.take_in(archive)
        job.save(Document(b"[engine]\nbore = 2\n"), based_on=2, who="Cem")
        job.add(TaskEvent(new_id(), "Cem", now(), "oil.bung", "done"))
        newer = tmp_path / "newer.job"
        newer.write_bytes(packed(job))
        wanted = everything(job)
        assert job.take_in(archive).records == 0, "an older archive changes nothing"
        assert everything(job) == wanted
    with open_job(tmp_path / "from" / "car.toml", str(tmp_path / "from.sqlite")) as job:
        taken = job.take_in(newer)
        assert (taken.revisions, taken.records) == (1, 1)
        assert everything(job) == wanted


def test_jobs_that_went_apart_are_not_mixed(tmp_path: Path, archive: Path) -> None:
    with open_job(tmp_path / "from" / "car.toml", str(tmp_path / "from.sqlite")) as job:
        job.save(Document(b"mine"), based_on=2)
        newer = tmp_path / "newer.job"
        newer.write_bytes(packed(job))
    other = str(tmp_path / "other.sqlite")
    with open_job(tmp_path / "car.toml", other) as job:
        job.take_in(archive)
        job.save(Document(b"theirs"), based_on=2)
    refused(newer, "went on without each other", other)


def test_another_build_is_not_mixed_in(tmp_path: Path, archive: Path) -> None:
    where = str(tmp_path / "other.sqlite")
    with open_job(tmp_path / "car.toml", where) as job:
        filled(job)
    refused(archive, "another build is kept here", where)


def test_nothing_to_export_is_said(tmp_path: Path) -> None:
    with open_job(tmp_path / "car.toml") as job, pytest.raises(HistoryError, match="nothing is kept"):
        packed(job)


# ------------------------------------------------------------------- what is damaged, and what means harm


def parts_of(path: Path) -> dict[str, bytes]:
    with zipfile.ZipFile(path) as opened:
        return {name: opened.read(name) for name in opened.namelist()}


def rebuilt(path: Path, change: Callable[[dict[str, bytes]], None], honest: bool = True) -> None:
    """The archive with its parts changed; honest: the manifest tells of the change as the writer would."""
    parts = parts_of(path)
    change(parts)
    if honest and MANIFEST in parts:
        manifest = json.loads(parts[MANIFEST])
        if isinstance(manifest, dict) and isinstance(manifest.get("parts"), dict):
            manifest["parts"] = {
                name: {"sha256": hashlib.sha256(text).hexdigest(), "size": len(text)}
                for name, text in parts.items()
                if name != MANIFEST
            }
            parts[MANIFEST] = json.dumps(manifest).encode()
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as target:
        for name, text in parts.items():
            target.writestr(name, text)


def edited(name: str, old: bytes, new: bytes) -> Callable[[dict[str, bytes]], None]:
    def change(parts: dict[str, bytes]) -> None:
        assert old in parts[name], (old, parts[name][:200])
        parts[name] = parts[name].replace(old, new, 1)

    return change


def added(name: str, text: bytes) -> Callable[[dict[str, bytes]], None]:
    return lambda parts: parts.update({name: text})


def dropped(name: str) -> Callable[[dict[str, bytes]], None]:
    return lambda parts: parts.pop(name) and None


REVISIONS, RECORDS_LIST, KEPT, PHOTO_LIST = LISTS


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (added("../../evil.toml", b"x"), "name that none of ours has"),
        (added("/etc/evil", b"x"), "name that none of ours has"),
        (added("content/../evil", b"x"), "name that none of ours has"),
        (added(BLOBS + "0" * 64, b"x"), "name that none of ours has"),
        (added(BLOBS + hashlib.sha256(b"x").hexdigest(), b"x"), "nothing needs it"),
        (dropped(RECORDS_LIST), "it has no records.jsonl"),
        (dropped(MANIFEST), "it has no manifest.json"),
        (edited(MANIFEST, b'"format":1', b'"format":2'), "newer boostwright"),
        (edited(MANIFEST, b'"format":1', b'"format":0'), "never was"),
        (edited(MANIFEST, b"a job kept by boostwright", b"a recipe"), "something else"),
        (edited(MANIFEST, b'"data":"d"', b'"data":"d","more":1'), "Extra inputs"),
        (edited(REVISIONS, b'"number":2', b'"number":3'), "have a gap"),
        (edited(REVISIONS, b'"number":2', b'"number":"2"'), "valid integer"),
        (edited(REVISIONS, b'"who":"Ada"', b'"who":"A\\u0000"'), "sign that cannot be kept"),
        (edited(REVISIONS, b'"who":"Ada"', b'"who":"A\\ud800"'), "valid string"),
        (edited(RECORDS_LIST, b'"measurement"', b'"measurment"'), "unknown parts"),
        (edited(RECORDS_LIST, b"1100000.0", b'"11 bar"'), "valid number"),
        (edited(RECORDS_LIST, b"1100000.0", b"NaN"), "stands where a number belongs"),
        (edited(RECORDS_LIST, b"1100000.0", b"1e999"), "records.jsonl"),
        (edited(RECORDS_LIST, b'"kind_of_record":"task"', b'"kind_of_record":"feast"'), "no kind of record"),
        (edited(RECORDS_LIST, b"}\n", b"}"), "middle of a line|cannot be read"),
        (edited(KEPT, b'"content":{', b'"content":' + b"[" * 100_000), "cannot be read"),
        (edited(PHOTO_LIST, b'"digest":"', b'"digest":"/'), "should match pattern"),
        (edited(PHOTO_LIST, b'"number":2', b'"number":1'), "have a gap"),
    ],
)  # fmt: skip
def test_what_is_made_up_is_refused(
    archive: Path, change: Callable[[dict[str, bytes]], None], words: str
) -> None:
    rebuilt(archive, change)
    refused(archive, words)


def test_a_part_that_was_changed_is_refused(archive: Path) -> None:
    name = next(name for name in parts_of(archive) if name.startswith(BLOBS))
    rebuilt(archive, lambda parts: parts.update({name: parts[name][:-1] + b"!"}), honest=False)
    refused(archive, "was changed since it was written")


def test_a_part_that_is_not_in_the_manifest_is_refused(archive: Path) -> None:
    rebuilt(archive, added("extra", b"x"), honest=False)
    refused(archive, "are not the same")


def test_a_bomb_is_refused_before_it_goes_off(archive: Path) -> None:
    big = bytes(LARGEST + 1)
    rebuilt(archive, added(BLOBS + hashlib.sha256(big).hexdigest(), big))
    assert archive.stat().st_size < 200_000
    tracemalloc.start()
    refused(archive, "not as long as it should be")
    assert tracemalloc.get_traced_memory()[1] < LARGEST / 4
    tracemalloc.stop()


def test_a_bomb_that_tells_of_itself_as_small_is_not_unpacked(archive: Path) -> None:
    """Its sizes and sums are told as those of its first ten bytes, in the manifest and the file."""
    big = bytes(LARGEST + 1)

    def small(parts: dict[str, bytes]) -> None:
        parts[RECORDS_LIST] = big
        manifest = json.loads(parts[MANIFEST])
        manifest["parts"][RECORDS_LIST] = {"sha256": hashlib.sha256(big[:10]).hexdigest(), "size": 10}
        parts[MANIFEST] = json.dumps(manifest).encode()

    rebuilt(archive, small, honest=False)
    told = bytearray(archive.read_bytes())
    found = 0
    for mark, offset in ((b"PK\x01\x02", 16), (b"PK\x03\x04", 14)):  # sum, packed size, size
        at = 0
        while (at := told.find(mark, at)) >= 0:
            _, short, size = struct.unpack_from("<3L", told, at + offset)
            if size == len(big):
                struct.pack_into("<3L", told, at + offset, zlib.crc32(big[:10]), short, 10)
                found += 1
            at += 4
    assert found == 2
    archive.write_bytes(bytes(told))
    tracemalloc.start()
    refused(archive, "ends in the middle of a line")
    assert tracemalloc.get_traced_memory()[1] < LARGEST / 4
    tracemalloc.stop()


def test_two_parts_of_one_name_are_refused(archive: Path) -> None:
    with zipfile.ZipFile(archive, "a") as target, pytest.warns(UserWarning, match="Duplicate"):
        target.writestr(RECORDS_LIST, b"")
    refused(archive, "there twice")


def test_what_stands_behind_the_end_is_refused(archive: Path) -> None:
    archive.write_bytes(archive.read_bytes() + b"more")
    refused(archive, "its end is missing, or something was added")


@pytest.mark.parametrize("content", [b"", b"PK", b"no archive at all, but a letter", bytes(5000)])
def test_what_is_no_archive_is_refused(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "letter.job"
    path.write_bytes(content)
    refused(path, "is not the whole archive of a job")


def test_an_archive_cut_off_anywhere_is_refused(archive: Path) -> None:
    whole = archive.read_bytes()
    for length in {*range(0, len(whole), 97), len(whole) - 1}:
        archive.write_bytes(whole[:length])
        refused(archive, "not the whole archive")


def test_an_archive_with_spoilt_bytes_is_refused_or_whole(archive: Path, tmp_path: Path) -> None:
    """Some bytes of a ZIP file mean nothing to us, such as the day of a part; then all must have come in."""
    whole = archive.read_bytes()
    with open_job(tmp_path / "from" / "car.toml", str(tmp_path / "from.sqlite")) as job:
        wanted = everything(job)
    chance = random.Random(7)
    taken = 0
    for turn in range(400):
        spoilt = bytearray(whole)
        for _ in range(chance.randint(1, 3)):
            spoilt[chance.randrange(len(spoilt))] = chance.randrange(256)
        archive.write_bytes(bytes(spoilt))
        with open_job(tmp_path / "car.toml", str(tmp_path / f"{turn}.sqlite")) as job:
            try:
                job.take_in(archive)
            except ArchiveError:
                assert everything(job) == ((), (), (), (), (), ())
            else:
                taken += 1
                assert everything(job) == wanted
    assert taken < 200, "most damage must be seen"
