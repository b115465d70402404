"""What goes into the log, and what does not."""

from __future__ import annotations

import logging
import re

# Addresses that are rights by themselves (records/people/urls.py): a tablet's link, a person's link.
_TOKEN = re.compile(r"(/(?:tablet|link)/)[^/\s?]+")


class WithoutTokens(logging.Filter):
    """Leaves the tokens of links out of every line: whoever reads a log must not be able to use one."""

    def filter(self, record: logging.LogRecord) -> bool:
        """Always true; the line's text is changed where it holds a token."""
        said = record.getMessage()
        cleaned = _TOKEN.sub(r"\1…", said)
        if cleaned != said:
            record.msg, record.args = cleaned, None
        return True
