"""Thermal output of a pack whose card gives no curve: none on its metal, with an assumed doubt."""

from gaugewright.records.gauges import GaugePack, ThermalOutput
from gaugewright.records.stated import Basis, Meaning, Stated
from gaugewright.services.campaign.book import Book
from gaugewright.services.campaign.laboratory import limit_or_shipped

__all__ = ["flat_curve"]

_LOW_DEGC, _HIGH_DEGC = -40.0, 120.0


def flat_curve(book: Book, pack: GaugePack, expansion: float) -> ThermalOutput:
    """Curve of a gauge that is matched to a metal of some expansion, as nobody measured it [1/K].

    Its doubt per degree is the limit "planned thermal output doubt", and assumed.
    """
    limit = limit_or_shipped(book, "planned thermal output doubt")
    slope = Stated(0.0, limit.value, Meaning.LIMIT, Basis.ASSUMED, limit.source)
    return ThermalOutput((0.0,), pack.gauge_factor.value, expansion, _LOW_DEGC, _HIGH_DEGC, slope)
