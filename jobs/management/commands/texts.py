"""The texts that people read, and how far each language is."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from typing_extensions import override

from jobs.texts import collected
from jobs.texts.catalogue import languages, path_of, state_of, update

SHOWN = 20


class Command(BaseCommand):
    """``texts`` counts; ``texts de`` brings a language's catalogue to the source."""

    help = (
        "Says what is not translated yet. With a language, such as de, it brings that language's "
        "catalogue to the source and compiles it; fill in what is empty there and run it again."
    )
    requires_system_checks = ()

    @override
    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("language", nargs="?", default="")

    @override
    def handle(self, *_args: Any, language: str, **_options: Any) -> None:
        told = collected()
        if language:
            update(language, told)
            self.stdout.write(f"Written: {path_of(language)}")
        lacking = 0
        for each in (language,) if language else languages():
            state = state_of(each, told)
            done = state.texts - len(state.missing)
            self.stdout.write(f"{each}: {done} of {state.texts} texts, {len(state.stale)} stale")
            for text in state.missing[:SHOWN]:
                self.stdout.write(f"  missing: {text}")
            lacking += len(state.missing) + len(state.stale)
        if lacking and not language:
            raise CommandError("Not complete. Run texts with the language and fill in the rest.")
