"""Documents in one place: lay out, sign, check. (Importing this loads the layout engine: half a second.)"""

from plant.signing.appearance import DoesNotFit
from plant.signing.check import SignatureReport, UnreadablePdf, check_pdf
from plant.signing.render import AttachedFile, render_pdf
from plant.signing.sign import CannotSign, NewField, sign_pdf
from plant.signing.static_files import FileRefused

__all__ = [
    "AttachedFile",
    "CannotSign",
    "DoesNotFit",
    "FileRefused",
    "NewField",
    "SignatureReport",
    "UnreadablePdf",
    "check_pdf",
    "render_pdf",
    "sign_pdf",
]
