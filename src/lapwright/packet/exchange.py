"""Two folders change names in one step.

Moving the old packet away and the new one in takes two steps, and a program killed between them leaves no packet.
Linux has one call for both; Python's library does not offer it.
"""

from __future__ import annotations

import ctypes
import errno
import os
from pathlib import Path

AT_FDCWD = -100  # paths count from the working folder: linux/fcntl.h
RENAME_EXCHANGE = 2  # linux/fs.h
CANNOT = (errno.ENOSYS, errno.EINVAL, errno.ENOTSUP, errno.EPERM)  # this kernel or file system does not know it


def exchange(one: Path, two: Path) -> bool:
    """Let two folders on one file system change names; return False where the system cannot.

    Both must exist. Raises OSError when it can but may not, say because a folder is busy. Source: renameat2(2).
    """
    try:
        call = ctypes.CDLL(None, use_errno=True).renameat2
    except (AttributeError, OSError, TypeError):  # another system, or a C library without it
        return False
    if call(AT_FDCWD, os.fsencode(one), AT_FDCWD, os.fsencode(two), RENAME_EXCHANGE) == 0:
        return True
    code = ctypes.get_errno()
    if code in CANNOT:
        return False
    raise OSError(code, os.strerror(code), str(two))
