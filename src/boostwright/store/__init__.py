"""What is kept of a build: its file's revisions, records, photos, fits.

Nothing that was kept is changed or lost. Importing this loads no database: each name is fetched when it is
first used.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from boostwright.store.blobs import Attachment
    from boostwright.store.documents import Document, FileRevision, Noted
    from boostwright.store.history import History, Revision
    from boostwright.store.job import Job, open_job

__all__ = ["Attachment", "Document", "FileRevision", "History", "Job", "Noted", "Revision", "open_job"]

_HOME = {
    "Attachment": "boostwright.store.blobs",
    "Document": "boostwright.store.documents",
    "FileRevision": "boostwright.store.documents",
    "History": "boostwright.store.history",
    "Job": "boostwright.store.job",
    "Noted": "boostwright.store.documents",
    "Revision": "boostwright.store.kept",
    "open_job": "boostwright.store.job",
}


def __getattr__(name: str) -> Any:
    home = _HOME.get(name)
    if home is None:
        raise AttributeError(f"module 'boostwright.store' has no attribute {name!r}")
    value = getattr(import_module(home), name)
    globals()[name] = value
    return value
