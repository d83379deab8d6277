"""The tag: what hangs on the machine."""

from __future__ import annotations

from shopboard.records import Table
from shopboard.records.codes import code_for

from .blocks import Label
from .desk import Desk


def tag_label(desk: Desk, number: int) -> Label:
    """The tag of a job. Its code is digits only, so that no scan can press a key; the tag stands beside it in words."""
    job, _ = desk.job(number)
    customer = desk.customer(job)
    promise = f"promised {desk.time(job.promise)}" if job.promise else "no date promised"
    keys = f"keys: {job.keys}" if job.keys.strip() else ""
    left = f"with it: {job.attachments}" if job.attachments.strip() else ""
    return Label(
        title=job.tag,
        code=code_for(Table.JOBS, job.id),
        lines=(
            ("machine", desk.machine_words(job)),
            ("customer", ", ".join(filter(None, (customer.name, customer.phone)))),
            ("promised", promise),
            ("keys", keys),
            ("with it", left),
            ("old parts", "keep the old parts" if job.keep_old_parts else ""),
            ("complaint", job.complaint),
        ),
        head=desk.state.settings.name,
    )
