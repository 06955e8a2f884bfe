"""From screen pixels to CIELAB and back.

Sources: IEC 61966-2-1 (transfer curve, primaries) and CIE 15 (CIELAB). The matrix is derived from the
primaries and the white, not the rounded four-decimal one, so that white is exactly a* = b* = 0.
"""

from whitening.shade.colour import Lab, Rgb, Xyz

# D65, 2-degree observer: x = 0.3127, y = 0.3290 (CIE 15), scaled to Y = 1.
D65 = Xyz(0.3127 / 0.3290, 1.0, (1 - 0.3127 - 0.3290) / 0.3290)

# Primaries (0.64, 0.33) (0.30, 0.60) (0.15, 0.06) with that white.
TO_XYZ = (
    (0.4123907993, 0.3575843394, 0.1804807884),
    (0.2126390059, 0.7151686788, 0.0721923154),
    (0.0193308187, 0.1191947798, 0.9505321522),
)
FROM_XYZ = (
    (3.2409699419, -1.5373831776, -0.4986107603),
    (-0.9692436363, 1.8759675015, 0.0415550574),
    (0.0556300797, -0.2039769589, 1.0569715142),
)

# CIE 15: below this the cube root turns into a straight line.
KNEE = (6 / 29) ** 3


def srgb_to_xyz(pixel: Rgb) -> Xyz:
    linear = tuple(_decode(channel / 255) for channel in pixel)
    return Xyz(*(_dot(row, linear) for row in TO_XYZ))


def xyz_to_lab(colour: Xyz) -> Lab:
    x, y, z = (_cube_root(value / white) for value, white in zip(colour, D65, strict=True))
    return Lab(116 * y - 16, 500 * (x - y), 200 * (y - z))


def srgb_to_lab(pixel: Rgb) -> Lab:
    return xyz_to_lab(srgb_to_xyz(pixel))


def lab_to_srgb(colour: Lab) -> Rgb:
    """The nearest pixel; a colour that no screen can show is clipped."""
    # CIE 15 backwards: first the three cube roots, then XYZ, then the screen's own primaries.
    y = (colour.lightness + 16) / 116
    ratios = (y + colour.a / 500, y, y - colour.b / 200)
    xyz = tuple(_cube(ratio) * white for ratio, white in zip(ratios, D65, strict=True))
    linear = (_dot(row, xyz) for row in FROM_XYZ)
    return Rgb(*(round(255 * _encode(min(max(value, 0.0), 1.0))) for value in linear))


def _dot(row: tuple[float, ...], column: tuple[float, ...]) -> float:
    return sum(left * right for left, right in zip(row, column, strict=True))


# The transfer curve: a straight piece near black, where a power would be infinitely steep, then the power 2.4.
def _decode(value: float) -> float:
    return value / 12.92 if value <= 0.04045 else float(((value + 0.055) / 1.055) ** 2.4)


def _encode(value: float) -> float:
    return 12.92 * value if value <= 0.0031308 else float(1.055 * value ** (1 / 2.4) - 0.055)


def _cube_root(ratio: float) -> float:
    return float(ratio ** (1 / 3)) if ratio > KNEE else ratio * 841 / 108 + 4 / 29


def _cube(root: float) -> float:
    return root**3 if root > 6 / 29 else (root - 4 / 29) * 108 / 841
