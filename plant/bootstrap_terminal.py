"""What a person sees while something is prepared: a moving line on a terminal, plain lines elsewhere."""

from __future__ import annotations

import contextlib
import shutil
import subprocess
import sys
import time
from collections import deque
from collections.abc import Callable, Mapping, Sequence

QUIET_SECONDS = 20  # between two lines of progress where the output is a file or a pipe
TAIL_LINES = 15
TIDY_SECONDS = 5


class CannotPrepare(Exception):
    """Its text is the one sentence that the person needs: what is wrong and what to do."""


def say(sentence: str) -> None:
    """One line on standard error, so that a command's own output stays clean."""
    print(f"daybook: {sentence}", file=sys.stderr, flush=True)


class Progress:
    """One step of long work: says what it does, how far it is and how long it took."""

    def __init__(self, title: str) -> None:
        self.title = title
        self.moving = sys.stderr.isatty()
        self.started = self.spoke = time.monotonic()
        say(title)

    def note(self, text: str) -> None:
        """Replaces the moving line, or adds a plain line when none was written for a while."""
        now = time.monotonic()
        if self.moving:
            width = max(20, shutil.get_terminal_size().columns - 1)
            sys.stderr.write(f"\r\x1b[K{f'  {text}'[:width]}")
            sys.stderr.flush()
        elif now - self.spoke >= QUIET_SECONDS:
            say(f"{self.title}: {text}")
            self.spoke = now

    def end(self) -> None:
        """Clears the moving line."""
        if self.moving:
            sys.stderr.write("\r\x1b[K")
            sys.stderr.flush()

    def done(self) -> None:
        self.end()
        say(f"{self.title}: done in {time.monotonic() - self.started:.0f} s")


def run_shown(
    command: Sequence[str],
    progress: Progress,
    read: Callable[[str], str | None],
    environment: Mapping[str, str] | None = None,
) -> tuple[int, list[str]]:
    """Runs a command without input; read turns a line of output into a note or None. Status, last lines."""
    tail: deque[str] = deque(maxlen=TAIL_LINES)
    process = subprocess.Popen(
        command,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        errors="replace",
        env=environment,
    )
    try:
        assert process.stdout is not None
        for line in process.stdout:
            tail.append(line.rstrip())
            if (text := read(tail[-1])) is not None:
                progress.note(text)
        return process.wait(), list(tail)
    except KeyboardInterrupt:
        # On a terminal the command had the same Ctrl-C: let it tidy up.
        with contextlib.suppress(subprocess.TimeoutExpired):
            process.wait(TIDY_SECONDS)
        process.terminate()
        process.wait()
        raise
    finally:
        progress.end()
