"""Optional packages: brought in where they are used, or named with the line that installs them."""

import importlib
from types import ModuleType

from gaugewright.errors import MissingExtraError

__all__ = ["needs"]


def needs(package: str, *, extra: str, to: str) -> ModuleType:
    """An optional package, imported now.

    Parameters
    ----------
    package : str
        Name by which it is imported.
    extra : str
        Extra of this package that brings it.
    to : str
        What it is wanted for, after "to": "count cycles quickly".

    Returns
    -------
    module
        The package.

    Raises
    ------
    MissingExtraError
        If it isn't installed, with the line that installs it.
    """
    try:
        return importlib.import_module(package)
    except ModuleNotFoundError as error:
        # A package that is there but lacks a part of its own is a different fault.
        if error.name is None or error.name.partition(".")[0] != package.partition(".")[0]:
            raise
        raise MissingExtraError(package, extra, to) from error
