"""What is kept of a build: its file's revisions, records, photos, fits.

Nothing that was kept is changed or lost.
"""

from boostwright.store.blobs import Attachment
from boostwright.store.documents import Document, FileRevision, Noted
from boostwright.store.history import History, Revision
from boostwright.store.job import Job, open_job

__all__ = ["Attachment", "Document", "FileRevision", "History", "Job", "Noted", "Revision", "open_job"]
