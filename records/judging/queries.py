"""Verdicts of subjects: the latest governs, all are shown."""

from __future__ import annotations

from collections.abc import Iterable

from records.judging.models import Verdict


def all_verdicts(subject_kind: str, numbers: Iterable[int]) -> dict[int, list[Verdict]]:
    """Each subject's verdicts, oldest first; one query."""
    found: dict[int, list[Verdict]] = {}
    rows = Verdict.objects.filter(subject_kind=subject_kind, subject_number__in=list(numbers)).order_by("number")
    for row in rows:
        found.setdefault(row.subject_number, []).append(row)
    return found


def governing(subject_kind: str, numbers: Iterable[int]) -> dict[int, Verdict]:
    """The verdict that governs each subject; one query."""
    return {number: rows[-1] for number, rows in all_verdicts(subject_kind, numbers).items()}
