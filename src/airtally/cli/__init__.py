"""The command line: arguments in, text and exit code out.

Exit codes: 0 done, 1 the input has problems, 2 wrong usage. Rooms are imported inside the commands, so
that help is quick; numbers are neither computed nor rounded here.
"""

from __future__ import annotations

from airtally.cli.folder_verbs import main
from airtally.cli.store_verbs import VERBS

for verb in VERBS:
    main.add_command(verb)

__all__ = ["main"]
