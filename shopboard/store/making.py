"""A step made into a change and its journal line: the same for every engine."""

from __future__ import annotations

from datetime import datetime

from shopboard.records import FORMAT, Change, FieldError, Refused, ShopState, Step, Table

from .journal import line_of
from .protocol import CommitFailed
from .replay import operations


def make_change(state: ShopState, by: str, now: datetime, step: Step, undoes: int | None) -> tuple[Change, bytes]:
    """The next change of `state` with this step, and its line. Raises CommitFailed where it could not be read back,
    Refused where a rule allowed it to somebody else."""
    if step.by and step.by != by:
        raise Refused(f"this step was allowed to {step.by}, not to {by}", "sign it as the one who takes it")
    try:
        change = Change(
            seq=state.seq + 1,
            at=now,
            by=by,
            why=step.why,
            ops=operations(step, state),
            subject=step.subject,
            undoes=undoes,
            format=FORMAT,
        )
        return change, line_of(change)
    except UnicodeEncodeError:
        raise CommitFailed("the text holds half a character, which cannot be kept", "type it again") from None
    except FieldError as error:
        raise CommitFailed(f"the step would keep what cannot be read back ({error})") from None


def concerns(change: Change, job: int) -> bool:
    """Whether the change is about a job or touches its record."""
    return change.subject == job or any(op.table is Table.JOBS and op.id == job for op in change.ops)
