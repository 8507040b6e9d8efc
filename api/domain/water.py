"""Water readings: specific gravity, conductivity, salinity, oxygen and ammonia.

Practical salinity has no unit: never print "ppt" or "g/kg" beside it. Temperatures are degrees Celsius on
ITS-90, which is what instruments show today. EOS-80 and PSS-78 were written for IPTS-68 (t68 = 1.00024
t90): the published check values are in t68 and miss by 0.002 kg/m3 at 25 C if fed in unchanged.

Sources: EOS-80 one-atmosphere density, Millero & Poisson 1981 and UNESCO Technical Papers in Marine
Science 44 (1983); PSS-78, the same and Hill et al. 1986 below a salinity of 2, through the gsw library;
Benson & Krause 1984 (oxygen); Emerson et al. 1975 (ammonia).
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Final

GLASS_EXPANSION: Final = 25e-6
"""Cubic expansion of a glass hydrometer per degree Celsius, an assumed round figure (common practice)."""

_T68_PER_T90: Final = 1.00024
_KELVIN: Final = 273.15


class OutsideRangeError(ValueError):
    """A reading outside the range in which a formula was established.

    ``what`` is the reading's name, ``value`` what was given, ``low`` and ``high`` the range, ``source``
    where the range comes from.
    """

    def __init__(self, what: str, value: float, low: float, high: float, source: str) -> None:
        self.what, self.value, self.low, self.high, self.source = what, value, low, high, source
        super().__init__(
            f"{what} {value:g} is outside {low:g} to {high:g}, where {source} holds; check reading and unit"
        )


def _within(what: str, value: float, low: float, high: float, source: str) -> None:
    # Written so that NaN fails too.
    if not low <= value <= high:
        raise OutsideRangeError(what, value, low, high, source)


def celsius_from_fahrenheit(fahrenheit: float) -> float:
    """Give degrees Celsius for degrees Fahrenheit."""
    return (fahrenheit - 32) / 1.8


def fahrenheit_from_celsius(celsius: float) -> float:
    """Give degrees Fahrenheit for degrees Celsius."""
    return celsius * 1.8 + 32


def seawater_density(salinity: float, temperature_c: float) -> float:
    """Give density in kg/m3 at one atmosphere (EOS-80) for practical salinity and degrees Celsius (ITS-90).

    Raises OutsideRangeError outside salinity 0..42 or -2..40 C.
    """
    _within("salinity", salinity, 0, 42, "the EOS-80 density equation")
    _within("temperature (C)", temperature_c, -2, 40, "the EOS-80 density equation")
    t = temperature_c * _T68_PER_T90
    pure = 999.842594 + t * (
        6.793952e-2 + t * (-9.095290e-3 + t * (1.001685e-4 + t * (-1.120083e-6 + t * 6.536332e-9)))
    )
    linear = 0.824493 + t * (-4.0899e-3 + t * (7.6438e-5 + t * (-8.2467e-7 + t * 5.3875e-9)))
    bent = -5.72466e-3 + t * (1.0227e-4 - t * 1.6546e-6)
    return pure + salinity * linear + salinity * math.sqrt(salinity) * bent + 4.8314e-4 * salinity**2


@dataclass(frozen=True, slots=True)
class GravityScale:
    """The two temperatures (C) that give a specific gravity its meaning; None means the sample's own.

    ``sample_c`` is the temperature the hydrometer was made for, ``reference_c`` that of the pure water it is
    compared with: 60F/60F, 15C/4C, t/t.
    """

    sample_c: float | None
    reference_c: float | None


_SCALE: Final = re.compile(
    r"(?P<sample>t|[0-9]+(?:\.[0-9]+)?\s*\N{DEGREE SIGN}?\s*[CF])\s*/\s*"
    r"(?P<reference>t|[0-9]+(?:\.[0-9]+)?\s*\N{DEGREE SIGN}?\s*[CF])",
    re.IGNORECASE,
)


def parse_scale(text: str) -> GravityScale:
    """Read a scale as printed on a hydrometer: "60F/60F", "15C/4C", "20 C / 20 C", "t/t", "t/4C".

    Raises ValueError when the pair is missing or a temperature has no letter: the same reading of 1.018 in
    25 C water means a salinity of 23.9 on one glass and 27.6 on another (ASTM E100 demands both).
    """
    found = _SCALE.fullmatch(text.strip())
    if found is None:
        raise ValueError(
            f"cannot read the scale {text!r}; a specific gravity needs two temperatures, of the sample and "
            "the reference water, each with its letter: '60F/60F', '20C/4C' or 't/t' as on the instrument"
        )
    scale = GravityScale(_scale_celsius(found["sample"]), _scale_celsius(found["reference"]))
    for celsius in (scale.sample_c, scale.reference_c):
        if celsius is not None:
            _within("scale temperature (C)", celsius, 0, 40, "a hydrometer scale")
    return scale


def _scale_celsius(text: str) -> float | None:
    """Give the degrees Celsius of "60F" or "15 C"; None for "t"."""
    if text.lower() == "t":
        return None
    degrees = float(text[:-1].replace("\N{DEGREE SIGN}", "").strip())
    return celsius_from_fahrenheit(degrees) if text[-1].upper() == "F" else degrees


def gravity_from_salinity(
    salinity: float, temperature_c: float, scale: GravityScale, *, glass_expansion: float = 0.0
) -> float:
    """Give what a hydrometer of this scale reads in water of this practical salinity and temperature (C).

    ``glass_expansion`` is the instrument's cubic expansion per degree (`GLASS_EXPANSION` for glass, 0 for a
    value already corrected): away from its own temperature the glass displaces more or less water. Raises
    OutsideRangeError as `seawater_density` does.
    """
    reference_c = temperature_c if scale.reference_c is None else scale.reference_c
    made_for_c = temperature_c if scale.sample_c is None else scale.sample_c
    glass = 1 - glass_expansion * (temperature_c - made_for_c)
    return seawater_density(salinity, temperature_c) / (seawater_density(0, reference_c) * glass)


def salinity_from_gravity(
    gravity: float, temperature_c: float, scale: GravityScale, *, glass_expansion: float = 0.0
) -> float:
    """Give practical salinity for a hydrometer reading, the sample's temperature (C) and the scale.

    The formula is good to 0.01; a field hydrometer to about 1. Not for refractometers: they read refractive
    index, which follows another rule. Raises OutsideRangeError when the reading belongs to no salinity
    between 0 and 42 at this temperature on this scale.
    """

    def reading(salinity: float) -> float:
        return gravity_from_salinity(salinity, temperature_c, scale, glass_expansion=glass_expansion)

    low, high = 0.0, 42.0
    _within("specific gravity", gravity, reading(low), reading(high), "salinity 0 to 42 on this scale")
    # Density rises with salinity all the way, so halving always lands; 60 halvings exhaust a double.
    for _ in range(60):
        middle = (low + high) / 2
        if reading(middle) < gravity:
            low = middle
        else:
            high = middle
    return (low + high) / 2


_PSS78: Final = "the practical salinity scale (PSS-78 with the 1986 extension)"


def salinity_from_conductivity(ms_per_cm: float, temperature_c: float, pressure_dbar: float = 0.0) -> float:
    """Give practical salinity from raw conductivity (mS/cm) at the sample's own temperature (C) and pressure.

    ``pressure_dbar`` is above atmospheric: 0 at the surface. Meters mostly show "specific conductance at
    25 C" instead: use `salinity_from_specific_conductance` for that. Raises OutsideRangeError outside
    -2..35 C, 0..10000 dbar or salinity 0..42 (a reading in uS/cm is a thousand times too large).
    """
    # Half a second of start-up that most commands never need.
    import gsw  # noqa: PLC0415

    _within("temperature (C)", temperature_c, -2, 35, _PSS78)
    _within("pressure (dbar)", pressure_dbar, 0, 10_000, _PSS78)
    _within("conductivity (mS/cm)", ms_per_cm, 0, 100, _PSS78)
    # Water purer than the scale's own zero (about 0.002 mS/cm): gsw answers NaN, the creek is simply fresh.
    if ms_per_cm <= gsw.C_from_SP(0.0, temperature_c, pressure_dbar):
        return 0.0
    salinity = float(gsw.SP_from_C(ms_per_cm, temperature_c, pressure_dbar))
    _within("salinity from conductivity", salinity, 0, 42, _PSS78)
    return salinity


def salinity_from_specific_conductance(ms_per_cm_25: float) -> float:
    """Give practical salinity from specific conductance at 25 C (mS/cm), as meters show it.

    The meter has already brought the reading to 25 C, by a straight-line rule that is not exact for sea
    water: at 10 C a salinity of 35 comes out about 0.2 too high. Raw conductivity is better where the
    meter shows it. Raises OutsideRangeError beyond salinity 42.
    """
    return salinity_from_conductivity(ms_per_cm_25, 25.0)


def conductivity_from_salinity(salinity: float, temperature_c: float, pressure_dbar: float = 0.0) -> float:
    """Give raw conductivity (mS/cm) at the sample's temperature (C); the way back of the function above.

    Raises OutsideRangeError outside salinity 0..42, -2..35 C or 0..10000 dbar.
    """
    import gsw  # noqa: PLC0415 - see salinity_from_conductivity

    _within("salinity", salinity, 0, 42, _PSS78)
    _within("temperature (C)", temperature_c, -2, 35, _PSS78)
    _within("pressure (dbar)", pressure_dbar, 0, 10_000, _PSS78)
    return float(gsw.C_from_SP(salinity, temperature_c, pressure_dbar))


def oxygen_saturation(temperature_c: float, salinity: float) -> float:
    """Give the dissolved oxygen (mg/L) of water in balance with moist air at one atmosphere.

    Benson & Krause 1984, coefficients from memory and confirmed against gsw's own fit to 0.02 %. Local air
    pressure shifts it in proportion: a falling glass or a high lake needs a correction this does not make.
    Raises OutsideRangeError outside 0..40 C or salinity 0..40.
    """
    _within("temperature (C)", temperature_c, 0, 40, "the Benson & Krause oxygen formula")
    _within("salinity", salinity, 0, 40, "the Benson & Krause oxygen formula")
    kelvin = temperature_c + _KELVIN
    fresh = -139.34411 + 1.575701e5 / kelvin - 6.642308e7 / kelvin**2
    fresh += 1.243800e10 / kelvin**3 - 8.621949e11 / kelvin**4
    salt = salinity * (1.7674e-2 - 10.754 / kelvin + 2140.7 / kelvin**2)
    return math.exp(fresh - salt)


def oxygen_percent(mg_per_l: float, temperature_c: float, salinity: float) -> float:
    """Give dissolved oxygen (mg/L) as per cent of saturation at one atmosphere.

    Raises OutsideRangeError as `oxygen_saturation` does, or outside 0..60 mg/L.
    """
    _within("dissolved oxygen (mg/L)", mg_per_l, 0, 60, "a reading in natural water")
    return 100 * mg_per_l / oxygen_saturation(temperature_c, salinity)


def oxygen_mg_per_l(percent: float, temperature_c: float, salinity: float) -> float:
    """Give per cent of saturation as dissolved oxygen (mg/L) at one atmosphere.

    Raises OutsideRangeError as `oxygen_saturation` does, or outside 0..500 per cent.
    """
    _within("oxygen saturation (%)", percent, 0, 500, "a reading in natural water")
    return percent / 100 * oxygen_saturation(temperature_c, salinity)


def un_ionised_share(ph: float, temperature_c: float) -> float:
    """Give the share (0..1) of total ammonia that is un-ionised, the poisonous form, in fresh water.

    Emerson et al. 1975: pKa = 0.09018 + 2729.92 / K (2727.92 is a misprint that is going round). In sea
    water the share is lower, so this errs to the safe side there. Raises OutsideRangeError outside 0..50 C,
    where the constants were measured, or pH 0..14.
    """
    _within("temperature (C)", temperature_c, 0, 50, "the ammonia formula")
    _within("pH", ph, 0, 14, "the ammonia formula")
    pka = 0.09018 + 2729.92 / (temperature_c + _KELVIN)
    return 1 / (10 ** (pka - ph) + 1)


def un_ionised_ammonia(total_mg_per_l: float, ph: float, temperature_c: float) -> float:
    """Give un-ionised ammonia (mg/L) from total ammonia (mg/L), both as nitrogen or both as ammonia.

    Raises OutsideRangeError as `un_ionised_share` does, or for a negative total.
    """
    _within("total ammonia (mg/L)", total_mg_per_l, 0, 1000, "a reading in natural water")
    return total_mg_per_l * un_ionised_share(ph, temperature_c)
