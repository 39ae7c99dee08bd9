"""The one door to resources/ and sample_stands/: beside the package in a checkout, inside it once installed."""

from __future__ import annotations

from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent


def _folder(installed: str, checkout: str) -> Path:
    inside = _PACKAGE / installed
    return inside if inside.is_dir() else _PACKAGE.parent / checkout


def resource(*parts: str) -> Path:
    """Return the path of a file or folder under resources/."""
    return _folder("_resources", "resources").joinpath(*parts)


def sample_stand(*parts: str) -> Path:
    """Return the path of a file or folder under sample_stands/."""
    return _folder("_sample_stands", "sample_stands").joinpath(*parts)
