"""What was here before: summaries of closed jobs, the visits of a machine, and whether it came back soon."""

from __future__ import annotations

from datetime import datetime, timedelta

from shopboard.records import ClosedJob, Job, Refused, ShopState, Stage, tag


def visits(state: ShopState, machine_id: int) -> tuple[ClosedJob, ...]:
    """The closed jobs of a machine, in the order they were closed."""
    found = (job for job in state.closed.values() if job.machine == machine_id)
    return tuple(sorted(found, key=lambda job: (job.closed_at, job.id)))


def here(state: ShopState, machine_id: int) -> Job | None:
    """The job for which the machine stands here now: an open one, or a declined one it has not left after."""
    return next(
        (
            job
            for job in state.jobs.values()
            if job.machine == machine_id and (not job.stage.closed or (job.stage is Stage.DECLINED and not job.left))
        ),
        None,
    )


def last_tag(state: ShopState, machine_id: int) -> str:
    """The tag the machine wears, or wore last; "" if it was never here."""
    standing = here(state, machine_id)
    if standing is not None:
        return standing.tag
    before = visits(state, machine_id)
    return tag(before[-1].id) if before else ""


def recent_job(state: ShopState, machine_id: int, now: datetime) -> ClosedJob | None:
    """The machine's last repair, if it was collected at most the settings' `comeback_days` ago.

    A declined job was no repair, so nothing can come back from it.
    """
    repairs = [job for job in visits(state, machine_id) if job.stage is Stage.COLLECTED]
    within = timedelta(days=state.settings.comeback_days)
    return repairs[-1] if repairs and now - repairs[-1].closed_at <= within else None


def any_job(state: ShopState, job_id: int) -> Job:
    """The job with this number, open or closed; refused if there never was one."""
    job = state.jobs.get(job_id)
    if job is not None:
        return job
    filed = state.load_closed(job_id)
    if filed is None:
        raise Refused(f"there is no {tag(job_id)} here", "look at the tag again")
    return filed[0]
