"""How the kernels are compiled, and where the compiled code is kept.

`inner` is for rate equations, inlined into the loops around them; `outer` for those loops. Arithmetic may be
reordered and contracted (nsz, arcp, contract), but NaN and infinity keep their meaning: a division by zero
gives infinity, which the checks in `cycle.hand_on` catch. Python's own division checks are off
(error_model).

Compiled code lives in a user folder named after the sources and the versions it was made from: Numba itself
does not notice when a kernel that another one calls has changed.
"""

from __future__ import annotations

import hashlib
import os
import platform
import sys
import tempfile
from functools import partial
from pathlib import Path

import numba as nb
from numba.core import config

__all__ = ["cache_folder", "chain", "inner", "lane", "outer", "vector"]


def cache_folder() -> Path:
    """Where compiled kernels of exactly these sources are kept."""
    text = hashlib.sha256()
    for source in sorted(Path(__file__).parent.glob("*.py")):
        text.update(source.name.encode() + source.read_bytes())
    for part in (nb.__version__, sys.version, platform.machine(), platform.processor()):
        text.update(part.encode())
    base = os.environ.get("XDG_CACHE_HOME")
    home = Path(base) if base else Path("~/.cache").expanduser()
    return home / "boostwright" / f"kernels-{text.hexdigest()[:16]}"


def _choose_folder() -> str:
    """The user's cache folder, or a temporary one where the home cannot be written."""
    folder = cache_folder()
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError:
        return str(Path(tempfile.gettempdir()) / f"boostwright-{os.getuid()}" / folder.name)
    return str(folder)


if "NUMBA_CACHE_DIR" not in os.environ:
    config.CACHE_DIR = _choose_folder()  # type: ignore[attr-defined]

_ARITHMETIC = {"nsz", "arcp", "contract"}
inner = partial(nb.njit, cache=True, error_model="numpy", fastmath=_ARITHMETIC, forceinline=True)
outer = partial(nb.njit, cache=True, error_model="numpy", fastmath=_ARITHMETIC, nogil=True)
# A lane's answer must not depend on whether it runs by itself or in a row. Whether a product and a sum are
# contracted hangs on how the compiler lays out a choice, which differs between the two; so contraction is
# left to the polynomials, where nothing is chosen.
_LANES = {"nsz", "nnan", "ninf"}
lane = partial(nb.njit, cache=True, error_model="numpy", fastmath=_LANES, forceinline=True)
chain = partial(nb.njit, cache=True, error_model="numpy", fastmath={*_LANES, "contract"}, forceinline=True)
vector = partial(nb.njit, cache=True, error_model="numpy", fastmath=_LANES, nogil=True)
