"""The commands, one file each. Importing them reads no model and no table."""

from __future__ import annotations

from boostwright.cli.commands import (
    check,
    demo,
    explain,
    fit,
    history,
    ladder,
    leak,
    new,
    parts,
    plan,
    record,
    review,
    schema,
    tables,
    torque,
    warm_up,
)
from boostwright.cli.commands.command import Command, version_line

__all__ = ["COMMANDS", "Command", "version_line"]

COMMANDS: tuple[Command, ...] = (
    new.COMMAND,
    explain.COMMAND,
    fit.COMMAND,
    check.COMMAND,
    leak.COMMAND,
    torque.COMMAND,
    plan.COMMAND,
    history.COMMAND,
    parts.COMMAND,
    record.COMMAND,
    ladder.COMMAND,
    review.COMMAND,
    tables.COMMAND,
    demo.COMMAND,
    warm_up.COMMAND,
    schema.COMMAND,
)
