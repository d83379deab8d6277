"""What the system says of a disk, in words a person can act on."""

from __future__ import annotations

import errno

_SAID = {
    errno.ENOSPC: "the disk is full",
    errno.EDQUOT: "the space allowed for this user is used up",
    errno.EIO: "the disk reports an error",
    errno.EROFS: "the folder cannot be written",
    errno.EACCES: "the folder cannot be written",
    errno.EPERM: "the folder cannot be written",
}

_MEND = {
    errno.ENOSPC: "free some space and do it again",
    errno.EDQUOT: "free some space and do it again",
    errno.EIO: "look after the disk and the backup before anything else",
}


def said(error: OSError) -> str:
    """What went wrong, in plain words."""
    return _SAID.get(error.errno or 0) or (error.strerror or str(error)).lower()


def mend(error: OSError) -> str:
    """What would do."""
    return _MEND.get(error.errno or 0, "do it again when that is put right")
