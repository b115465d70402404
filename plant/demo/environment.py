"""Before Django reads its settings, `manage.py demo` points them at a folder of its own. Standard library only.

The demo never opens a plant's database, keys or files: whatever the environment says of those is put aside for this
process, and a DATABASE_URL is refused, so that nobody thinks the demo went there.
"""

from __future__ import annotations

import argparse
import ipaddress
import os
import secrets
import sys
from collections.abc import Sequence
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
DEFAULT_FOLDER = ROOT / ".daybook" / "demo"
DATABASE, KEYS, FILES, SECRET, STATE = "daybook.sqlite3", "keys", "files", "secret", "demo.json"


class CannotDemo(Exception):
    """Its text is the one sentence that the person needs."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The options of `manage.py demo`; Django's command and the look before it share them."""
    parser.add_argument("--once", action="store_true", help="build, sign and verify the invented days; do not serve")
    parser.add_argument("--out", type=Path, metavar="DIR", help="with --once: the folder for sheets, database, keys")
    parser.add_argument("--dir", type=Path, metavar="DIR", help="where the served demo keeps what it builds")
    parser.add_argument("--host", default="127.0.0.1", help="address to serve at (127.0.0.1)")
    parser.add_argument("--port", type=int, default=8000, help="port to serve at (8000)")


def folder_of(options: argparse.Namespace) -> Path:
    """The demo's folder; CannotDemo when the options do not go together."""
    if options.once != (options.out is not None):
        raise CannotDemo("--once and --out DIR go together: the folder takes the sheets, the database and the keys.")
    if options.once and options.dir is not None:
        raise CannotDemo("--dir is for serving; --once puts everything into --out.")
    if not 0 <= options.port <= 65535:
        raise CannotDemo(f"{options.port} is no port: choose one from 1 to 65535.")
    chosen = options.out or options.dir or DEFAULT_FOLDER
    return Path(os.path.abspath(os.path.expanduser(chosen)))


def point(arguments: Sequence[str]) -> None:
    """Point the settings at the demo's folder, or end with one sentence and status 1."""
    parser = argparse.ArgumentParser(add_help=False)
    add_arguments(parser)
    if {"-h", "--help"} & set(arguments):
        return
    options, _rest = parser.parse_known_args(arguments)
    try:
        _point(options)
    except CannotDemo as trouble:
        print(f"daybook: {trouble}", file=sys.stderr)
        sys.exit(1)


def _point(options: argparse.Namespace) -> None:
    if os.environ.get("DATABASE_URL") or os.environ.get("DATABASE_URL_FILE"):
        raise CannotDemo(
            "DATABASE_URL is set, and the demo never touches a database that it did not make: run it without "
            "(env -u DATABASE_URL python3 manage.py demo …)."
        )
    folder = folder_of(options)
    make_folder(folder)
    for name in ("DATABASE_URL", "DATA_DIR", "KEYS_DIR", "FILES_DIR", "STATIC_ROOT", "SECRET_KEY", "SECRET_KEY_FILE"):
        os.environ.pop(name, None)
        os.environ.pop(f"{name}_FILE", None)
    os.environ["DATABASE_URL"] = f"sqlite:///{folder / DATABASE}"
    os.environ["DATA_DIR"] = str(folder)
    os.environ["SECRET_KEY"] = secret(folder)
    os.environ["EMAIL_URL"] = "console:"
    os.environ["DEBUG"] = "False"
    os.environ["ALLOWED_HOSTS"] = allowed_hosts(options.host)


def make_folder(folder: Path) -> None:
    """The folder, for its owner alone when it is new; CannotDemo when it cannot be made or written."""
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    except OSError as error:
        raise CannotDemo(f"the folder {folder} cannot be made: {error.strerror}.") from error
    if not os.access(folder, os.W_OK | os.X_OK, effective_ids=os.access in os.supports_effective_ids):
        raise CannotDemo(f"the folder {folder} cannot be written: choose another one.")


def secret(folder: Path) -> str:
    """The demo's own secret key, in a file that only its owner reads."""
    path = folder / SECRET
    try:
        try:
            descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        except FileExistsError:
            kept = path.read_text(encoding="ascii").strip()
            if kept:
                return kept
            descriptor = os.open(path, os.O_WRONLY | os.O_TRUNC)
        with os.fdopen(descriptor, "w", encoding="ascii") as file:
            made = secrets.token_urlsafe(48)
            file.write(made)
        return made
    except OSError as error:
        raise CannotDemo(f"{path} cannot be written: {error.strerror}.") from error


def allowed_hosts(host: str) -> str:
    """The names under which the pages may be asked for; every one where it listens to the whole network."""
    try:
        everywhere = ipaddress.ip_address(host).is_unspecified
    except ValueError:
        everywhere = False
    return "*" if everywhere else ",".join(dict.fromkeys(["localhost", "127.0.0.1", "[::1]", host]))
