"""How many generated bodies each form gets: 30; 2,000 with THOROUGH=1, by hand.

The second run of the whole suite, on PostgreSQL, sends 8: the forms are the same, what differs is what a column takes.
"""

import os

from tests.selection import AGAIN

BODIES = 2000 if os.environ.get("THOROUGH") else 8 if os.environ.get(AGAIN) else 30
