"""Reading gettext's .po files: what the tests of the translations compare."""

from __future__ import annotations

import ast
from dataclasses import dataclass, field
from pathlib import Path


@dataclass
class Message:
    """One message: its English, its plural, its context, its translations by plural form, its flags."""

    english: str = ""
    context: str = ""
    plural: str = ""
    said: dict[int, str] = field(default_factory=dict)
    flags: set[str] = field(default_factory=set)

    @property
    def key(self) -> str:
        """As a compiled file names it."""
        return f"{self.context}\x04{self.english}" if self.context else self.english


def messages(path: Path) -> list[Message]:
    """The messages of a .po file in order, without its header and without what is commented out."""
    found = [_message(part) for part in path.read_text(encoding="utf-8").split("\n\n")]
    return [one for one in found if one.english]


def _message(part: str) -> Message:
    message, kept = Message(), ""
    for line in part.splitlines():
        if line.startswith("#,"):
            message.flags.update(flag.strip() for flag in line[2:].split(","))
        if line.startswith("#") or not line:
            continue
        if not line.startswith('"'):
            kept, line = line.split(" ", 1)
        text = ast.literal_eval(line)
        if kept == "msgctxt":
            message.context += text
        elif kept == "msgid":
            message.english += text
        elif kept == "msgid_plural":
            message.plural += text
        elif kept.startswith("msgstr"):
            form = int(kept[7:-1]) if kept != "msgstr" else 0
            message.said[form] = message.said.get(form, "") + text
    return message
