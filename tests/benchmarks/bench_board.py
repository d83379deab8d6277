"""How quick the board is in a real pseudo-terminal: start, keys, detail, search, dialogs, memory.

`python tests/benchmarks/bench_board.py [ROUNDS] [CLOSED] [OPEN]` prints a table. A start is held against an empty
Textual app in the same run, turn by turn: until the place's name is on the screen, and until the first open job is.
Both run compiled, as pip installs them, and neither for the first time. Other times run from the key's byte written to
the terminal until the first byte that answers it, or until the last byte of the answer (nothing more for 60 ms; that
wait is not counted).
"""

from __future__ import annotations

import contextlib
import os
import platform
import pty
import select
import signal
import sys
import tempfile
from pathlib import Path
from random import Random
from statistics import median
from time import perf_counter

sys.path.insert(0, str(Path(__file__).parents[1]))

from aids.big_shop import make
from aids.pty_board import PtyBoard, pty_board
from aids.shops import MODELS, SHOP

EMPTY = """
from textual.app import App
from textual.widgets import Static
class Empty(App):
    def compose(self):
        yield Static("FLOOR")
Empty().run()
"""
#: Nothing on the Floor but the tag of an open job has this.
FIRST_ROW = b"T-"
#: The answer to a key is over when nothing more came for so long (seconds).
QUIET = 0.06
TERM = {"TERM": "xterm-256color", "COLORTERM": "truecolor", "LANG": "C.UTF-8"}


def start_of(*command: str, until: tuple[bytes, ...] = (b"FLOOR",)) -> tuple[float, ...]:
    """Seconds from starting a program in a pseudo-terminal until each of these has come; it is ended then."""
    began = perf_counter()
    pid, fd = pty.fork()
    if pid == 0:
        os.environ |= TERM
        os.execv(sys.executable, [sys.executable, *command])
    seen, took = b"", dict[bytes, float]()
    while len(took) < len(until):
        seen += os.read(fd, 65536)
        took |= {mark: perf_counter() - began for mark in until if mark in seen and mark not in took}
    os.kill(pid, signal.SIGKILL)
    os.waitpid(pid, 0)
    os.close(fd)
    return tuple(took[mark] for mark in until)


def starts(folder: Path, turns: int = 15) -> list[str]:
    """Starts of an empty app and of the board, turn by turn; the first of each is not counted."""
    board = ("-m", "shopboard", "open", str(folder), "--as", "ana")
    took = [(*start_of("-c", EMPTY), *start_of(*board, until=(b"FLOOR", FIRST_ROW))) for _ in range(turns + 1)][1:]
    empty, text, row = (median(side) for side in zip(*took, strict=True))
    return [
        f"start of an empty Textual app to its text: {empty * 1e3:.0f} ms",
        f"start of the board to its first text: {text * 1e3:.0f} ms, ratio {text / empty:.2f}",
        f"start of the board to its first open job: {row * 1e3:.0f} ms, ratio {row / empty:.2f}",
    ]


def answer_to(board: PtyBoard, keys: str) -> tuple[float, float]:
    """Seconds from writing keys until the first and until the last byte of the answer."""
    began = perf_counter()
    board.send(keys)
    first = last = 0.0
    while True:
        ready, _, _ = select.select([board._fd], [], [], QUIET if first else 5.0)
        if not ready:
            break
        data = os.read(board._fd, 65536)
        last = perf_counter() - began
        first = first or last
        board.terminal.feed(data.decode("utf-8", "replace"))
    return first, last


def settled(board: PtyBoard) -> None:
    """Read until the board has nothing more to say."""
    while select.select([board._fd], [], [], 0.5)[0]:
        board.terminal.feed(os.read(board._fd, 65536).decode("utf-8", "replace"))


def _children(pid: int) -> list[int]:
    return [int(child) for child in Path(f"/proc/{pid}/task/{pid}/children").read_text().split()]


def _worked(pids: list[int]) -> float:
    """Seconds that these processes have worked."""
    fields = [Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split() for pid in pids]
    return sum(int(one[11]) + int(one[12]) for one in fields) / os.sysconf("SC_CLK_TCK")


def warmed_up(board: PtyBoard) -> None:
    """Show every place and dialog once, and let what is reckoned beside the board arrive: the processes that reckon are
    at rest for three seconds."""
    for keys in ("c", "\x1bf", "p", "o", "m", "\x1b", "f", "b", "?", "\x1b", "/seal", "\x1b", "s", "\x1b", "f"):
        board.send(keys)
        settled(board)
    rest = 0
    while rest < 6:
        helpers = _children(board.pid)
        before = _worked(helpers)
        settled(board)
        rest = rest + 1 if len(helpers) == 2 and _worked(helpers) - before < 0.02 else 0


def memory(board: PtyBoard) -> float:
    """Resident memory of the board, MB."""
    pages = int(Path(f"/proc/{board.pid}/statm").read_text().split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") / 1e6


def line(name: str, times: list[float]) -> str:
    """Median, p95 and slowest of one kind of answer."""
    ordered = sorted(times)
    p95 = ordered[min(len(ordered) - 1, int(len(ordered) * 0.95))]
    figures = zip(("median", "p95", "slowest"), (median(ordered), p95, ordered[-1]), strict=True)
    return f"{name:<32}" + "".join(f"   {what} {seconds * 1e3:6.1f} ms" for what, seconds in figures)


def keys_on_the_floor(board: PtyBoard, rounds: int) -> list[str]:
    """Moving the cursor over the listed rows: while what is reckoned beside the board arrives, and later."""
    told = []
    for when in ("just started", "all there"):
        answers = [answer_to(board, "jk"[n % 100 > 49]) for n in range(rounds)]
        told += [
            line(f"key to first byte, {when}", [a for a, _ in answers]),
            line(f"key to last byte, {when}", [b for _, b in answers]),
        ]
        warmed_up(board)
    return told


def detail_on_the_bench(board: PtyBoard, rounds: int) -> list[str]:
    """Moving among the causes of the first job outside the bays until their detail stands."""
    while not any(row.startswith(">T-") for row in board.terminal.text.splitlines()):
        answer_to(board, "j")
    board.send("\r")
    board.until("BENCH")
    settled(board)
    if not _detail_moves(board):
        board.send("\t")  # the cursor stood among the checks
        settled(board)
        assert _detail_moves(board), board.terminal.text
    answers = [answer_to(board, "j" if n % 8 < 4 else "k") for n in range(rounds)]
    board.send("f")
    settled(board)
    return [line("key to settled detail, Bench", [b for _, b in answers])]


def _detail_moves(board: PtyBoard) -> bool:
    """Whether moving the cursor shows another detail, under the lists."""
    before = board.terminal.text.splitlines()[-9:-1]
    answer_to(board, "j")
    after = board.terminal.text.splitlines()[-9:-1]
    answer_to(board, "k")
    return before != after


def search(board: PtyBoard, rounds: int) -> list[str]:
    """Each letter of a word typed into find, and opening it."""
    opened, letters = [], []
    for n in range(max(1, rounds // 8)):
        opened.append(answer_to(board, "/")[1])
        letters += [answer_to(board, letter)[1] for letter in ("pump", "clunk", "seal", "zzqx")[n % 4]]
        board.send("\x1b")
        settled(board)
    return [line("find opened", opened), line("search keystroke, settled", letters)]


def dialogs(board: PtyBoard, rounds: int) -> list[str]:
    """Opening help and the next steps of a job."""
    times = []
    for n in range(max(1, rounds // 4)):
        times.append(answer_to(board, "?s"[n % 2])[1])
        board.send("\x1b")
        settled(board)
    return [line("dialog opened, settled", times)]


def growth(board: PtyBoard, actions: int) -> list[str]:
    """Memory once everything was there and shown, after so many actions over all places, and after as many again."""
    weighed = []
    for count in (0, actions, actions):
        act(board, Random(len(weighed)), count)
        warmed_up(board)
        weighed.append(memory(board))
    first, second, third = weighed
    return [
        f"memory once all is there: {first:.1f} MB, after {actions} actions {second:.1f} MB",
        f"after {actions} more {third:.1f} MB ({100 * (third / second - 1):+.1f} %)",
    ]


def act(board: PtyBoard, random: Random, actions: int) -> None:
    """Go about the places, move, open and leave dialogs."""
    for n in range(actions):
        board.send(random.choice(["f", "p", "o", "b", "j", "k", "?\x1b", "/seal\x1b", "s\x1b", "\t"]))
        if n % 20 == 0:
            settled(board)
    settled(board)


def as_installed(scratch: Path) -> None:
    """Let programs run compiled, with settings and a cache of their own."""
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
    os.environ["PYTHONPYCACHEPREFIX"] = str(scratch / "compiled")
    os.environ |= {f"XDG_{what}_HOME": str(scratch / what.lower()) for what in ("CONFIG", "CACHE")}


def made(folder: Path, closed: int, still_open: int) -> Path:
    """A shop with so many jobs."""
    make(folder, closed + still_open, still_open)
    (folder / "shop.toml").write_text(SHOP, encoding="utf-8")
    (folder / "models.toml").write_text(MODELS, encoding="utf-8")
    return folder


def main(rounds: int = 200, closed: int = 50_000, still_open: int = 200, listed: int = 500) -> None:
    """Measure and print."""
    with tempfile.TemporaryDirectory() as scratch, contextlib.chdir(scratch):
        folder, long = made(Path(scratch) / "shop", closed, still_open), made(Path(scratch) / "long", closed, listed)
        as_installed(Path(scratch))
        machine = f"{os.cpu_count()} cores, Python {platform.python_version()}, load {os.getloadavg()[0]:.1f}"
        print(f"{closed} closed, {still_open} open jobs, seed 1, {machine}")
        print(*starts(folder), sep="\n", flush=True)
        with pty_board(long) as board:
            settled(board)
            print(f"with {listed} open jobs listed", *keys_on_the_floor(board, rounds), sep="\n", flush=True)
        with pty_board(folder) as board:
            print(f"with {still_open} open jobs, all there")
            warmed_up(board)
            for measure in (detail_on_the_bench, search, dialogs):
                print(*measure(board, rounds), sep="\n", flush=True)
            print(*growth(board, 1000), sep="\n")


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
