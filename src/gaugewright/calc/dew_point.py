"""At what temperature does dew form on metal in the air of the hall?"""

import numpy as np
from numpy.typing import ArrayLike

from gaugewright.calc import allowed
from gaugewright.quantities import FloatArray

__all__ = ["dew_point"]

# Over water: saturation pressure goes with exp(17.62 T / (243.12 + T)).
_SLOPE, _POLE = 17.62, 243.12


def dew_point(temperature_degc: ArrayLike, humidity: ArrayLike) -> FloatArray:
    """Dew point of air, by the Magnus formula over water.

    WMO Guide to Instruments and Methods of Observation, annex 4.B, with its constants 17.62 and
    243.12 °C; good to a few hundredths of a kelvin between -45 and 60 °C (from memory). A hand
    hygrometer's own limits are far wider.

    Parameters
    ----------
    temperature_degc : float or array
        Of the air, from -45 to 60 [degC].
    humidity : float or array
        Above 0, up to 1 [1].

    Returns
    -------
    dew_point_degc : array of the broadcast shape
        Never above the air's temperature [degC].

    Raises
    ------
    InputError
        If either lies outside.

    Examples
    --------
    >>> dew_point(21.5, 0.48).round(1).item()
    10.0
    """
    air = np.asarray(temperature_degc, dtype=np.float64)
    wet = np.asarray(humidity, dtype=np.float64)
    with allowed.Together("air") as given:
        inside = bool(np.all((air >= -45) & (air <= 60)))
        given.holds("temperature_degc", temperature_degc, "from -45 to 60 °C", if_=inside)
        above = bool(np.all((wet > 0) & (wet <= 1)))
        given.holds("humidity", humidity, "above 0 and up to 1", if_=above)
    power = np.log(wet) + _SLOPE * air / (_POLE + air)
    return np.asarray(_POLE * power / (_SLOPE - power))
