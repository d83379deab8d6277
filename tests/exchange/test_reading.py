"""How files are read: letters, signs between fields, headings, dates and figures; what is guessed is said."""

from __future__ import annotations

import itertools
from datetime import date, datetime
from decimal import Decimal

import pytest
import xlsxwriter
from hypothesis import given
from hypothesis import strategies as st

from shopboard.exchange.entries import Reader, find_ways, read_rows
from shopboard.exchange.mapping import mapped, plain
from shopboard.exchange.readings import ORDERS, Undecided, dates, decide, figures
from shopboard.exchange.sheet import letters, read_sheet, sheet_in
from shopboard.records import Refused

TODAY = date(2026, 11, 24)
NAMES = "Name;Phone\nMüller & Söhne;0660 1\nÅse;0660 2\n"

# -- letters ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (NAMES.encode(), "letters look like UTF-8"),
        (NAMES.encode("utf-8-sig"), "letters are UTF-8 with a byte-order mark, as the file says"),
        (NAMES.encode("utf-16"), "letters are UTF-16, as the file says"),
        (NAMES.encode("utf-16-le"), "letters look like UTF-16"),
        (NAMES.encode("utf-16-be"), "letters look like UTF-16"),
        (NAMES.encode("cp1252"), "letters look like Windows-1252"),
        (
            NAMES.encode().replace("Åse".encode(), "Åse".encode("cp1252")),
            "like UTF-8, but 1 line (3) like Windows-1252",
        ),
        (b"Name;Phone\nHill;1\n", "plain letters"),
    ],
    ids=["utf-8", "bom", "utf-16", "utf-16-le", "utf-16-be", "cp1252", "mixed", "ascii"],
)
def test_the_letters_are_found_and_told(data, said):
    sheet = sheet_in(data, "list.csv")
    assert said in sheet.said[0] and "semicolons between the fields" in sheet.said[0]
    assert data.startswith(b"Name;Phone\nHill") or [row.cells[0] for row in sheet.rows] == [
        "Name",
        "Müller & Söhne",
        "Åse",
    ]


def test_letters_that_are_told_are_held_to():
    assert sheet_in(b"N\xf6;1\n", "x", encoding="latin-1").rows[0].cells[0] == "Nö"
    with pytest.raises(Refused, match=r"x is not UTF-8 \(line 2\): try --encoding "):
        sheet_in(b"a;b\nN\xf6;1\n", "x", encoding="utf-8")


@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
@given(
    rows=st.lists(st.lists(st.text("ab1.5 \"',;\t|\né", max_size=8), min_size=3, max_size=3), min_size=4, max_size=9)
)
def test_the_sign_between_is_found_where_every_row_is_as_wide(delimiter, rows):
    """What a program writes by the rules comes back as it was, whichever sign it took; headings show the width."""
    import csv
    import io

    text = io.StringIO(newline="")
    csv.writer(text, delimiter=delimiter, quoting=csv.QUOTE_ALL, lineterminator="\r\n").writerows(
        [["A x", "B x", "C x"], *rows]
    )
    sheet = sheet_in(text.getvalue().encode(), "x")
    wanted = [["A x", "B x", "C x"], *[row for row in rows if any(cell.strip() for cell in row)]]
    assert [list(row.cells) for row in sheet.rows] == wanted


def test_a_first_line_that_names_the_sign_is_obeyed_and_counted_out():
    sheet = sheet_in(b"sep=|\nName|Phone\nHill, Pat;x|1\n", "x")
    assert sheet.rows[1].cells == ("Hill, Pat;x", "1") and "as its first line says" in sheet.said[0]


@pytest.mark.parametrize(
    ("data", "why"),
    [
        (b"", "x holds no row with anything in it: see whether it is the right file"),
        (b" \n\n;;\n".replace(b";", b","), "x holds no row with anything in it"),
        (b'Name,Phone\n"Hill,1\nLake,2\n', 'x, line 2: a quote " opens there and is never closed'),
        (b"Name\x00\x01\x02,Ph\x00one\n", "x is no text: it holds bytes that no letter has"),
        (b"\xd0\xcf\x11\xe0" + bytes(600), "x is a workbook of the old kind"),
        (b"PK\x03\x04 no zip", "x cannot be unpacked"),
    ],
)
def test_what_is_no_list_is_told_in_one_line(data, why):
    with pytest.raises(Refused) as told:
        sheet_in(data, "x")
    assert str(told.value).startswith(why) and "\n" not in str(told.value)


# -- workbooks --------------------------------------------------------------------------------------------------------


def _book(path, fill):
    book = xlsxwriter.Workbook(str(path))
    fill(book)
    book.close()
    return path


def test_a_sheet_that_reaches_to_the_end_is_refused_before_it_eats_the_memory(tmp_path):
    path = _book(
        tmp_path / "x.xlsx",
        lambda book: (sheet := book.add_worksheet(), sheet.write(0, 0, "a"), sheet.write(1048575, 16383, 1)),
    )
    with pytest.raises(Refused, match=r"has a sheet that reaches to row 1048576, column XFD: copy the list alone"):
        read_sheet(path)


def test_the_sheet_is_chosen_and_the_others_are_told(tmp_path):
    def fill(book):
        book.add_worksheet("Empty")
        for name in ("First", "Second"):
            book.add_worksheet(name).write_row(0, 0, ["Name", name])

    path = _book(tmp_path / "x.xlsx", fill)
    assert read_sheet(path).said == ("x.xlsx: sheet “First”; not read: Second (choose with --sheet)",)
    assert read_sheet(path, sheet="Second").rows[0].cells[1] == "Second"
    with pytest.raises(Refused, match=r"x.xlsx has no sheet “Third”: it has Empty, First, Second"):
        read_sheet(path, sheet="Third")


def test_a_formula_never_computed_is_not_taken_for_a_blank(tmp_path):
    def fill(book):
        sheet = book.add_worksheet()
        sheet.write_row(0, 0, ["Name", "Phone"])
        sheet.write_row(1, 0, ["Hill", "1"])
        sheet.write_formula("B2", "=1+1", None, "")

    sheet = read_sheet(_book(tmp_path / "x.xlsx", fill))
    entries, rejected = read_rows(mapped(sheet, "customers"), Reader(TODAY, None))
    # XlsxWriter writes an empty result as <v></v>, which is a result; taken out it is none
    assert not entries or entries[0].text("phone") == ""
    import zipfile

    with zipfile.ZipFile(tmp_path / "x.xlsx") as old, zipfile.ZipFile(tmp_path / "y.xlsx", "w") as new:
        for name in old.namelist():
            new.writestr(name, old.read(name).replace(b"<v></v>", b"").replace(b"<v/>", b""))
    entries, rejected = read_rows(mapped(read_sheet(tmp_path / "y.xlsx"), "customers"), Reader(TODAY, None))
    assert [one.why for one in rejected] == ["Phone: the formula there gives #never computed"]


# -- headings ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("headings", "fields"),
    [
        ("Name,Phone,E-mail,Address,Notes", "name phone email address note"),
        ("CUSTOMER NAME,Tel.-No.,eMail,Street,City,Zip", "name phone email address address address"),
        ("First name,Last name,Mobile", "name name phone"),
        ("Name,First name,Phone", "name - phone"),
        ("Company,Contact,Phone Number,Remark", "name - phone note"),
        ("Cust. name,Telefone,Adress,Coments", "name phone address note"),
        ("Client,Cell,Colour", "name phone -"),
    ],
)
def test_headings_as_people_write_them(headings, fields):
    columns = mapped(sheet_in(f"{headings}\n{','.join('x' * 6)}\n".encode(), "x"), "customers").columns
    assert " ".join(column.field.id if column.field else "-" for column in columns[: len(fields.split())]) == fields


def test_what_the_person_says_goes_before_what_is_guessed():
    sheet = sheet_in(b"Name,Who,Tel,Mobile\na,b,1,2\n", "x")
    columns = mapped(sheet, "customers", "Who=name,Mobile=phone,Name=-").columns
    assert [(c.field.id if c.field else "-", c.told) for c in columns] == [
        ("-", True),
        ("name", True),
        ("-", False),
        ("phone", True),
    ]
    columns = mapped(sheet_in(b"Hill,555\nLake,556\n", "x"), "customers", "A=name,B=phone").columns
    assert [column.field.id for column in columns] == ["name", "phone"]


@pytest.mark.parametrize(
    ("told", "why"),
    [
        ("Phone", "--columns: “Phone” is no pair: write it like 'Phone=phone,Remarks=note'"),
        ("Tel=fone", "--columns: customers have no field “fone”: they have name, phone, address, email, note"),
        ("Telly=phone", "--columns: there is no column “Telly”: there are Name, Who, Tel, Mobile"),
        ("Tel=phone,Mobile=phone", "Tel and Mobile cannot both be phone: leave one out: --columns 'Mobile=-'"),
        ("Name=-,Who=-", "no column gives name (name): say which does with --columns 'HEADING=name'"),
    ],
)
def test_what_was_said_wrong_is_told(told, why):
    with pytest.raises(Refused) as error:
        mapped(sheet_in(b"Name,Who,Tel,Mobile\na,b,1,2\n", "x"), "customers", told)
    assert str(error.value).startswith(why)


def test_no_headings_at_all():
    with pytest.raises(Refused, match="no row names the columns of a list of customers: head them"):
        mapped(sheet_in(b"Hill,555 0123\nLake,555 0124\n", "x"), "customers")


@given(st.text())
def test_a_heading_compared_is_compared_to_itself(text):
    assert plain(plain(text)) == plain(text)


def test_columns_are_lettered_as_in_a_spreadsheet():
    names = [letters(n) for n in range(703)]
    alphabet = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
    assert names == [*alphabet, *map("".join, itertools.product(alphabet, alphabet)), "AAA"]


# -- dates and figures ------------------------------------------------------------------------------------------------


@given(st.dates(date(1950, 1, 1), TODAY), st.sampled_from(list(ORDERS)), st.sampled_from("/.-"), st.booleans())
def test_a_date_written_in_an_order_is_read_back_in_that_order(day, order, sign, long):
    year = f"{day:%Y}" if long else f"{day:%y}"
    if not long and (TODAY.year - day.year) >= 100:
        return
    pieces = {"d": f"{day:%d}", "m": f"{day:%m}", "y": year}
    text = sign.join(pieces[letter] for letter in order)
    assert dates(text, TODAY).read(order) == datetime.combine(day, datetime.min.time())


@pytest.mark.parametrize(
    ("text", "meanings"),
    [
        ("03/04/2021", {"2021-04-03", "2021-03-04"}),
        ("25/03/2021", {"2021-03-25"}),
        ("03/25/2021", {"2021-03-25"}),
        ("05/05/2021", {"2021-05-05"}),
        ("2021-04-03", {"2021-04-03"}),
        ("03/04/05", {"2005-04-03", "2005-03-04", "2003-04-05"}),
        ("99-12-31", {"1999-12-31"}),
        ("3 Mar 2021", {"2021-03-03"}),
        ("March 3, 2021", {"2021-03-03"}),
        ("31/02/2021", set()),
        ("0/0/0", set()),
        ("2021", set()),
        ("3 Foo 2021", set()),
    ],
)
def test_every_meaning_of_a_date_and_no_other(text, meanings):
    assert {f"{found:%Y-%m-%d}" for found in dates(text, TODAY).by_way.values()} == meanings


def test_the_time_of_a_date():
    assert dates("25.03.2021 14:30", TODAY).read("") == datetime(2021, 3, 25, 14, 30)  # noqa: DTZ001 - a wall clock
    assert dates("25/03/2021 2:05 pm", TODAY).read("").hour == 14
    assert dates("25/03/2021 25:00", TODAY).by_way == {} and dates("25/03/2021 13:00 pm", TODAY).by_way == {}


@given(
    st.integers(0, 9_999_999),
    st.integers(0, 99),
    st.booleans(),
    st.sampled_from([("point", ".", ","), ("comma", ",", ".")]),
)
def test_a_figure_written_with_a_mark_is_read_back_with_that_mark(whole, part, grouped, ways):
    way, mark, group = ways
    text = (f"{whole:,}".replace(",", group) if grouped else str(whole)) + f"{mark}{part:02d}"
    assert figures(text).read(way) == Decimal(f"{whole}.{part:02d}")


@pytest.mark.parametrize(
    ("text", "meanings"),
    [
        ("1412", {"1412"}),
        ("1,412", {"1412", "1.412"}),
        ("12.5", {"12.5"}),
        ("1.234.567", {"1234567"}),
        ("1'412.5", {"1412.5"}),
        ("1 412,5", {"1412.5"}),
        *((text, set()) for text in ("1,23,4", "-5", "1e5", "٣", "", "1..2")),
    ],
)
def test_every_meaning_of_a_figure_and_no_other(text, meanings):
    assert {f"{found:f}" for found in figures(text).by_way.values()} == meanings


def test_a_column_is_decided_by_what_can_only_be_one_way():
    def ways(text):
        return dates(text, TODAY)

    assert decide([(2, "03/04/2021"), (3, "25/03/2021")], ways).way == "dmy"
    assert decide([(2, "03/04/2021"), (3, "03/25/2021")], ways).way == "mdy"
    assert decide([(2, "25/03/2021"), (3, "03/25/2021")], ways).way == ""  # nothing is open
    for texts, mixed in ([(2, "03/04/2021")], False), ([(2, "03/04/2021"), (3, "25/03/2021"), (4, "03/25/2021")], True):
        with pytest.raises(Undecided) as doubt:
            decide(texts, ways)
        assert (doubt.value.row, doubt.value.mixed) == (2, mixed)


def test_a_doubt_about_figures_is_asked_in_its_own_words(tmp_path):
    sheet = sheet_in(b"Owner;Model;Hours\nHill;x;1,412\nLake;x;1,500\n", "x")
    mapping = mapped(sheet, "machines")
    _, _, doubts = find_ways(mapping, Reader(TODAY, None))
    assert [doubt.words for doubt in doubts] == ["column Hours, row 2: “1,412” can be 1412 (point) or 1.412 (comma)"]
    ways, _, doubts = find_ways(mapping, Reader(TODAY, None), mark="point")
    assert not doubts and read_rows(mapping, Reader(TODAY, None, "", ways))[0][0].figure("hours") == 1412
