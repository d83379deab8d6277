"""What the last missing part sets free."""

from __future__ import annotations

from datetime import datetime

from shopboard.records import Job, PartLine, Record, ShopState, Stage

from .guards import OUTSTANDING, moved, outstanding


def freed(state: ShopState, job: Job | None, line: PartLine, now: datetime) -> tuple[tuple[Record, ...], str]:
    """What to keep after the line changed: with it the job, if that was the last part it waited for; and the words."""
    if job is None or job.stage is not Stage.PARTS or line.state in OUTSTANDING:
        return (line,), ""
    if any(other.id != line.id for other in outstanding(state, job)):
        return (line,), ""
    return (line, moved(job, Stage.READY, now)), f"; no part is missing any more, {job.tag} is ready for a bay"
