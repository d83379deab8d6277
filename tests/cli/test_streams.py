"""The other end: pipes that close, output that nobody takes, encodings that know few letters, terminals, Ctrl+C."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest
from aids.commands import environment, one_line, shopboard

from shopboard.records import visible
from shopboard.store import disk

# -- readers that go away, and disks that take nothing --------------------------------------------------------------


def _piped(*arguments: str | Path, reads: int) -> tuple[int, bytes]:
    """Run a command whose reader takes `reads` bytes and goes; exit code and stderr."""
    command = [sys.executable, "-m", "shopboard", *map(str, arguments)]
    with subprocess.Popen(
        command, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.PIPE, env=environment()
    ) as running:
        assert running.stdout and running.stderr
        running.stdout.read(reads)
        running.stdout.close()
        err = running.stderr.read()
        return running.wait(timeout=60), err


@pytest.mark.parametrize(
    "arguments",
    [("triage", "weak-when-hot", "--chart"), ("triage", "weak-when-hot", "--json"), ("--help",), ("calc",)],
    ids=" ".join,
)
@pytest.mark.parametrize("reads", [0, 1])
def test_a_reader_that_goes_away_ends_the_command_quietly(arguments, reads):
    assert _piped(*arguments, reads=reads) == (0, b"")


def test_head_sees_the_first_line_and_nobody_complains(shop):
    line = '"$1" -m shopboard glance --shop "$2" | head -n 1; echo "${PIPESTATUS[0]}"'
    done = subprocess.run(
        ["bash", "-c", line, "bash", sys.executable, str(shop)], env=environment(), capture_output=True, timeout=60
    )
    assert done.stdout.decode().startswith("Test shop ") and done.stdout.endswith(b"\n0\n") and done.stderr == b""


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="this system has no /dev/full")
@pytest.mark.parametrize("arguments", [("triage", "clunk"), ("triage", "weak-when-hot", "--chart"), ("calc",)])
@pytest.mark.parametrize("unbuffered", ["", "1"])
def test_output_onto_a_full_disk_is_one_line(arguments, unbuffered):
    env = environment(PYTHONUNBUFFERED=unbuffered)
    with open("/dev/full", "wb") as full:
        done = shopboard(*arguments, env=env, capture_output=False, stdout=full, stderr=subprocess.PIPE)
    assert done.code == 3 and "No space left on device" in one_line(done.err)


def test_streams_closed_before_the_start_hurt_nobody(shop):
    line = '"$1" -m shopboard open "$2" <&- >&- 2>&-; echo $?'
    done = subprocess.run(
        ["bash", "-c", line, "bash", sys.executable, str(shop)], env=environment(), capture_output=True, timeout=60
    )
    assert (done.stdout, done.stderr) == (b"0\n", b"")


# -- letters --------------------------------------------------------------------------------------------------------

NARROW = {
    "PYTHONIOENCODING=ascii": {"PYTHONIOENCODING": "ascii"},
    "PYTHONIOENCODING=cp1252": {"PYTHONIOENCODING": "cp1252"},
    "LC_ALL=C": {"LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"},
    "LC_ALL=POSIX": {"LC_ALL": "POSIX"},
}


@pytest.mark.parametrize("named", NARROW)
def test_an_encoding_with_few_letters_stops_nothing(shop, named):
    env = environment(**NARROW[named])
    encoding = {"PYTHONIOENCODING=cp1252": "cp1252", "LC_ALL=POSIX": "utf-8"}.get(named, "ascii")
    for arguments in (("glance", "--shop", shop), ("triage", "clunk"), ("triage", "clunk", "--chart"), ("open", shop)):
        done = _raw(arguments, env)
        assert (done.returncode, done.stderr) == (0, b"")
        lines = done.stdout.decode(encoding).splitlines()
        assert len(lines) > 5 and all(line.isprintable() for line in lines)
    failed = _raw(("triage", "blöd “犬”"), env)
    assert failed.returncode == 2 and failed.stdout == b""
    assert one_line(failed.stderr.decode(encoding)).startswith("no symptom ")


def _raw(arguments, env) -> subprocess.CompletedProcess[bytes]:
    command = [sys.executable, "-m", "shopboard", *map(str, arguments)]
    return subprocess.run(command, env=env, stdin=subprocess.DEVNULL, capture_output=True, timeout=60)


def test_signs_become_plain_ones_and_letters_are_told_by_code(shop):
    env = environment(PYTHONIOENCODING="ascii", COLUMNS="100")
    lines = _raw(("glance", "--shop", shop), env).stdout.decode("ascii").splitlines()
    clean = next(line for line in lines if "clean " in line)
    assert "|" in clean and "<U+" not in clean and clean.index("free") == lines[4].index("free")
    assert any("[31m" in line and "<U+241B>" in line for line in lines)


def test_json_is_utf_8_whatever_the_terminal_speaks(shop):
    for env in (environment(), environment(PYTHONIOENCODING="ascii"), environment(LC_ALL="C", PYTHONUTF8="0")):
        done = _raw(("glance", "--shop", shop, "--json"), env)
        assert done.returncode == 0 and "犬" in done.stdout.decode("utf-8")


def test_a_folder_whose_name_is_no_text(tmp_path):
    folder = os.fsencode(tmp_path) + b"/caf\xe9"
    for arguments in ((b"new", folder), (b"glance", b"--shop", folder), (b"open", folder + b"x")):
        done = subprocess.run(
            [os.fsencode(sys.executable), b"-m", b"shopboard", *arguments],
            env=environment(),
            stdin=subprocess.DEVNULL,
            capture_output=True,
            timeout=60,
        )
        said = (done.stdout + done.stderr).decode("utf-8")
        assert "Traceback" not in said
        assert done.returncode == (3 if arguments[0] == b"open" else 0)
        assert arguments[0] == b"glance" or "caf<U+DCE9>" in said


@pytest.mark.parametrize("named", [{}, {"NO_COLOR": "1"}, {"NO_COLOR": ""}, {"FORCE_COLOR": "1"}, {"TERM": "dumb"}])
def test_text_carries_no_colour_and_no_escape_at_all(shop, named):
    for arguments in (("glance", "--shop", shop), ("triage", "clunk")):
        done = shopboard(*arguments, env=environment(**named))
        assert done.code == 0 and done.out and "\x1b" not in done.out


# -- terminals ------------------------------------------------------------------------------------------------------


class OnATerminal:
    """A command in a terminal of 24 × 80 of its own; what it shows is read as it comes."""

    def __init__(self, *arguments: str | Path, **named: str) -> None:
        import fcntl
        import pty
        import struct
        import termios

        self.master, slave = pty.openpty()
        fcntl.ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
        command = [sys.executable, "-m", "shopboard", *map(str, arguments)]
        self.running = subprocess.Popen(
            command, stdin=slave, stdout=slave, stderr=slave, env=environment(**named), start_new_session=True
        )
        os.close(slave)
        self.shown = b""
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()

    def _read(self) -> None:
        while True:
            try:
                piece = os.read(self.master, 65536)
            except OSError:  # the other end has closed
                return
            if not piece:
                return
            self.shown += piece

    def wait_for(self, text: str) -> None:
        """Until the text was shown."""
        until = time.monotonic() + 60
        while text.encode() not in self.shown:
            assert time.monotonic() < until and self.running.poll() is None, self.shown
            time.sleep(0.01)

    def press(self, keys: bytes) -> None:
        """Type."""
        os.write(self.master, keys)

    def ended(self) -> tuple[int, str]:
        """Exit code and all that was shown, once the command ended by itself."""
        try:
            code = self.running.wait(timeout=60)
        finally:
            self.running.kill()
        self._reader.join(timeout=10)
        os.close(self.master)
        return code, self.shown.decode("utf-8", "replace")


@pytest.mark.skipif(sys.platform == "win32", reason="pseudo-terminals are a Unix thing")
@pytest.mark.parametrize("named", [{"TERM": "dumb"}, {"TERM": ""}, {}])
def test_a_dumb_terminal_gets_the_glance(shop, named):
    code, shown = OnATerminal("open", shop, **named).ended()
    assert code == 0 and "T-0001" in shown and "\x1b" not in shown
    assert "The board itself needs a terminal" in shown


@pytest.mark.skipif(sys.platform == "win32", reason="pseudo-terminals are a Unix thing")
def test_a_real_terminal_gets_the_board_on_the_floor(shop):
    board = OnATerminal("open", shop, "--as", "ana", TERM="xterm-256color")
    board.wait_for("FLOOR")
    board.wait_for("T-0001")
    board.press(b"\x11")  # Ctrl+Q
    code, shown = board.ended()
    assert code == 0 and "Traceback" not in shown


@pytest.mark.skipif(sys.platform == "win32", reason="pseudo-terminals are a Unix thing")
def test_the_demo_in_a_real_terminal_is_the_board_on_the_sample(tmp_path):
    board = OnATerminal("demo", "--keep", tmp_path / "shop", TERM="xterm-256color")
    board.wait_for("FLOOR")
    board.wait_for("Clean b")
    board.press(b"\x11")
    code, shown = board.ended()
    assert code == 0 and "Traceback" not in shown and "said     “" not in shown
    assert shopboard("verify", "--shop", tmp_path / "shop").code == 0


# -- Ctrl+C ---------------------------------------------------------------------------------------------------------


@pytest.mark.skipif(not Path("/proc/self/fd").exists(), reason="what a process has open is read from /proc")
@pytest.mark.skipif(sys.platform == "win32", reason="signals are sent the Unix way")
def test_ctrl_c_ends_a_command_quietly_with_130(shop):
    lock = shop / "lock"
    command = [sys.executable, "-m", "shopboard", "glance", "--shop", str(shop)]
    with disk.locked(lock):  # so that the command has to wait
        running = subprocess.Popen(
            command,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            env=environment(),
            # A shell starts background jobs deaf to Ctrl+C; the tests may run in one, the command must not inherit it.
            preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
        )
        while not _has_open(running.pid, lock):
            assert running.poll() is None, "it did not wait for the lock"
            time.sleep(0.001)
        running.send_signal(signal.SIGINT)
        out, err = running.communicate(timeout=30)
    assert (running.returncode, out, err) == (130, b"", b"")


def _has_open(pid: int, path: Path) -> bool:
    for fd in Path(f"/proc/{pid}/fd").glob("*"):
        try:
            if fd.samefile(path):
                return True
        except OSError:  # closed meanwhile
            continue
    return False


def test_ctrl_c_before_the_first_line_of_a_command_is_quiet_too():
    code = "import shopboard.cli as c, shopboard.__main__ as m\ndef stop(a): raise KeyboardInterrupt\nc.run = stop\n"
    done = subprocess.run([sys.executable, "-c", code + "raise SystemExit(m.main())"], capture_output=True, timeout=60)
    assert (done.returncode, done.stdout, done.stderr) == (130, b"", b"")


# -- the two ways in ------------------------------------------------------------------------------------------------


def test_the_console_script_is_the_same_command(shop):
    script = Path(sys.executable).with_name("shopboard")
    done = subprocess.run([script, "verify", "--shop", shop], env=environment(), capture_output=True, timeout=60)
    assert (done.returncode, done.stderr) == (0, b"")
    assert done.stdout.decode() == shopboard("verify", "--shop", shop).out


def test_every_plain_sign_stands_for_one_sign_and_is_plain():
    from shopboard.console import _PLAIN

    for sign, plain in _PLAIN.items():
        assert len(sign) == len(plain) == 1 and not sign.isascii() and plain.isascii() and visible(sign) == sign
