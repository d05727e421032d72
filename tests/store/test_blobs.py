"""Photos and logs: kept once by their content, told by their first bytes, bound to a build or a record."""

from __future__ import annotations

import hashlib
import io
import random
import sqlite3
from pathlib import Path

import pytest

from boostwright.errors import HistoryError
from boostwright.store import open_job
from boostwright.store.blobs import LARGEST, PIECE, digest_of, kind_of_content
from tests.labels import check


@check(
    "published",
    source="fips180",
    note="the one-block example 'abc' and the empty message, from memory; exact",
)
@pytest.mark.parametrize(
    ("content", "digest"),
    [
        (b"abc", "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"),
        (b"", "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"),
    ],
)
def test_the_name_of_a_content_is_its_sha_256(content: bytes, digest: str) -> None:
    assert digest_of(content) == digest


@check("published", source="png2003", note="section 5.2, the eight bytes that begin every file; from memory")
def test_a_png_file_is_told_by_its_first_eight_bytes() -> None:
    assert kind_of_content(bytes([137, 80, 78, 71, 13, 10, 26, 10]) + b"....") == "image/png"


@pytest.mark.parametrize(
    ("content", "mime"),
    [
        (b"\xff\xd8\xff\xe1..", "image/jpeg"),
        (b"RIFF\x24\x00\x00\x00WEBPVP8 ", "image/webp"),
        (b"JUNK\x24\x00\x00\x00WEBPVP8 ", "application/octet-stream"),
        (b"\x00\x00\x00\x18ftypheic", "image/heic"),
        (b"\x00\x00\x00\x18ftypisom", "video/mp4"),
        (b"%PDF-1.7", "application/pdf"),
        (b"time,rpm\r\n0,900\n", "text/plain"),
        ("Öl, °C".encode(), "text/plain"),
        (("a" * 65535 + "ö").encode(), "text/plain"),
        (b"\xff\xfe\x00\x01", "application/octet-stream"),
        (b"abc\x00", "application/octet-stream"),
        (b"<script>", "text/plain"),
        (b"", "text/plain"),
    ],
)  # fmt: skip
def test_the_first_bytes_tell_what_it_is(content: bytes, mime: str) -> None:
    assert kind_of_content(content) == mime


def test_a_photo_comes_back_as_it_was_and_is_kept_once(tmp_path: Path, where: str) -> None:
    photo = b"\xff\xd8\xff" + bytes(range(256))
    with open_job(tmp_path / "car.toml", where) as job:
        one = job.attach(photo, "bore.jpg", record="r1", note="cylinder 1", who="Ada")
        assert (one.number, one.who, one.name, one.note, one.record, one.mime, one.size) == (
            1, "Ada", "bore.jpg", "cylinder 1", "r1", "image/jpeg", len(photo)
        )  # fmt: skip
        assert job.attach(photo, "bore.jpg", record="r1", note="cylinder 1") == one, "sent again"
        two = job.attach(photo, "bore.jpg", record="r2")
        assert (two.number, two.digest) == (2, hashlib.sha256(photo).hexdigest())
        assert job.content(two.digest) == photo
        assert job.attachments() == (one, two)
        with pytest.raises(HistoryError, match="nothing is kept"):
            job.content("0" * 64)


@pytest.mark.parametrize("size", [1, PIECE - 1, PIECE, PIECE + 1, 2 * PIECE + 77])
def test_it_is_copied_out_by_pieces(tmp_path: Path, where: str, size: int) -> None:
    content = random.Random(size).randbytes(size)
    told: list[tuple[int, int]] = []
    with open_job(tmp_path / "car.toml", where) as job:
        one = job.attach(content, "film.mp4")
        target = io.BytesIO()
        assert job.copy_content(one.digest, target, lambda done, whole: told.append((done, whole))) == size
        assert target.getvalue() == content
        assert told == [(min(size, (k + 1) * PIECE), size) for k in range(-(-size // PIECE))]
        with pytest.raises(HistoryError, match="nothing is kept"):
            job.copy_content("0" * 64, io.BytesIO())


def test_what_is_empty_or_too_large_is_refused(tmp_path: Path) -> None:
    with open_job(tmp_path / "car.toml") as job:
        with pytest.raises(HistoryError, match="is empty"):
            job.attach(b"", "none.jpg")
        with pytest.raises(HistoryError, match=r"67\.1 MB, and 67 MB at most"):
            job.attach(bytes(LARGEST + 1), "film.mp4")
        assert job.attachments() == ()


def test_a_content_that_was_changed_from_outside_is_said(tmp_path: Path) -> None:
    with open_job(tmp_path / "car.toml") as job:
        one = job.attach(b"a log", "log.csv")
        with sqlite3.connect(tmp_path / "car.history.sqlite") as store:
            store.execute("UPDATE blob SET content = ?", (b"a lie",))
        store.close()
        with pytest.raises(HistoryError, match="is not what was put there"):
            job.content(one.digest)
