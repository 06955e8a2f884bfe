"""QR codes as pictures inside the page, always beside the same address in words."""

import segno


def as_picture(address: str) -> str:
    """A `data:` address with an SVG; level M survives a stain and a fold on a sheet carried home."""
    uri: str = segno.make(address, error="m", micro=False).svg_data_uri(scale=4, border=4, encode_minimal=False)
    return uri
