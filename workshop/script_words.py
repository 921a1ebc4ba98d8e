"""The words of the scripts in the page's language.

A script says ``say("…")`` with its English sentence written out (``static/js/say.js``). What the
scripts say is collected from them once; a page in another language carries exactly these sentences
from the one catalogue, so a page kept for work without the network goes on speaking as it was kept.
A page in English carries nothing.
"""

import json
import re
from functools import lru_cache
from pathlib import Path
from typing import Final

from django.conf import settings
from django.http import HttpRequest
from django.utils.translation import get_language, gettext

from workshop import languages

SAID: Final = re.compile(r"\bsay\((\"(?:[^\"\\\n]|\\.)*\")")


def said_in(script: str) -> tuple[str, ...]:
    """Give every sentence that a script says.

    Examples
    --------
    >>> said_in('tell(say("Drop"), say("{n} rows", { n: 3 }));')
    ('Drop', '{n} rows')
    """
    return tuple(json.loads(written) for written in SAID.findall(script))


@lru_cache(maxsize=1)
def sentences() -> tuple[str, ...]:
    """Give every sentence of all scripts, once, in order."""
    folder = Path(settings.BASE_DIR) / "static" / "js"
    texts = (path.read_text(encoding="utf-8") for path in sorted(folder.glob("*.js")))
    return tuple(sorted({each for text in texts for each in said_in(text)}))


def catalogue() -> dict[str, str]:
    """Give the sentences that read differently in the language that is active."""
    made = {each: gettext(each) for each in sentences()}
    return {each: words for each, words in made.items() if words != each}


def words(_request: HttpRequest) -> dict[str, dict[str, str]]:
    """Give every template ``script_words``; empty where the page is in English."""
    is_first = (get_language() or languages.FIRST).startswith(languages.FIRST)
    return {"script_words": {} if is_first else catalogue()}
