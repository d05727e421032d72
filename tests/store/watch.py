"""Waits until whoever started it has gone, however that came about, and then stops the server and clears its
folder: `python watch.py PERSON FOLDER COMMAND...`, with a pipe as standard input that only the starter holds
open.
"""

from __future__ import annotations

import shutil
import subprocess
import sys

if __name__ == "__main__":
    person, folder, *stop = sys.argv[1:]
    sys.stdin.read()  # ends when the last one that holds the other end is gone, be it by kill -9
    subprocess.run(
        stop, user=person or None, cwd="/", stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL, timeout=60, check=False,
    )  # fmt: skip
    shutil.rmtree(folder, ignore_errors=True)
