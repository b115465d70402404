"""Running a library's coroutine from ordinary code, also where an event loop runs (browser tests, ASGI)."""

from __future__ import annotations

import asyncio
from collections.abc import Coroutine
from concurrent.futures import ThreadPoolExecutor
from typing import Any, TypeVar

Result = TypeVar("Result")


def complete(coroutine: Coroutine[Any, Any, Result]) -> Result:
    """The coroutine's result."""
    try:
        asyncio.get_running_loop()
    except RuntimeError:
        return asyncio.run(coroutine)
    with ThreadPoolExecutor(max_workers=1) as thread:
        return thread.submit(asyncio.run, coroutine).result()
