"""Revisions of a build, kept beside its file: nothing that was kept is ever changed or lost."""

from boostwright.store.history import History, Revision

__all__ = ["History", "Revision"]
