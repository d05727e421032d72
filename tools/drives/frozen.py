"""The hash of the simulator's sources: `FROZEN` holds it, a test compares it, and compiled code obeys it.

python -c "from tools.drives.frozen import source_hash; print(source_hash())"
"""

from __future__ import annotations

import hashlib
from pathlib import Path

HERE = Path(__file__).parent
RECORD = HERE / "FROZEN"


def source_hash() -> str:
    """SHA-256 over names and contents of the sources, in the order of their names."""
    digest = hashlib.sha256()
    for path in sorted(HERE.glob("*.py")):
        digest.update(path.name.encode() + b"\0" + path.read_bytes() + b"\0")
    return digest.hexdigest()


def drop_stale_code() -> None:
    """Delete compiled code of other sources: the compiler's own cache looks at one file at a time."""
    store = HERE / "__pycache__"
    stamp = store / "drives.stamp"
    now = source_hash()
    try:
        if stamp.exists() and stamp.read_text() == now:
            return
        store.mkdir(exist_ok=True)
        for old in (*store.glob("*.nbi"), *store.glob("*.nbc")):
            old.unlink(missing_ok=True)
        stamp.write_text(now)
    except OSError:  # a read-only tree compiles elsewhere or not at all
        return
