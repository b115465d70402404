"""Two processes append at once: no failure, no gap, no number twice."""

from __future__ import annotations

from tests.records.ledger.scratch import Scratch

APPEND = """
import sys
from records.ledger.actions import act
from tests.records.ledger.conftest import SOMEBODY
from tests.records.ledger.made import made_row
first = int(sys.argv[1])
print("ready", flush=True)
sys.stdin.readline()
for n in range(first, first + 200):
    with act(SOMEBODY) as a:
        a.write(made_row("deviation", n))
print("done", flush=True)
"""


def test_two_processes_append_two_hundred_each(scratch: Scratch) -> None:
    """400 entries, numbered 1 to 400, and the ledger verifies."""
    processes = [scratch.start(APPEND, str(first)) for first in (1000, 2000)]
    try:
        for one in processes:
            assert one.stdout is not None and one.stdout.readline() == "ready\n"
        for one in processes:
            assert one.stdin is not None
            one.stdin.write("go\n")
            one.stdin.flush()
        for one in processes:
            out, trouble = one.communicate(timeout=120)
            assert (one.returncode, out) == (0, "done\n"), trouble
    finally:
        for one in processes:
            if one.poll() is None:
                one.kill()
                one.communicate()
    done = scratch.python(
        "from records.ledger.models import Entry\n"
        "numbers = list(Entry.objects.values_list('number', flat=True))\n"
        "assert numbers == list(range(1, 401)), numbers\n"
        "acts = list(Entry.objects.values_list('act', flat=True))\n"
        "print(len(set(acts)))"
    )
    assert done.stdout == "400\n", done.stderr
    assert scratch.manage("verify").returncode == 0
