"""A photo without what a camera writes into it besides the picture: position, times, names, thumbnails."""

from __future__ import annotations

import io

from airtally.errors import InputError

QUALITY = 92
"""Of the JPEG that is kept; a name plate stays legible at it: judgement."""


def plain_photo(content: bytes) -> bytes:
    """Return a photo as a JPEG of its pixels alone, turned upright as its camera meant it, in full size.

    The picture is written anew: whatever else the file held, where it was taken above all, is not in it.

    Raises
    ------
    InputError
        If the file is no picture that can be read here.
    """
    from PIL import Image, ImageOps, UnidentifiedImageError  # slow to import and seldom needed

    try:
        with Image.open(io.BytesIO(content), formats=("JPEG", "PNG", "WEBP")) as opened:
            upright = ImageOps.exif_transpose(opened)
            pixels = Image.new("RGB", upright.size, "white")
            pixels.paste(upright.convert("RGBA"), mask=upright.convert("RGBA").getchannel("A"))
    except (UnidentifiedImageError, OSError, ValueError, SyntaxError, Image.DecompressionBombError) as error:
        raise InputError(
            "This is no photo that can be read here; a JPEG, PNG or WebP is wanted. A phone that takes HEIC can be set "
            "to take JPEG."
        ) from error
    written = io.BytesIO()
    pixels.save(written, "JPEG", quality=QUALITY)
    return written.getvalue()
