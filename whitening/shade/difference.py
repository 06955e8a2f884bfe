"""Colour differences and the whiteness index for dentistry.

A difference has no direction: a darker or a dried tooth also gives a large one. Show the whiteness
index or the signed lightness beside it.
"""

from math import atan2, cos, degrees, exp, hypot, radians, sin, sqrt

from whitening.shade.colour import Lab

# Sharma, Wu & Dalal 2005, Color Res. Appl. 30(1):21-30.
CHROMA_7 = 25.0**7


def cie76(*, one: Lab, other: Lab) -> float:
    """CIE 15: the plain distance in CIELAB."""
    return sqrt(sum((left - right) ** 2 for left, right in zip(one, other, strict=True)))


def wi_d(colour: Lab) -> float:
    """Whiteness index for dentistry, higher is whiter. Pérez et al. 2016, Dent Mater 32:461 (as reported)."""
    return 0.511 * colour.lightness - 2.324 * colour.a - 1.100 * colour.b


def ciede2000(*, one: Lab, other: Lab, k_l: float = 1.0, k_c: float = 1.0, k_h: float = 1.0) -> float:
    """Sharma, Wu & Dalal 2005. Thresholds in use are for k = 1; some dental papers print k_l = 2: keep the k's."""
    # 1. Stretch a* of both by the mean chroma, so that greys near the axis come apart as the eye sees them.
    stretch = 1 + _g((hypot(one.a, one.b) + hypot(other.a, other.b)) / 2)
    chroma_1, hue_1 = _polar(one.a * stretch, one.b)
    chroma_2, hue_2 = _polar(other.a * stretch, other.b)
    # 2. Differences. A grey has no hue, so none is counted; else the short way round the circle.
    grey = chroma_1 * chroma_2 == 0
    turn = 0.0 if grey else (hue_2 - hue_1 + 180) % 360 - 180
    # 3. Means, on which the weights depend.
    lightness = (one.lightness + other.lightness) / 2
    chroma = (chroma_1 + chroma_2) / 2
    hue = hue_1 + hue_2 if grey else _mean_hue(hue_1, hue_2)

    # 4. Weighted differences, and 5. the rotation that couples chroma and hue in the blues.
    d_l = (other.lightness - one.lightness) / (k_l * _s_l(lightness))
    d_c = (chroma_2 - chroma_1) / (k_c * (1 + 0.045 * chroma))
    d_h = 2 * sqrt(chroma_1 * chroma_2) * sin(radians(turn / 2)) / (k_h * (1 + 0.015 * chroma * _t(hue)))
    # Rounding can leave a sum a hair below zero for equal colours.
    return sqrt(max(0.0, d_l**2 + d_c**2 + d_h**2 + _r_t(chroma, hue) * d_c * d_h))


def _polar(a: float, b: float) -> tuple[float, float]:
    return hypot(a, b), degrees(atan2(b, a)) % 360


def _g(chroma: float) -> float:
    return 0.5 * (1 - sqrt(chroma**7 / (chroma**7 + CHROMA_7)))


def _mean_hue(hue_1: float, hue_2: float) -> float:
    total = hue_1 + hue_2
    # Across red the plain mean would point to the far side of the circle.
    if abs(hue_1 - hue_2) <= 180:
        return total / 2
    return (total + 360) / 2 if total < 360 else (total - 360) / 2


def _s_l(lightness: float) -> float:
    return 1 + 0.015 * (lightness - 50) ** 2 / sqrt(20 + (lightness - 50) ** 2)


def _t(hue: float) -> float:
    return (
        1
        - 0.17 * cos(radians(hue - 30))
        + 0.24 * cos(radians(2 * hue))
        + 0.32 * cos(radians(3 * hue + 6))
        - 0.20 * cos(radians(4 * hue - 63))
    )


def _r_t(chroma: float, hue: float) -> float:
    """Takes the mean of the *stretched* chroma; the unstretched one is a known slip."""
    angle = 30 * exp(-(((hue - 275) / 25) ** 2))
    return -sin(radians(2 * angle)) * 2 * sqrt(chroma**7 / (chroma**7 + CHROMA_7))
