"""Pages on what is measured with the machine: timed runs, neutral creep, slope hold."""

from __future__ import annotations

from shopboard.mechanics import sources

from .inputs import grade, named_reader, quantity, wheels
from .page import Option, Page, later

_read_run = later("runs_work", "read_run")

_SET = (
    '--set "pump_displacement=21 cm3, motor_displacement=21 cm3, final_ratio=25, rolling_radius=0.28 m, '
    'rated_speed=2600 rpm, rated_efficiency=90 %, relief_pressure=250 bar"'
)

_TIMED_RUNS = Page(
    name="timed-runs",
    title="timed runs turned into lost stroke and leakage",
    body="""The machine drives a marked distance with a flying start at full pedal. Its speed is the ideal speed for
    the engine's, times the share of stroke it has, less slip, less what leaks: v = v_ideal · s · (1 − slip) −
    k · (Δp + charge) / μ. A linkage out of adjustment loses stroke s, the same hot and cold; wear leaks (k), and worst
    with hot oil under load. Runs with cold and hot oil, on the flat and on a grade, tell the two apart.

    Each run is written as NAME=VALUE parts: distance, time, speed (engine, under load), oil (sump), and maybe grade
    (uphill positive), pressure (loop, from a gauge) and direction (forward or reverse). Values may carry a standard
    error: time=9.4 s +- 0.1 s. Weighted least squares; nothing is claimed that is less than 95 % sure.

    Prove the brake first. The maker's service manual comes first.""",
    options=(
        Option("--mass", quantity("mass"), "the machine with operator as weighed (default: the model's)"),
        Option("--run", named_reader(_read_run), "one run, repeated for each", "RUN", needed=True, repeat=True),
        Option(
            "--sound-run",
            named_reader(_read_run),
            "a run of a sound machine of this model, repeated: what new means here, instead of rated efficiency",
            "RUN",
            repeat=True,
        ),
    ),
    example=f'timed-runs --mass "640 kg" {_SET} '
    '--run "distance=30 m, time=10.3 s, oil=30 degC, speed=2600 rpm" '
    '--run "distance=30 m, time=11.3 s, grade=12 %, oil=32 degC, speed=2560 rpm" '
    '--run "distance=30 m, time=11.6 s, oil=80 degC, speed=2600 rpm" '
    '--run "distance=30 m, time=15.7 s, grade=12 %, oil=82 degC, speed=2550 rpm"',
    answer="""
wear: leaks 3.5 × new (2.7–4.5): wear; 100 % of full stroke (97–103): linkage is right
stroke forward            99.93 % (96.57 to 103.3)
leakage over sound        3.524 (2.749 to 4.539)
leakage constant mm3      0.000372 (0.0002902 to 0.0004791)
oil contrast              52 K
run that would tell most  a run with hot oil on the grade

run  way      speed      of ideal  loop pressure  oil
1    forward  2.913 m/s  95.51 %   14.02 bar      30 degC
2    forward  2.655 m/s  88.42 %   41.76 bar      32 degC
3    forward  2.586 m/s  84.81 %   14.02 bar      80 degC
4    forward  1.911 m/s  63.89 %   41.76 bar      82 degC

assumes: flying start, engine speed read under load, below relief
assumes: errors not given are the usual ones: 0.1 s, 0.5 % of distance and speed, 5 % of mass, 2 K,
  0.5 % of grade
assumes: bands are 90 %, from those errors and from what nobody measured: slip, radius, rolling
  resistance, film
assumes: usual values, not this model's: oil grade 46; oil index 100; oil density 870 kg/m3; charge
  pressure 10 bar; pump ratio 1; mechanical efficiency 90 %; rolling resistance 6 %; tyre slip 2 %;
  film rise 10 K; rated viscosity 20 cSt; rated pressure 140 bar
assumes: prove the brake before any run on a grade: clear run-out, seat belt and roll bar, a second
  person
source: hydrostat and traction formulas in general use; generalised least squares with errors in
  every reading
""",
    source=sources.TIMED_RUNS,
    run=later("runs_work", "timed_runs_result"),
    takes_model=True,
)


_CREEP = Page(
    name="neutral-creep",
    title="both edges of the dead band turned into the link's movement",
    body="""Move the control arm slowly until the wheels just creep forward, then until they just creep in reverse. The
    plate's true zero lies midway; the arm's rest should lie there too. What is between them is taken out at the link:
    arm length times the sine of the offset, and that over the thread's pitch in turns.

    Angles are the arm's, positive towards forward. With an open differential give both wheels, LEFT/RIGHT: only their
    mean is the drive's.""",
    options=(
        Option("--forward-edge", wheels, "arm angle where forward creep starts", "ANGLE[/ANGLE]", needed=True),
        Option("--reverse-edge", wheels, "arm angle where reverse creep starts", "ANGLE[/ANGLE]", needed=True),
        Option("--rest", quantity("angle", signed=True), "arm angle at rest (default 0 deg)", default="0 deg"),
        Option("--arm", quantity("length"), "pivot of the arm to the link (default: the model's control_arm)"),
        Option("--thread-pitch", quantity("length"), "thread of the link (default: the model's link_pitch)"),
    ),
    example='neutral-creep --forward-edge "3.0 deg/3.2 deg" --reverse-edge "-0.8 deg/-1.0 deg" --arm "60 mm" '
    '--thread-pitch "1.25 mm"',
    answer="""
does not creep at rest; the plate rests 1.1° towards reverse of its true zero
true zero  1.1 deg
offset     -1.1 deg
dead band  4 deg
move link  1.152 mm
turns      0.9215
assumes: the control arm turns the plate one to one
assumes: wheels clear on rated stands under the frame, chocked, nobody in front or behind, engine at
  idle; key out before the link is touched
source: geometry
""",
    source="geometry",
    run=later("runs_work", "neutral_creep_result"),
    takes_model=True,
)


_HOLD = Page(
    name="slope-hold",
    title="creep down a known grade turned into leakage",
    body="""A hydrostat holds a machine on a slope only as well as it seals. With the engine running and the control at
    rest, time how fast it creeps down, once nose up and once nose down. Half the sum is leakage; half the difference is
    a plate a little off zero, which adds one way and takes away the other. The constant is k = v · μ / ((Δp + charge) ·
    metres a volume).

    Prove the brake first: run-out room below, a second person, nobody in the path.""",
    options=(
        Option("--mass", quantity("mass"), "the machine with operator as weighed (default: the model's)"),
        Option("--grade", grade, "the slope, as 12 % or 7 deg", needed=True),
        Option("--nose-up", quantity("speed", signed=True), "downhill creep, nose up (uphill negative)", needed=True),
        Option("--nose-down", quantity("speed", signed=True), "downhill creep, nose down", needed=True),
        Option("--oil", quantity("temperature"), "oil in the sump", needed=True),
    ),
    example=f'slope-hold --mass "640 kg" {_SET} --grade "15 %" --nose-up "250 mm/s" '
    '--nose-down "290 mm/s" --oil "70 degC"',
    answer="""
leaks 2.7 × new (2.0–3.4)
creep from leakage    0.27 m/s
creep from neutral    0.02 m/s
loop pressure         16.85 bar
leakage constant mm3  0.0002886 (0.0002146 to 0.0003625)
leakage over sound    2.734 (2.033 to 3.434)
assumes: speeds are downhill, engine running, control at rest; errors not given are 5 % of speed and
  2 K
assumes: usual values, not this model's: oil grade 46; oil index 100; oil density 870 kg/m3; charge
  pressure 10 bar; pump ratio 1; mechanical efficiency 90 %; rolling resistance 6 %; tyre slip 2 %;
  film rise 10 K; rated viscosity 20 cSt; rated pressure 140 bar
assumes: Prove the brake before a slope test: a clear run-out below, a second person, nobody in the
  path; the maker's service manual and the employer's rules come first.
source: continuity; traction formulas in general use
""",
    source=sources.SLOPE_HOLD,
    run=later("runs_work", "slope_hold_result"),
    takes_model=True,
)

RUNS_PAGES = (_TIMED_RUNS, _CREEP, _HOLD)
