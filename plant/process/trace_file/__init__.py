"""Files of loggers and recorders: what form one has, how a person maps its columns, and the samples that it holds."""

from plant.process.trace_file.guess import HEAD, Column, Shape, guess
from plant.process.trace_file.mapping import ChannelColumn, Mapping, TimeColumns
from plant.process.trace_file.reading import read
from plant.process.trace_file.refusals import FileRefused, Rejected
from plant.process.trace_file.result import Channel, Contradiction, Contradictions, Parsed, ParsedRow

__all__ = [
    "HEAD",
    "Channel",
    "ChannelColumn",
    "Column",
    "Contradiction",
    "Contradictions",
    "FileRefused",
    "Mapping",
    "Parsed",
    "ParsedRow",
    "Rejected",
    "Shape",
    "TimeColumns",
    "guess",
    "read",
]
