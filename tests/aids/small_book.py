"""A tiny trouble book for tests of the engine: one drive, eight causes, and a few checks with covers."""

from __future__ import annotations

from shopboard.trouble import Book, load_book

SYMPTOMS = """
[symptom.weak-drive]
name = "weak drive"
words = ["no power on hills", "slow under load", "will not pull", "lost its push"]
ask = ["hot-or-cold"]
layouts = ["in-line", "split"]
otherwise = "rarely"

[symptom.shakes]
name = "driveline vibration"
words = ["shakes", "vibrates at speed", "buzz in the floor"]
layouts = ["in-line", "gear"]
otherwise = "rarely"

[symptom.creeps]
name = "creep at neutral"
words = ["creeps when the pedal is up", "rolls on its own", "will not stand still"]
layouts = ["in-line", "split"]
otherwise = "almost never"
"""

CHECKS = """
[check.hot-or-cold]
name = "worse hot or cold?"
how = "Ask when it is at its worst."
where = "counter"
minutes = 1
layouts = ["in-line", "split"]
[check.hot-or-cold.outcomes]
same = { name = "same hot and cold", normal = true }
hot = { name = "worse hot", otherwise = "seldom" }
cold = { name = "worse cold", otherwise = "rarely" }

[check.oil-level]
name = "oil level"
how = "Look at the sight glass, machine level."
where = "yard"
minutes = 3
layouts = ["in-line", "split"]
[check.oil-level.outcomes]
right = { name = "oil level right", normal = true }
low = { name = "oil level low", otherwise = "rarely" }

[check.bypass-lever]
name = "bypass lever"
how = "See that the lever is home."
where = "yard"
minutes = { in-line = 2, split = 4 }
layouts = ["in-line", "split"]
[check.bypass-lever.outcomes]
home = { name = "bypass home", normal = true }
open = { name = "bypass not home", otherwise = "almost never" }

[check.pedal-travel]
name = "pedal travel"
how = "Press it through and watch the arm."
where = "yard"
minutes = 4
layouts = ["in-line", "split"]
[check.pedal-travel.outcomes]
full = { name = "full travel", normal = true }
short = { name = "travel short", otherwise = "rarely" }
off-centre = { name = "arm not centred", otherwise = "rarely" }

[check.charge-pressure]
name = "charge pressure"
how = "Gauge at the port, idle and fast."
where = "bay"
minutes = 15
covers = { in-line = ["floor-plate"], split = ["deck"] }
tool = "pressure gauge"
cautions = ["oil-injection"]
needs = ["test port", "charge pump"]
shared_error = "cold oil"
layouts = ["in-line", "split"]
[check.charge-pressure.outcomes]
right = { name = "charge pressure right", normal = true }
low = { name = "charge pressure low", otherwise = "rarely" }

[check.case-drain]
name = "case drain"
how = "Measure the flow hot, wheels clear."
where = "bay"
minutes = 25
covers = ["floor-plate"]
tool = "flow meter"
cautions = ["oil-injection", "wheels-clear"]
needs = ["case drain"]
shared_error = "cold oil"
layouts = ["in-line"]
reading = { quantity = "case_drain_flow", limit = "case_drain_limit" }
[check.case-drain.outcomes]
right = { name = "case drain right", normal = true, ratio = [0.5, 0.2] }
high = { name = "case drain high", otherwise = "almost never", ratio = [1.8, 0.5] }

[check.joint-play]
name = "joint play by hand"
how = "Engine off, key out: turn each joint against the other."
where = "yard"
minutes = 5
covers = ["floor-plate"]
cautions = ["shaft"]
layouts = ["in-line", "gear"]
[check.joint-play.outcomes]
none = { name = "no play", normal = true }
front = { name = "play in the front joint", otherwise = "rarely" }
spline = { name = "play in the spline", otherwise = "rarely" }

[check.shaft-runout]
name = "shaft run-out"
how = "Dial gauge at mid shaft, turn by hand."
where = "bay"
minutes = 20
covers = ["shaft-guard"]
tool = "dial gauge"
cautions = ["shaft"]
layouts = ["in-line", "gear"]
[check.shaft-runout.outcomes]
true = { name = "shaft runs true", normal = true }
bent = { name = "shaft bent", otherwise = "almost never" }
"""

CAUSES = """
[cause.low-oil]
name = "low oil"
layouts = ["in-line", "split"]
weight = "everyday"
correction = ["top-up"]
shows = { weak-drive = "usually" }
answers.oil-level = { low = "almost always" }
answers.hot-or-cold = { hot = "sometimes" }

[cause.piston-wear]
name = "pump pistons and bores worn"
layouts = ["in-line", "split"]
weight = "common"
correction = ["rebuild-pump"]
shows = { weak-drive = "almost always", creeps = "rarely" }
answers.hot-or-cold = { hot = "usually" }
answers.case-drain = { high = "usually" }

[cause.charge-pump-worn]
name = "charge pump worn"
layouts = ["in-line", "split"]
weight = "now and then"
correction = ["renew-charge-pump"]
shows = { weak-drive = "usually" }
answers.hot-or-cold = { hot = "often", cold = "rarely" }
answers.charge-pressure = { low = "almost always" }

[cause.bypass-open]
name = "bypass valve not fully shut"
layouts = ["in-line", "split"]
weight = "common"
correction = ["shut-bypass"]
shows = { weak-drive = "almost always" }
answers.bypass-lever = { open = "almost always" }

[cause.pedal-blocked]
name = "pedal travel blocked"
layouts = ["in-line", "split"]
weight = "common"
correction = ["free-pedal"]
shows = { weak-drive = "usually" }
answers.pedal-travel = { short = "almost always" }

[cause.neutral-out]
name = "neutral setting out"
layouts = ["in-line", "split"]
weight = "everyday"
correction = ["set-neutral"]
shows = { creeps = "almost always", weak-drive = "seldom" }
answers.pedal-travel = { off-centre = "usually" }

[cause.front-joint]
name = "front universal joint dry or worn"
layouts = ["in-line", "gear"]
weight = "everyday"
correction = ["renew-joint"]
shows = { shakes = "usually" }
answers.joint-play = { front = "usually" }

[cause.shaft-bent]
name = "shaft bent or out of balance"
layouts = ["in-line", "gear"]
weight = "uncommon"
correction = ["renew-shaft"]
shows = { shakes = "almost always" }
answers.shaft-runout = { bent = "usually" }

[cause.spline-worn]
name = "slip spline dry or worn"
layouts = ["in-line", "gear"]
weight = "now and then"
correction = ["renew-shaft"]
shows = { shakes = "often" }
answers.joint-play = { spline = "usually" }
"""

WORK = """
[correction.top-up]
name = "top up the oil"
minutes = 10
[correction.rebuild-pump]
name = "rebuild the pump"
minutes = 240
covers = { in-line = ["floor-plate"], split = ["deck"] }
parts = [{ name = "seal kit", quantity = 1, lead_class = "seals" }]
skill = "hydrostat"
needs = ["clean bench"]
cautions = ["oil-injection"]
[correction.renew-charge-pump]
name = "renew the charge pump"
minutes = 90
covers = { in-line = ["floor-plate"], split = ["deck"] }
[correction.shut-bypass]
name = "shut the bypass"
minutes = 8
[correction.free-pedal]
name = "free the pedal"
minutes = 15
[correction.set-neutral]
name = "set neutral"
minutes = 30
[correction.renew-joint]
name = "renew the joint"
minutes = 60
covers = ["shaft-guard"]
layouts = ["in-line", "gear"]
[correction.renew-shaft]
name = "renew the shaft"
minutes = 75
covers = ["shaft-guard"]
layouts = ["in-line", "gear"]

[cover.floor-plate]
name = "floor plate"
layouts = ["in-line", "gear"]
off = 8
on = 10
[cover.shaft-guard]
name = "shaft guard"
layouts = ["in-line", "gear"]
off = 5
on = 6
under = ["floor-plate"]
[cover.deck]
name = "mowing deck"
layouts = ["split"]
off = 15
on = 15
people = 2

[service.front-joint-grease]
name = "front joint: grease"
layouts = ["in-line", "gear"]
covers = ["floor-plate"]
minutes = 5
normal_hours = 100
severe_hours = 50
months = 12

[caution.oil-injection]
text = "Oil under pressure goes through skin. Never search for a leak by hand."
[caution.wheels-clear]
text = "Wheels off the ground on rated stands, nobody in front or behind."
[caution.shaft]
name = "turning shafts"
text = "Engine off and key out before a hand goes in."
"""

TEXTS = {"symptoms.toml": SYMPTOMS, "checks.toml": CHECKS, "causes.toml": CAUSES, "work.toml": WORK}


def small_book(additions: dict[str, str] | None = None) -> Book:
    """The tiny book, with a shop's additions merged over it."""
    return load_book(TEXTS, additions or {})
