"""A made-up car on a made-up road: recorded drives with planted events and an exact key.

It stands apart from the package on purpose: it borrows only the reader of build files, so that what reviews a
drive is never judged by its own models. See README.md beside this file.
"""

from tools.drives.frozen import drop_stale_code

drop_stale_code()
