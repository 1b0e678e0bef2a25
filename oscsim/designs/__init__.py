"""Demo movements of our own invention, one design file each, and demo readings and series taken of them."""

from __future__ import annotations

from importlib import resources

from oscsim.errors import InputError, nearest, shown

#: The bundled design that commands use when none is named.
DEFAULT_DESIGN = "dockhand"


def bundled() -> list[str]:
    """Names of the bundled demo designs, sorted."""
    folder = resources.files(__name__)
    return sorted(item.name.removesuffix(".toml") for item in folder.iterdir() if item.name.endswith(".toml"))


def bundled_text(name: str) -> str:
    """The file of a bundled design, as it stands; raises InputError for an unknown name."""
    if name not in bundled():
        raise InputError(f"design {shown(name)}: no bundled design of that name; {nearest(name, bundled())}")
    return (resources.files(__name__) / f"{name}.toml").read_text("utf-8")


def bundled_readings() -> list[str]:
    """Names of the bundled demo readings, sorted; each begins with its design's name."""
    folder = resources.files(__name__) / "readings"
    return sorted(item.name.removesuffix(".csv") for item in folder.iterdir() if item.name.endswith(".csv"))


def bundled_readings_text(name: str) -> str:
    """The file of bundled readings, as it stands; raises InputError for an unknown name."""
    known = bundled_readings()
    if name not in known:
        raise InputError(f"readings {shown(name)}: no bundled readings of that name; {nearest(name, known)}")
    return (resources.files(__name__) / "readings" / f"{name}.csv").read_text("utf-8")


def bundled_series() -> list[str]:
    """Names of the bundled demo series of amplitudes, sorted; each begins with its design's name."""
    folder = resources.files(__name__) / "series"
    return sorted(item.name.removesuffix(".csv") for item in folder.iterdir() if item.name.endswith(".csv"))


def bundled_series_text(name: str) -> str:
    """The file of a bundled series, as it stands; raises InputError for an unknown name."""
    known = bundled_series()
    if name not in known:
        raise InputError(
            f"series {shown(name)}: no such file, and no bundled series of that name; {nearest(name, known)}"
        )
    return (resources.files(__name__) / "series" / f"{name}.csv").read_text("utf-8")
