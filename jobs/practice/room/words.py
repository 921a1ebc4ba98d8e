"""How a display of the practice bench writes what a colleague or an instrument would type."""

from workshop.figures_text import quantity

__all__ = ["display_text", "ohm_words"]


def ohm_words(typed: str) -> str:
    r"""Write ohms as a tester's display does.

    Examples
    --------
    >>> ohm_words(">550000000")
    '> 550\xa0MΩ'
    """
    above = typed.startswith(">")
    return f"{'> ' if above else ''}{quantity(float(typed.lstrip('>')), 'Ω')}"


def display_text(raw: object) -> tuple[str, ...]:
    """Write what is read for a card as lines of a display, whatever its shape."""
    if isinstance(raw, dict):
        cells = {k: v["number"] if isinstance(v, dict) else v for k, v in raw.items()}
        return tuple(f"{name}: {cell}" for name, cell in cells.items())
    if isinstance(raw, list):
        return tuple("; ".join(str(cell) for cell in row) for row in raw)
    return (str(raw),)
