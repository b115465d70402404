"""What an act on a deviation or hold may refuse: the one kind of refusal that every act shares."""

from records.people.refused import Refused

__all__ = ["Refused"]
