#!/usr/bin/env python3
"""Prepares its own environment where something is missing, then is Django's usual command line.

`demo` and `test` also look for the Debian packages that they need; `test` runs the whole suite
(tests/run_suite.py). DAYBOOK_PREPARE=off leaves everything as it is. Only the standard library is used until
Django can be imported.
"""

import os
import sys


def run(argv):
    """Prepares what argv[1] needs, then runs it. Returns the exit status, or leaves by SystemExit."""
    from plant import bootstrap

    bootstrap.prepare(argv)
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "plant.settings")
    if argv[1:2] == ["demo"]:
        from plant.demo import environment

        environment.point(argv[2:])
    if argv[1:2] == ["test"]:
        from tests.run_suite import main as run_suite

        return run_suite(argv[2:])
    from django.core.exceptions import ImproperlyConfigured
    from django.core.management import execute_from_command_line

    try:
        execute_from_command_line(argv)
    except ImproperlyConfigured as error:
        sys.exit(f"daybook: {error}")
    return 0


def main():
    """The door for people: each known trouble is one sentence, not a traceback."""
    version = tuple(sys.version_info[:2])
    if version < (3, 11):
        sys.exit(f"daybook: Python 3.11 or newer is needed; this is Python {version[0]}.{version[1]}.")
    try:
        sys.exit(run(sys.argv))
    except KeyboardInterrupt:
        print("\ndaybook: stopped at your request.", file=sys.stderr)
        sys.exit(130)


if __name__ == "__main__":
    main()
