"""The settings for tests and mypy: a key that nobody keeps, no file of a real plant within reach."""

import os
import tempfile

os.environ.setdefault("SECRET_KEY", "for tests only, never for a plant")
os.environ.setdefault("DATA_DIR", os.path.join(tempfile.gettempdir(), f"daybook-tests-{os.getuid()}"))

from plant.settings import *  # noqa: F403
