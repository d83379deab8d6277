"""Who may do what: every rule has its row, and the table is obeyed whichever way a step comes."""

from __future__ import annotations

import importlib
import inspect
import pkgutil
from decimal import Decimal

import pytest
from aids.quick_shop import BOOK, START, QuickShop
from aids.shops import make_shop
from aids.store_steps import take_in

from shopboard import shop
from shopboard.records import Person, Refused, Role, Stage
from shopboard.shop import guards, roles
from shopboard.shop.intake import Intake, NewCustomer, NewMachine
from shopboard.shop.moves import moves

for _module in pkgutil.iter_modules(shop.__path__):
    importlib.import_module(f"shopboard.shop.{_module.name}")

#: Technician and counter, technician, counter, owner.
ANA, BO, CY, DEE = "ana", "bo", "cy", "dee"


def test_every_rule_has_its_row() -> None:
    assert guards.RULES - roles.MAY.keys() == set()


def test_every_row_is_a_rule_or_a_step_asked_about_by_name() -> None:
    others = {step for step in roles.MAY if step.partition(".")[0] in ("undo", "pins", "data")}
    assert roles.MAY.keys() - guards.RULES == others


def test_the_owner_may_do_everything() -> None:
    assert all(Role.OWNER in able for able in roles.MAY.values())


def _blank(rule: guards.Rule) -> dict[str, object]:
    """Something for every argument after the signer: the role is asked before any is looked at."""
    asked = list(inspect.signature(rule).parameters.values())[3:]
    return {given.name: None for given in asked if given.default is inspect.Parameter.empty}


@pytest.mark.parametrize("who", [BO, CY, DEE])
@pytest.mark.parametrize("name", sorted(guards.RULES))
def test_the_table_is_obeyed_by_every_rule(name: str, who: str) -> None:
    """A role that may not is refused before anything else is looked at; one that may is never refused for its role."""
    quick = QuickShop()
    module, _, function = name.partition(".")
    rule = getattr(importlib.import_module(f"shopboard.shop.{module}"), function)
    person = quick.state.settings.person(who)
    assert person is not None
    try:
        rule(quick.state, START, who, **_blank(rule))
    except Refused as refused:
        barred = refused.why.startswith("this is for ")
    except (TypeError, AttributeError, KeyError, ValueError):
        barred = False  # the rule itself was reached, with nothing to work on
    else:
        barred = False
    assert barred == (not roles.MAY[name] & set(person.roles))


def test_a_refusal_says_who_may_in_one_line() -> None:
    quick = QuickShop()
    quick.to(Stage.APPROVAL)
    with pytest.raises(Refused) as refused:
        shop.approval.give(quick.state, START, BO, 1, "the customer", "by phone")
    assert str(refused.value) == ("this is for the counter or the owner, and Bo is technician here: ask Ana, Cy or Dee")


def test_nobody_left_with_the_role_is_said_too() -> None:
    quick = QuickShop()
    quick.state.settings = guards.changed(quick.state.settings, people=(Person(id="bo", name="Bo", roles=()),))
    with pytest.raises(Refused, match=r"Bo is given no role in shop\.toml: nobody has that role"):
        roles.permit(quick.state.settings, "bo", "closing.collect")


def test_a_shop_that_names_nobody_allows_everything() -> None:
    quick = QuickShop()
    quick.state.settings = guards.changed(quick.state.settings, people=())
    for name in roles.MAY:
        roles.permit(quick.state.settings, "anybody", name)


def test_the_moves_of_a_job_say_what_is_not_for_ones_role() -> None:
    quick = QuickShop()
    quick.to(Stage.APPROVAL)
    seen = {who: {m.name: m.why_not for m in moves(quick.state, quick.job(), START, who)} for who in (BO, CY)}
    assert "is for the counter or the owner" in seen[BO]["approval.give"]
    assert seen[CY]["approval.give"] == "" == seen[BO]["approval.called"]


#: A day's work as each role obviously does it: who, which rule, what it is given.
_INTAKE = Intake(
    customer=NewCustomer(name="Farm"), machine=NewMachine(model="kestrel-20", serial="K1"), complaint="slow when warm"
)


def test_a_shop_of_one_role_each_gets_through_a_job() -> None:
    """Counter and technician, each in one role only, take a machine from the counter to collected."""
    quick = QuickShop()
    quick.do(shop.intake.take_in, _INTAKE, book=BOOK, by=CY)
    quick.do(shop.stages.diagnose, 1, by=BO)
    quick.do(shop.evidence.find, 1, "other", "belt worn", by=BO, book=BOOK)
    quick.do(shop.parts.need, 1, "B-1", "belt", 1, by=BO)
    quick.do(shop.approval.ask, 1, Decimal(120), by=CY)
    quick.do(shop.approval.give, 1, "the farmer", "by phone", by=CY)
    quick.do(shop.parts.order, (1,), "north", None, by=CY)
    quick.do(shop.parts.receive, 1, 1, by=BO)
    quick.do(shop.bays.put, 1, quick.state.settings.bays[0].id, by=BO)
    quick.do(shop.stages.start_repair, 1, by=BO)
    quick.do(shop.parts.fit, 1, by=BO)
    quick.do(shop.stages.finish_repair, 1, by=BO)
    quick.do(shop.stages.road_test, 1, True, True, True, "pulls well", by=BO)
    quick.do(shop.closing.collect, 1, Decimal(120), Decimal(120), by=CY)
    assert 1 in quick.state.closed


def test_a_change_of_somebody_else_is_taken_back_by_the_owner_only(tmp_path) -> None:
    store = make_shop(tmp_path / "shop")
    change = store.commit("ana", take_in("one"))
    with pytest.raises(Refused, match="this is for the owner, and Bo is technician here: ask Cy"):
        store.undo("bo", change.seq)
    with pytest.raises(Refused, match="nobody here signs as nobody-known"):
        store.undo("nobody-known", change.seq)
    assert store.undo("cy", change.seq).undoes == change.seq
    store.commit("bo", take_in("two"))
    store.undo("bo")
    store.close()
