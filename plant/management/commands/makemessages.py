"""Django's makemessages, which also collects the sentences of pure code: say("…")."""

from __future__ import annotations

from typing import Any

from django.core.management.commands import makemessages

# What these say is for the terminal, in English: other functions of that name.
TERMINAL = ["bootstrap*.py", "demo.py", "*/demo/*"]


class Command(makemessages.Command):
    """`manage.py makemessages`."""

    xgettext_options = [*makemessages.Command.xgettext_options, "--keyword=say"]

    def handle(self, *args: Any, **options: Any) -> None:
        """Leave out what speaks at the terminal alone."""
        options["ignore_patterns"] = [*(options["ignore_patterns"] or []), *TERMINAL]
        super().handle(*args, **options)
