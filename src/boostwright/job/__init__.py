"""What people did, read and decided on a job, as plain records.

The store keeps them, the planning judges them; neither changes one. To take a record back is a record too.
"""

from boostwright.job.records import (
    KINDS,
    Override,
    PartEvent,
    Reading,
    Record,
    Step,
    TaskEvent,
    Withdrawal,
    from_plain,
    new_id,
    now,
    standing,
    to_plain,
)

__all__ = [
    "KINDS",
    "Override",
    "PartEvent",
    "Reading",
    "Record",
    "Step",
    "TaskEvent",
    "Withdrawal",
    "from_plain",
    "new_id",
    "now",
    "standing",
    "to_plain",
]
