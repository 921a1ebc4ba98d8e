"""While it serves: notices a new address of this computer, and a certificate that ends soon.

The server then ends its worker and starts another, which answers by the new names with the new
certificate (`workshop.serving.server`). What a tablet was sending meanwhile it sends again.
"""

import logging
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Final

from workshop.serving.authority import keeping
from workshop.serving.authority.keeping import Told

__all__ = ["LOOK_EVERY_S", "Names", "Renewal", "can_be_made_anew"]

LOOK_EVERY_S: Final = 30.0
AFTER_FAULT: Final = timedelta(hours=1)
"""How long after one that failed it is tried again."""
LOG = logging.getLogger("coldbus.renewal")

Names = tuple[str, ...]


def can_be_made_anew(folder: Path, names: Names, now: datetime) -> bool:
    """Say whether the server's certificate should be made anew, and can be."""
    told: Told | None = keeping.told(folder)
    return told is not None and told.key_here and not keeping.still_good(folder, names, now)


@dataclass
class Renewal:
    """What is looked at, and what is done between one worker and the next.

    Attributes
    ----------
    folder : Path | None
        Data folder with the certificates; None where plain http is served alone.
    names : tuple[str, ...]
        Names and addresses that are answered now.
    names_now : Callable[[], tuple[str, ...]]
        Gives those that this computer has.
    renew : Callable[[tuple[str, ...]], None]
        Has the next worker answer by these names.
    """

    folder: Path | None
    names: Names
    names_now: Callable[[], Names]
    renew: Callable[[Names], None]
    seen: Names = ()
    not_before: datetime | None = None

    def is_due(self, now: datetime) -> bool:
        """Look once; an address has to be there twice in a row, as one that comes and goes is not.

        An address that is gone asks for nothing: the certificate goes on standing for the others.
        """
        if self.not_before is not None and now < self.not_before:
            return False
        fresh = self.names_now()
        steady, self.seen = fresh == self.seen, fresh
        if steady and set(fresh) - set(self.names):
            return True
        return self.folder is not None and can_be_made_anew(self.folder, self.names, now)

    def do(self, now: datetime) -> None:
        """Renew; a fault is logged and leaves everything as it is, for a while."""
        gained = [each for each in self.seen if each not in self.names]
        names = (*self.names, *gained)
        self.not_before = now + AFTER_FAULT
        try:
            self.renew(names)
        except Exception:
            # The server goes on with what it has; Today tells of a certificate that ends.
            LOG.exception("The server's certificate could not be made anew.")
            return
        self.names, self.not_before = names, None
        LOG.info("Answering by %s from now on.", ", ".join(each for each in names if each))
