"""The receipt handed out with the machine: what was wrong, what was done, and how it was paid."""

from __future__ import annotations

from shopboard.records import Job, PartState, Refused

from .blocks import Block, Column, Facts, Heading, Sheet, Sign, Words, table
from .desk import Desk


def receipt(desk: Desk, number: int) -> Sheet:
    """The receipt of a collected job. Raises Refused for one that is not collected."""
    job, parts = desk.job(number)
    paid = job.settlement
    if paid is None:
        raise Refused(f"{job.tag} is {job.stage}", "a receipt is printed when it is collected")
    done = [Words(f"– {operation.name}") for operation in job.operations if operation.done]
    fitted = [(f"{line.quantity}", line.name, line.number) for line in parts if line.state is PartState.FITTED]
    blocks: list[Block] = [Facts((*desk.facts(job)[:3], ("collected", desk.time(paid.at))))]
    blocks += [Heading("Complaint"), Words(job.complaint)]
    if job.findings:
        blocks += [Heading("Cause"), *(Words(desk.cause(finding)) for finding in job.findings)]
    if done:
        blocks += [Heading("Done"), *done]
    if fitted:
        blocks.append(Heading("Parts fitted"))
        blocks.append(table((Column("", 0.6, right=True), Column("part", 7), Column("number", 5)), *fitted))
    if job.road_test:
        words = "passed; interlocks and brake proved" if _proved(job) else "see the work order"
        blocks.append(Words(f"Road test: {words}."))
    balance = paid.total - paid.paid
    blocks += [
        Heading("Sum"),
        Facts(
            (
                ("total", f"{desk.money(paid.total)}, tax with it"),
                ("paid", desk.money(paid.paid)),
                ("still to pay", desk.money(balance) if balance else ""),
                ("released on word of", paid.released_on_word_of),
            )
        ),
        desk.terms(),
        Sign((f"for {desk.state.settings.name}", "received, name and date")),
    ]
    return Sheet(f"Receipt {job.tag}", desk.state.settings.name, desk.foot(job), tuple(blocks))


def _proved(job: Job) -> bool:
    test = job.road_test
    return test is not None and test.passed and test.interlocks_proved and test.brake_proved
