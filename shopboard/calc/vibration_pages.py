"""Pages on vibration: orders and recordings."""

from __future__ import annotations

from shopboard.mechanics import sources

from .inputs import quantity
from .page import Option, Page, later

ORDERS_SOURCE = "kinematics; a joint shakes twice a turn: Carvill, Mechanical Engineer's Data Handbook, §2.4.3"

_ORDERS = Page(
    name="orders",
    title="how often every part of a machine shakes at a speed and gear",
    body="""Each part shakes at a fixed number of times a turn of the engine, its order: an unbalanced shaft once, a
    joint at an angle twice, a four-stroke engine fires half as often as it has cylinders, n pistons beat n and 2n
    times, a gear as often as it has teeth. Order times speed is the frequency.

    Sources that coincide stand together with the check that separates them. With --rate, orders above half of what a
    phone logs are marked: they cannot be seen, and may fold down to a false frequency.""",
    options=(
        Option("--speed", quantity("rotation"), "engine speed", needed=True),
        Option("--rate", quantity("frequency"), "how often the logger samples, such as 200 Hz"),
        Option("--resolution", quantity("frequency"), "what counts as coinciding (default 0.2 Hz)", default="0.2 Hz"),
    ),
    example='orders --speed "2600 rpm" --rate "200 Hz" --set "joints=2, cylinders=3, pistons=9"',
    answer="""
sources  7
groups   5

source              order  frequency  note
engine 1×           1      43.33 Hz   with drive shaft 1×
drive shaft 1×      1      43.33 Hz   with engine 1×
engine firing 1.5×  1.5    65 Hz
engine 2×           2      86.67 Hz   with joints 2×
joints 2×           2      86.67 Hz   with engine 2×
pump pistons 9×     9      390 Hz     above what the logger can hold
pump pistons 18×    18     780 Hz     above what the logger can hold

assumes: to tell apart engine 1× or drive shaft 1×: part the shaft from the engine and run the
  engine alone: what stays is the engine
assumes: to tell apart engine 2× or joints 2×: part the shaft from the engine and run the engine
  alone: what stays is the engine
assumes: motor, gears and wheels: the model gives no displacements
assumes: what is behind the hydrostat is placed at full stroke, good to 3 %
assumes: usual values, not this model's: strokes 4; pump ratio 1
source: kinematics; a joint shakes twice a turn: Carvill, Mechanical Engineer's Data Handbook,
  §2.4.3
""",
    source=ORDERS_SOURCE,
    run=later("vibration_work", "orders_result"),
    takes_model=True,
)


_RECORDING = Page(
    name="recording",
    title="a vibration or sound recording turned into likely sources",
    body="""The recording's spectrum (Hann windows of eight seconds, half overlapped, averaged) is measured against
    its own noise. Peaks that noise alone would hardly make are matched to the orders of this machine at this speed,
    within the error of the speed (1 % unless given, such as 2600 rpm +- 15 rpm) and of the spectrum. Peaks vouch for
    each other: a wrong speed shifts them all alike. Each comes with the second best, and "nothing matches" is an
    answer.

    FILE is a CSV with a time column and one to three axes under any header, or a WAV. With a column rpm and no --speed
    it is a run-up: the recording is read anew by turns of the engine, and peaks are orders.""",
    options=(
        Option("--speed", quantity("rotation"), "engine speed while it was recorded"),
        Option("--plot", str, "write the spectrum, peaks labelled, as an SVG picture", "FILE"),
    ),
    example='recording ride.csv --speed "2600 rpm" --set "joints=2, cylinders=3"',
    answer="""
strongest match: engine 2× or joints 2× (99 %); to tell them apart: part the shaft from the engine
  and run the engine alone: what stays is the engine
length  40 s
rate    200 Hz
axes    x, y
peaks   1

frequency  order  amplitude  over noise  source                  probability  second best      its probability
86.33 Hz   1.992  0.9439     114.7       engine 2× or joints 2×  98.78 %      nothing matches  1.225 %

assumes: pump pistons: the model gives no number; 7 or 9 are common
assumes: motor, gears and wheels: the model gives no displacements
assumes: usual values, not this model's: strokes 4; pump ratio 1
assumes: turning shafts take hold of clothing: fix the phone, stand clear, guards on
source: Welch (1967), scipy.signal; Bayes' rule over orders
""",
    source=sources.RECORDING,
    run=later("vibration_work", "recording_result"),
    takes_model=True,
    file=True,
)

VIBRATION_PAGES = (_ORDERS, _RECORDING)
