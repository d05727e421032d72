"""The command line. One command reads its arguments, calls one verb and prints one view.

Exit codes: 0 nothing breaks and nothing is unknown; 1 something breaks; 2 the command or a file cannot be
used; 3 nothing breaks, but something is unknown; 4 the program itself went wrong; 130 stopped by you; 141
nobody reads the output any more.
"""

from __future__ import annotations

from boostwright.cli.door import main

__all__ = ["main"]
