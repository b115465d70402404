"""The only files that a document may draw on: those of the static folder. No network, no other path."""

from __future__ import annotations

import io
import mimetypes
from functools import lru_cache
from pathlib import Path
from typing import Any
from urllib.parse import unquote, urlsplit

from fontTools.ttLib import TTFont, woff2
from weasyprint.urls import FatalURLFetchingError, URLFetcher, URLFetcherResponse

# A host that can never exist (RFC 2606, section 2), so a path in the page can only mean the static folder.
ORIGIN = "https://document.invalid"
FULL_NAME = 4  # OpenType, table name: family, weight and style


class FileRefused(FatalURLFetchingError):  # type: ignore[misc]  # the library has no type information
    """A document asked for something outside the static folder, or not there. It stops the layout.

    A record must not come out looking different because a font or a style sheet was missing.
    """


class StaticFiles(URLFetcher):  # type: ignore[misc]  # the library has no type information
    """Answers the layout's requests from one folder; `data:` addresses carry their own content and pass."""

    def __init__(self, folder: Path, url: str = "/static/") -> None:
        super().__init__(allowed_protocols=["data"], allow_redirects=False)
        self._folder = folder.resolve()
        self._url = url
        self._faces: dict[str, Path] = {}

    @property
    def base_url(self) -> str:
        """What a relative address in the page starts from."""
        return ORIGIN + self._url

    def fetch(self, url: str, headers: dict[str, str] | None = None) -> Any:
        """The content of a file in the folder. Raises FileRefused for anything else."""
        if url.lower().startswith("data:"):
            return super().fetch(url, headers)
        path = self._path(url)
        if path.suffix == ".woff2":
            font, face = _unpacked_font(path, path.stat().st_mtime_ns)
            self._require_whole_face(face, path)
            return URLFetcherResponse(url, font, {"Content-Type": "font/ttf"})
        kind = mimetypes.guess_type(path.name)[0] or "application/octet-stream"
        return URLFetcherResponse(url, path.read_bytes(), {"Content-Type": kind})

    def _require_whole_face(self, face: str, path: Path) -> None:
        # The engine keys fonts by family, weight and style: of a face in two files it would draw the letters of one
        # with the outlines of the other, and a name on a record would come out as other letters.
        other = self._faces.setdefault(face, path)
        if other != path:
            raise FileRefused(f"{other.name} and {path.name} are parts of one face ({face}). Make one file of them.")

    def _path(self, url: str) -> Path:
        parts = urlsplit(url)
        if f"{parts.scheme}://{parts.netloc}" != ORIGIN or not parts.path.startswith(self._url):
            raise FileRefused(f"A document may use the plant's static files only, not {url!r}.")
        path = (self._folder / unquote(parts.path[len(self._url) :])).resolve()
        if not path.is_relative_to(self._folder):
            raise FileRefused(f"{url!r} leaves the static folder.")
        if not path.is_file():
            raise FileRefused(f"{path} is missing, and the document needs it. Put it back and try again.")
        return path


@lru_cache(maxsize=64)
def _unpacked_font(path: Path, changed: int) -> tuple[bytes, str]:
    """A WOFF2 font as plain TrueType, and the full name of its face.

    Unpacking takes longer than laying out a page: once a process will do.

    `changed` is the file's time of change: a new file under the old name is unpacked anew.
    """
    output = io.BytesIO()
    try:
        woff2.decompress(io.BytesIO(path.read_bytes()), output)
        face = TTFont(io.BytesIO(output.getvalue()), lazy=True)["name"].getDebugName(FULL_NAME) or path.name
    except Exception as error:  # the engine would pass over it in silence and take another font
        raise FileRefused(f"{path} is no readable font. Put the right file back and try again.") from error
    return output.getvalue(), face
