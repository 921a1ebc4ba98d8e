"""Counts what a person does at a tablet: each tap, each field filled, each key beyond typing."""

from dataclasses import dataclass

from playwright.sync_api import Locator, Page


@dataclass
class Stopwatch:
    """A person whose acts are counted, one each."""

    page: Page
    acts: int = 0

    def tap(self, target: Locator) -> None:
        """Tap something."""
        self.acts += 1
        target.click()

    def fill(self, field: Locator, words: str) -> None:
        """Fill a field in, however long the words are."""
        self.acts += 1
        field.fill(words)

    def choose(self, field: Locator, chosen: str) -> None:
        """Choose from a list."""
        self.acts += 1
        field.select_option(chosen)

    def press(self, key: str) -> None:
        """Press a key that types nothing."""
        self.acts += 1
        self.page.keyboard.press(key)
