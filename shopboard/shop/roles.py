"""Who may do what: the one table of rules and roles, and the one question every rule asks before it runs.

A shop that has named no people allows everything. Whoever stands in shop.toml may do what any of their roles may; the
owner may do everything. A rule of the shop is asked about by the frame of `@rule`, a step that is no rule of a job
(undoing for somebody else, taking a PIN away) by whoever takes it.
"""

from __future__ import annotations

from collections.abc import Mapping

from shopboard.records import Person, Refused, Role, Settings

ALL = frozenset(Role)
#: At the counter: what is agreed with customers and suppliers, and money.
COUNTER = frozenset({Role.COUNTER, Role.OWNER})
#: With a wrench in the hand: what is signed for as done, proved or safe.
BENCH = frozenset({Role.TECHNICIAN, Role.OWNER})
#: What reaches across the whole shop or into its past.
OWNER = frozenset({Role.OWNER})

#: Rule by module and name, and the roles that may take the step.
MAY: Mapping[str, frozenset[Role]] = {
    "intake.take_in": ALL,
    "evidence.tick": ALL,
    "evidence.answer": ALL,
    "evidence.withdraw": ALL,
    "evidence.read": ALL,
    "evidence.measured": ALL,
    "evidence.remark": ALL,
    "evidence.find": BENCH,
    "evidence.unfind": BENCH,
    "evidence.confirm": BENCH,
    "stages.diagnose": ALL,
    "stages.start_repair": ALL,
    "stages.wait_for_parts": ALL,
    "stages.spend": ALL,
    "stages.work_done": BENCH,
    "stages.cover_off": BENCH,
    "stages.cover_on": BENCH,
    "stages.finish_repair": BENCH,
    "stages.road_test": BENCH,
    "bays.put": ALL,
    "bays.leave": ALL,
    "bays.swap": ALL,
    "parts.need": ALL,
    "parts.order": COUNTER,
    "parts.back_order": ALL,
    "parts.receive": ALL,
    "parts.fit": BENCH,
    "parts.send_back": ALL,
    "parts.split": COUNTER,
    "kits.find": BENCH,
    "kits.ask": ALL,
    "stock.lay": ALL,
    "stock.count": ALL,
    "stock.reserve": ALL,
    "stock.release": ALL,
    "stock.take": ALL,
    "stock.put_away": ALL,
    "returns.send": ALL,
    "returns.credit": COUNTER,
    "terms.pays": COUNTER,
    "terms.keep_old_parts": ALL,
    "terms.worth": ALL,
    "while_open.add": ALL,
    "while_open.drop": ALL,
    "approval.ask": ALL,
    "approval.called": ALL,
    "approval.give": COUNTER,
    "approval.decline": COUNTER,
    "take.take": BENCH,
    "choices.choose": ALL,
    "choices.let_go": ALL,
    "choices.not_this": BENCH,
    "closures.away": ALL,
    "closures.down": ALL,
    "closures.closed": COUNTER,
    "closures.end": ALL,
    "dates.promise": ALL,
    "dates.rush": ALL,
    "closing.collect": COUNTER,
    "closing.machine_left": COUNTER,
    # steps that are no rule of a job
    "undo.of_others": OWNER,
    "pins.of_others": OWNER,
    "data.take_in": COUNTER,
    "data.erase": OWNER,
}


def permit(settings: Settings, by: str, step: str) -> None:
    """Refuses, saying who may, a step that is not for any role of whoever signs.

    A step without a row is the owner's alone: what nobody thought about is not given to everybody.
    """
    why, who = barred(settings, by, step)
    if why:
        raise Refused(why, who)


def barred(settings: Settings, by: str, step: str) -> tuple[str, str]:
    """Why whoever signs may not take the step, and who may; two empty texts when they may."""
    person = settings.person(by)
    roles = MAY.get(step, OWNER)
    if person is None:
        known = bool(by) and bool(settings.people)
        return (f"nobody here signs as {by}", "add them to shop.toml") if known else ("", "")
    if roles & set(person.roles):
        return "", ""
    return f"this is for {_roles(roles)}, and {person.name} is {_own(person)}", _who(settings, roles)


def _roles(roles: frozenset[Role]) -> str:
    return " or ".join(f"the {role}" for role in Role if role in roles)


def _own(person: Person) -> str:
    return f"{' and '.join(person.roles)} here" if person.roles else "given no role in shop.toml"


def _who(settings: Settings, roles: frozenset[Role]) -> str:
    able = [person.name for person in settings.people if roles & set(person.roles)]
    if not able:
        return "nobody has that role: give it to somebody in shop.toml"
    return f"ask {', '.join(able[:-1])}{' or ' if able[:-1] else ''}{able[-1]}"
