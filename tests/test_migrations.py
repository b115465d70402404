"""The migrations say what the models say."""

from __future__ import annotations

from io import StringIO

import pytest
from django.core.management import call_command

pytestmark = pytest.mark.once


@pytest.mark.django_db
def test_no_model_change_lacks_its_migration() -> None:
    """makemigrations would write nothing."""
    output = StringIO()
    call_command("makemigrations", "--check", "--dry-run", stdout=output)
    assert "No changes detected" in output.getvalue()
