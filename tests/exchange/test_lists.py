"""Each kind of list laid over a shop: who is known, what is filled in, what is told, what is turned away and why."""

from __future__ import annotations

import csv
from datetime import date
from decimal import Decimal
from zoneinfo import ZoneInfo

import msgspec
import pytest
from aids.shops import MORNING

from shopboard.records import Customer, Duty, HourReading, Layout, Machine, Stage, Step, Stock
from shopboard.store import open_shop, verify

ZONE = ZoneInfo("Europe/Berlin")


@pytest.fixture
def bring(run, tmp_path, shop):
    """Take in a list of this kind with these lines; what came of it. More arguments as the command takes them."""

    def take(kind, *lines, more=(), name="list.csv"):
        (tmp_path / name).write_text("\n".join(lines) + "\n", encoding="utf-8")
        done = run("import", kind, tmp_path / name, "--as", "cy", "--yes", "--json", *more)
        assert (done.code, done.err) == (0, ""), done.err
        return msgspec.json.decode(done.out)

    return take


@pytest.fixture
def kept(shop):
    """What the shop holds now."""

    def state(*records):
        store = open_shop(shop, clock=lambda: MORNING)
        if records:
            store.commit("cy", lambda state, now: Step("there", records))
        store.close()
        assert verify(shop) == ()
        return open_shop(shop).state

    return state


def _counts(told):
    return told["added"], told["filled"], told["known"], told["rejected"]


# -- customers --------------------------------------------------------------------------------------------------------

HILL = Customer(id=1, name="Hill Vineyard", phone="+43 660 123456", note="ring first")


@pytest.mark.parametrize(
    ("row", "counts", "said"),
    [
        ("Hill Vineyard,0043 660 1,,", (1, 0, 0, 0), "kept apart from customer 1 of the same name"),
        ("hill  VINEYARD,+43660/123456,,", (0, 0, 1, 0), ""),
        ("Vineyard Hill,43 660 123456,Weg 1,", (0, 1, 0, 0), "“Vineyard Hill” is taken for Hill Vineyard"),
        ("Hill Vineyard,,Weg 1,", (0, 1, 0, 0), ""),
        (
            "Hill Vineyard,,,call late",
            (0, 0, 1, 0),
            "Hill Vineyard keeps the note “ring first”; the row says “call late”",
        ),
        ("Lake Golf,43660123456,,", (0, 0, 0, 1), "the number 43660123456 is Hill Vineyard's (customer 1)"),
        ("Lake Golf,1234,,", (1, 0, 0, 0), ""),
        (",555 0123,,", (0, 0, 0, 1), "name is blank"),
    ],
)
def test_whom_a_row_speaks_of(bring, kept, row, counts, said):
    kept(HILL)
    told = bring("customers", "Name,Phone,Address,Note", row)
    assert _counts(told) == counts
    assert said in " ".join(one["text"] for one in (*told["notes"], *told["reasons"]))
    after = kept()
    assert after.customers[1].note == "ring first" and after.customers[1].phone == HILL.phone
    assert len(after.customers) == 1 + counts[0]


def test_a_name_that_may_be_two_is_asked_for_its_number(bring, kept):
    kept(HILL, msgspec.structs.replace(HILL, id=2, phone="555 77"))
    told = bring("customers", "Name,Phone", "Hill Vineyard,")
    assert told["reasons"] == [
        {"row": 2, "text": "Hill Vineyard may be customer 1 and customer 2: add the telephone number"}
    ]


def test_addresses_in_pieces_and_names_in_two(bring, kept):
    bring("customers", "First name,Last name,Street,Zip,City,Remarks,Comment", "Pat,Farrow,Weg 1,8010,Graz,one,two")
    (customer,) = kept().customers.values()
    assert (customer.name, customer.address, customer.note) == ("Pat Farrow", "Weg 1, 8010, Graz", "one\ntwo")


def test_defused_text_comes_back_as_it_was_typed(bring, kept):
    bring("customers", "Name,Phone", "'=HILL(),'+43 660 123456", "'tis Farm,555 01 23")
    assert {(one.name, one.phone) for one in kept().customers.values()} == {
        ("=HILL()", "+43 660 123456"),
        ("'tis Farm", "555 01 23"),
    }


# -- machines ---------------------------------------------------------------------------------------------------------


def test_a_machine_with_all_that_is_known_of_it(bring, kept):
    kept(HILL)
    rows = (
        "Hill Vineyard,IN-LINE 1,S-1,1412 h,2024-05-03,2019-01-02,yes,x,9000,loader",
        "Hill Vineyard,Fifth Wheel,S-2,,,,no,,,",
    )
    head = "Owner,Model,Serial,Hours,Date read,First seen,Used,Severe duty,Value,Note,Layout"
    told = bring("machines", head, f"{rows[0]},", f"{rows[1]},split")
    assert _counts(told) == (2, 0, 0, 0)
    first, second = kept().machines.values()
    at = first.readings[0].at.astimezone(ZONE)
    assert (first.model, first.layout, first.duty, first.unlisted) == ("in-line-1", Layout.IN_LINE, Duty.SEVERE, False)
    assert (first.meter(), at.date(), first.first_seen_used) == (1412, date(2024, 5, 3), True)
    assert first.first_seen.astimezone(ZONE).date() == date(2019, 1, 2) and (first.value, first.note) == (
        "9000",
        "loader",
    )
    assert (second.model, second.layout, second.unlisted) == ("Fifth Wheel", Layout.SPLIT, True)


@pytest.mark.parametrize(
    ("row", "why"),
    [
        ("Lake Golf,in-line-1,S-9,,", "there is no customer Lake Golf here: import customers first"),
        ("Hill Vineyard,inline 2,S-9,,", "there is no model “inline 2” in models.toml; did you mean"),
        ("Hill Vineyard,in-line-1,S-1,1300,2026-05-01", "1300 h cannot be: the meter showed 1400 h on 1 March 2026"),
        (
            "Hill Vineyard,in-line-1,S-1,1500,2026-03-02",
            "1500 h cannot be: that is 100 h more than 1400 h on 1 March 2026",
        ),
        (
            "Hill Vineyard,in-line-1,S-1,1500,2025-03-02",
            "1500 h cannot be: later the meter showed 1400 h on 1 March 2026",
        ),
        ("Hill Vineyard,in-line-1,S-1,70000,2026-05-02", "70000 h is more than any machine has run"),
        ("Hill Vineyard,in-line-1,S-1,12,2027-01-01", "Date read: 1 January 2027 is still to come"),
        ("Hill Vineyard,in-line-1,S-1,many,2026-05-01", "Hours: “many” is no number"),
        (",in-line-1,S-1,,", "the customer's name is blank"),
    ],
)
def test_a_machine_that_cannot_be_taken(bring, kept, row, why):
    seen = HourReading(at=MORNING.replace(month=3, day=1), hours=1400)
    kept(HILL, Machine(id=1, customer=1, model="in-line-1", serial="S-1", layout=Layout.IN_LINE, readings=(seen,)))
    told = bring("machines", "Owner,Model,Serial,Hours,Date read", row)
    assert _counts(told) == (0, 0, 0, 1) and told["reasons"][0]["text"].startswith(why)
    assert told["change"] == 0 and kept().machines[1].readings == (seen,)


# -- past jobs --------------------------------------------------------------------------------------------------------

JOBS = "Date in,Date out,Customer,Serial,Hours,Complaint,Cause,Correction,Labor hours,Total,Ticket,Status"


@pytest.fixture
def garage(kept):
    kept(HILL, Machine(id=1, customer=1, model="in-line-1", serial="S-1", layout=Layout.IN_LINE))


def test_a_past_job_becomes_a_closed_one_that_the_memory_counts(bring, kept, garage):
    rows = (
        "2024-05-03,2024-05-06,Hill Vineyard,S-1,1412,slow,Pump pistons and bores WORN,new pump,1.5,$310.50,A-17,done",
        "2025-05-03,2025-05-06,Hill Vineyard,,1812,clunks,joint gone,,,,,",
        "2025-06-03,2025-06-06,,s-1,,wanted a price,,,,,,declined",
    )
    told = bring("past-jobs", JOBS, *rows)
    assert _counts(told) == (3, 0, 0, 0)
    texts = [note["text"] for note in told["notes"]]
    assert texts[0].startswith(
        "“Pump pistons and bores WORN” counts as pump pistons and bores worn (pump-worn) in 1 job"
    )
    assert texts[1] == "1 cause not for certain one of the book's: kept as written"
    state = kept()
    first, second, third = (state.load_closed(id)[0] for id in (1, 2, 3))
    finding = first.findings[0]
    assert (finding.cause, finding.confirmed, finding.correction) == ("pump-worn", True, "new pump")
    assert first.spent[0].minutes == 90 and first.settlement.total == Decimal("310.50") and first.settlement.by == "cy"
    assert first.notes[0].text == "number A-17 in the earlier records" and first.stage is Stage.COLLECTED
    assert [(r.hours, r.at.astimezone(ZONE).date()) for r in state.machines[1].readings] == [
        (1412, date(2024, 5, 3)),
        (1812, date(2025, 5, 3)),
    ]
    assert (second.findings[0].cause, second.findings[0].text, second.findings[0].confirmed) == (
        "other",
        "joint gone",
        False,
    )
    assert third.stage is Stage.DECLINED and state.closed[1].causes == ("pump-worn",) and not state.jobs


def test_the_same_list_twice_is_known_the_second_time(bring, kept, garage):
    row = "2024-05-03,2024-05-06,Hill Vineyard,S-1,1412,slow uphill,,,,,,"
    assert _counts(bring("past-jobs", JOBS, row, row)) == (1, 0, 1, 0)
    assert _counts(bring("past-jobs", JOBS, row)) == (0, 0, 1, 0)
    assert len(kept().closed) == 1


@pytest.mark.parametrize(
    ("row", "why"),
    [
        (
            ",2024-05-06,Hill Vineyard,S-9,,slow,,,,,,",
            "there is no machine with serial S-9 here: import machines first",
        ),
        (",2024-05-06,,,,slow,,,,,,", "neither serial number nor customer tells which machine it was"),
        ("2024-05-07,2024-05-06,,S-1,,slow,,,,,,", "it was closed before it came"),
        (",2024-05-06,,S-1,,,,,,,,", "complaint is blank"),
        (",,,S-1,,slow,,,,,,", "closed on is blank"),
        (",2024-05-06,,S-1,,slow,,,,12.345,,", "12.345 is no sum of this shop's money"),
        (",2024-05-06,,S-1,,slow,,,9999,,,", "599940 minutes of work cannot be"),
        (",2024-05-06,,S-1,,slow,,,,,,in repair", "“in repair” is no end of a job: write collected or declined"),
    ],
)
def test_a_past_job_that_cannot_be_taken(bring, kept, garage, row, why):
    told = bring("past-jobs", JOBS, row, more=("--decimal", "point"))
    assert _counts(told) == (0, 0, 0, 1) and why in told["reasons"][0]["text"]


@pytest.mark.parametrize(
    ("text", "cause"),
    [
        ("pump-worn", "pump-worn"),
        ("worn bores and pump pistons", "pump-worn"),
        ("pump", None),
        ("joint dry or worn", None),
    ],
)
def test_a_cause_counts_only_where_no_other_can_be_meant(text, cause):
    from aids.boards import shipped

    from shopboard.exchange.causes import Causes

    assert Causes(shipped()).of(text, "in-line") == cause
    assert Causes(shipped()).of("wheel motor worn", "in-line") is None  # no such part on that layout


# -- bins and prices --------------------------------------------------------------------------------------------------


def test_what_lies_in_the_bins(bring, kept):
    kept(Stock(id=1, number="S-77", name="seal kit", bin="A-3", quantity=4))
    told = bring(
        "parts",
        "Part No,Description,Bin,Qty",
        "s-77,seal kit,a-3,4",
        "S-77,seal kit,B-1,2",
        "S-77,seal kit,A-3,9",
        "X-1,,,1",
        "X-2,filter,,1.5",
    )
    assert _counts(told) == (1, 0, 1, 3)
    reasons = [one["text"] for one in told["reasons"]]
    assert reasons[0] == "bin A-3 holds 4 × S-77 here: count it on the board" and "name is blank" in reasons[1]
    assert reasons[2] == "1.5 pieces cannot be counted"
    assert [(one.bin, one.quantity, one.counted_by) for one in kept().stock.values()] == [
        ("A-3", 4, ""),
        ("B-1", 2, "cy"),
    ]


PARTS = """# Our parts, by hand
[[part]]
number = "S-77"   # pump
name = "seal kit"
price = 41.50     # last spring
models = ["in-line-1"]

# the next one has no price yet
[[part]]
name = "filter"
number = "F-1"
supplier = "seal"
"""


def test_prices_change_their_lines_and_nothing_else(bring, shop):
    (shop / "parts.toml").write_text(PARTS)
    told = bring("prices", "Part,Price,Core charge", "s-77,$44.00,", "F-1,9.90,2.00", "NEW-1,5,")
    assert _counts(told) == (0, 2, 0, 1) and "repeat with --add" in told["reasons"][0]["text"]
    wanted = PARTS.replace("price = 41.50 ", 'price = "44.00" ').replace(
        'number = "F-1"\n', 'number = "F-1"\ncore_charge = "2.00"\nprice = "9.90"\n'
    )
    assert sorted((shop / "parts.toml").read_text().splitlines()) == sorted(wanted.splitlines())
    assert (shop / "parts.toml.old").read_text() == PARTS
    parts = open_shop(shop).state.catalogue
    assert (parts["S-77"].price, parts["F-1"].price, parts["F-1"].core_charge) == (44, Decimal("9.90"), 2)
    assert _counts(bring("prices", "Part,Price", "S-77,44", "F-1,9.90")) == (0, 0, 2, 0)


def test_new_numbers_come_in_when_asked_for(bring, shop):
    told = bring(
        "prices",
        "Item,Description,Price,Supplier",
        'N-1,"odd ""name\\",5,Seal House',
        "N-2,x,5,nobody",
        more=("--add",),
    )
    assert _counts(told) == (1, 0, 0, 1)
    part = open_shop(shop).state.catalogue["N-1"]
    assert (part.name, part.price, part.supplier) == ('odd "name\\', 5, "seal")


def test_a_file_written_in_a_way_of_its_own_is_left_alone(run, shop, tmp_path):
    (shop / "parts.toml").write_text('part = [{ number = "S-77", name = "seal kit" }]\n')
    (tmp_path / "p.csv").write_text("Part,Price\nS-77,44\n")
    done = run("import", "prices", tmp_path / "p.csv", "--as", "cy", "--yes", "--json")
    assert (
        done.complained(2) == "parts.toml is written in a way that only a person can change: write the prices by hand"
    )
    assert (shop / "parts.toml").read_text().startswith("part = [")


# -- the command ------------------------------------------------------------------------------------------------------


def test_rejects_are_put_right_and_brought_in_from_their_file(bring, kept, tmp_path, run):
    told = bring("customers", "Name,Phone", ",555 01 23", "Lake,555 01 24")
    path = tmp_path / "list.csv.rejected.csv"
    assert told["rejects"] == str(path)
    with path.open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.DictReader(file))
    assert rows == [{"row": "2", "why": "name is blank", "Name": "", "Phone": "555 01 23"}]
    path.write_text(path.read_text(encoding="utf-8-sig").replace("blank,,", "blank,Hill,"), encoding="utf-8")
    assert run("import", "customers", path, "--as", "cy", "--yes").code == 0
    assert {one.name for one in kept().customers.values()} == {"Hill", "Lake"}


def test_a_file_of_rejects_is_never_written_over(bring, tmp_path):
    first = bring("customers", "Name,Phone", ",555 01 23")
    again = bring("customers", "Name,Phone", ",555 01 23")
    other = bring("customers", "Name,Phone", ",555 01 99")
    assert first["rejects"] == again["rejects"] and other["rejects"].endswith("list.csv.rejected-2.csv")


@pytest.mark.parametrize(
    ("arguments", "why"),
    [
        (("--as", "cy"), "nobody is here to say whether the columns are right: repeat with --yes, or try --dry-run"),
        (("--as", "bo", "--yes"), "this is for the counter or the owner, and Bo is technician here: ask Ana or Cy"),
        (("--as", "zoe", "--yes"), "nobody called zoe works here: shop.toml knows ana, bo or cy"),
        (("--yes",), "every change is signed: say --as ana, bo or cy"),
        (("--as", "cy", "--yes", "--dates", "dym"), "--dates: “dym” is not known: write dmy or mdy or ymd"),
        (("--as", "cy", "--yes", "--sheet", "x"), "list.csv is a text file and has no sheets: leave --sheet away"),
    ],
)
def test_what_is_missing_or_wrong_is_one_line_and_nothing_is_kept(run, tmp_path, shop, arguments, why):
    (tmp_path / "list.csv").write_text("Name,Phone\nHill,555 01 23\n")
    done = run("import", "customers", tmp_path / "list.csv", *arguments)
    assert done.code == 2 and done.err == f"shopboard: {why}\n"
    assert open_shop(shop).state.seq == 0


def test_hostile_text_stays_text_on_the_way_in_and_out(run, tmp_path, shop):
    from aids.hostile import TEXTS, acts

    with (tmp_path / "list.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(["Name", "Phone"])
        writer.writerows([text.replace("\x00", ""), ""] for text in TEXTS.values())
    done = run("import", "customers", tmp_path / "list.csv", "--as", "cy", "--yes")
    assert done.code == 0 and not acts(done.out.replace("\n", ""))
    assert len(open_shop(shop).state.customers) == len(TEXTS)
