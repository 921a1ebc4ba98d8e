"""Whether this computer's processor can run the fast reader of numbers.

Here: what its compiled part needs, and what the processor has, without loading that part. Not here:
reading (by_polars.py, by_numpy.py).
"""

import ctypes
import functools
import importlib
import importlib.util
import platform
from collections.abc import Iterable
from pathlib import Path

RUNTIMES = ("_polars_runtime_compat", "_polars_runtime_64", "_polars_runtime_32")
"""The compiled parts, in the order in which polars takes the first that is installed."""
X86 = frozenset({"x86_64", "x64", "amd64", "x86", "i386", "i486", "i586", "i686"})
NO_INSTRUCTIONS = frozenset({"", "crt-static", "ctr-static"})
"""Settings of the compiler that no processor has to know."""
CPUINFO = Path("/proc/cpuinfo")
OTHER_NAMES = {
    "pni": "sse3",
    "cx16": "cmpxchg16b",
    "abm": "lzcnt",
    "sse4_1": "sse4.1",
    "sse4_2": "sse4.2",
    "avx1.0": "avx",
}
"""What other systems call an instruction set, and what the compiler calls it."""
WINDOWS_FEATURES = {
    13: ("sse3",),
    14: ("cmpxchg16b",),
    36: ("ssse3",),
    37: ("sse4.1",),
    38: ("sse4.2", "popcnt", "pclmulqdq"),
    39: ("avx",),
    40: ("avx2", "fma", "bmi1", "bmi2", "lzcnt", "movbe"),
}
"""Numbers of IsProcessorFeaturePresent. It does not know every set by itself; what came into
processors together with a set it knows stands beside that one."""
MACOS_LISTS = (
    b"machdep.cpu.features",
    b"machdep.cpu.leaf7_features",
    b"machdep.cpu.extfeatures",
)
LONGEST_LIST_BYTES = 4096


@functools.cache
def can_run_polars() -> bool:
    """Tell whether polars is installed and this processor has every instruction it uses.

    Returns
    -------
    can : bool
        False where that cannot be told.
    """
    needed = needed_instructions()
    if needed is None:
        return False
    if not needed or platform.machine().casefold() not in X86:
        return True
    return needed <= present_instructions(platform.system())


def needed_instructions() -> frozenset[str] | None:
    """Return the instruction sets that the installed compiled part was built for.

    Returns
    -------
    needed : frozenset of str or None
        None where polars is not there whole, or does not say it.
    """
    if importlib.util.find_spec("polars") is None:
        return None
    runtime = next((each for each in RUNTIMES if importlib.util.find_spec(each)), None)
    if runtime is None:
        return None
    said = getattr(importlib.import_module(runtime), "BUILD_FEATURE_FLAGS", None)
    return built_for(said) if isinstance(said, str) else None


def built_for(flags: str) -> frozenset[str]:
    """Return the instruction sets that a compiler's flags switch on.

    Parameters
    ----------
    flags : str
        Names with a sign, a comma between them.

    Returns
    -------
    needed : frozenset of str
        Without the sign.

    Examples
    --------
    >>> sorted(built_for("+avx,+avx2,-sse4a,+crt-static"))
    ['avx', 'avx2']
    """
    names = (each.strip() for each in flags.split(",") if not each.strip().startswith("-"))
    return frozenset(name.lstrip("+") for name in names) - NO_INSTRUCTIONS


def present_instructions(system: str) -> frozenset[str]:
    """Return the instruction sets of this processor that programs may use.

    Parameters
    ----------
    system : str
        As `platform.system` names it.

    Returns
    -------
    present : frozenset of str
        Nothing where the system is unknown or does not say it.
    """
    try:
        if system == "Linux":
            return of_cpuinfo(CPUINFO.read_text(encoding="ascii", errors="replace"))
        if system == "Windows":
            return _of_windows()
        if system == "Darwin":
            return _of_macos()
    except (OSError, AttributeError):
        pass
    return frozenset()


def of_cpuinfo(text: str) -> frozenset[str]:
    r"""Return the instruction sets that every processor of a Linux computer has.

    Parameters
    ----------
    text : str
        What stands in /proc/cpuinfo.

    Returns
    -------
    present : frozenset of str
        By the compiler's names.

    Examples
    --------
    >>> sorted(of_cpuinfo("model name : invented\nflags : sse sse4_1 avx2\n"))
    ['avx2', 'sse', 'sse4.1']
    """
    lines = (line.partition(":") for line in text.splitlines())
    each = [_named(value.split()) for name, _, value in lines if name.strip() == "flags"]
    return frozenset.intersection(*each) if each else frozenset()


def _named(names: Iterable[str]) -> frozenset[str]:
    """Put names of instruction sets into the compiler's words."""
    plain = (name.casefold() for name in names)
    return frozenset(OTHER_NAMES.get(name, name) for name in plain)


def _of_windows() -> frozenset[str]:
    """Ask Windows for each feature it knows a number of."""
    kernel = ctypes.CDLL("kernel32.dll")
    known = WINDOWS_FEATURES.items()
    found = (names for number, names in known if kernel.IsProcessorFeaturePresent(number))
    return frozenset(name for names in found for name in names)


def _of_macos() -> frozenset[str]:
    """Ask macOS for its lists; a translated program is told what the translation can do."""
    library = ctypes.CDLL("libc.dylib")
    names: list[str] = []
    for asked in MACOS_LISTS:
        answer = ctypes.create_string_buffer(LONGEST_LIST_BYTES)
        size = ctypes.c_size_t(LONGEST_LIST_BYTES)
        if library.sysctlbyname(asked, answer, ctypes.byref(size), None, ctypes.c_size_t(0)) == 0:
            names += answer.value.decode("ascii", errors="replace").split()
    return _named(names)
