"""An address that names something which isn't there."""

from gaugewright.errors import InputError

__all__ = ["NotThere"]


class NotThere(InputError):
    """An address names something that isn't there."""
