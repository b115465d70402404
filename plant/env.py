"""Typed readers for the environment: a bad value stops the start with the setting's name."""

from __future__ import annotations

import os
from pathlib import Path

from django.core.exceptions import ImproperlyConfigured


def text(name: str, default: str = "") -> str:
    """The setting as text; NAME_FILE names a file that holds it instead (for secrets)."""
    file_name = os.environ.get(f"{name}_FILE")
    if file_name:
        try:
            return Path(file_name).read_text(encoding="utf-8").strip()
        except OSError as error:
            raise ImproperlyConfigured(f"{name}_FILE names {file_name}, which cannot be read: {error}") from error
    return os.environ.get(name, default)


def flag(name: str, default: bool = False) -> bool:
    """True or False, spelled so; anything else is refused."""
    value = os.environ.get(name)
    if value is None:
        return default
    if value not in {"True", "False"}:
        raise ImproperlyConfigured(f"{name} is {value!r}: write True or False.")
    return value == "True"


def whole(name: str, default: int, *, low: int, high: int) -> int:
    """A whole number between low and high, both included."""
    value = os.environ.get(name)
    if value is None:
        return default
    try:
        number = int(value)
    except ValueError as error:
        raise ImproperlyConfigured(f"{name} is {value!r}: write a whole number.") from error
    if not low <= number <= high:
        raise ImproperlyConfigured(f"{name} is {number}: it must lie between {low} and {high}.")
    return number


def listed(name: str, default: str = "") -> list[str]:
    """Values separated by commas."""
    return [part.strip() for part in text(name, default).split(",") if part.strip()]


def not_without_its_log(file: Path) -> None:
    """Refuse an SQLite file that is gone or empty while its write-ahead log is there.

    SQLite would make the file anew and throw the log away, and with it the last records: those that were acknowledged
    and not yet written into the file (tried with SQLite 3.40).
    """
    log = file.with_name(f"{file.name}-wal")
    try:
        left = log.stat().st_size > 0 and (not file.exists() or file.stat().st_size == 0)
    except OSError:
        return
    if left:
        raise ImproperlyConfigured(
            f"{file} is gone or empty, but {log.name} beside it still holds records: a new database here would erase "
            f"them. Put the file back, or move {log.name} and {file.name}-shm to where it was moved."
        )


def folder(name: str, default: Path) -> Path:
    """A folder's path; it is made when first needed, not here."""
    return Path(text(name) or default).expanduser().resolve()
