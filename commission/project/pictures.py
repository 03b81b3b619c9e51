"""Photos made fit for a project file: upright JPEG of bounded size, without location."""

from __future__ import annotations

import warnings
from io import BytesIO

from PIL import Image, ImageOps, UnidentifiedImageError

from commission.errors import ProjectFileError
from commission.language import spoken

LONGEST_SIDE = 2048
JPEG_QUALITY = 85
LARGEST_PIXELS = 120_000_000
"""Above the largest phone cameras in common use, below what would exhaust a small laptop."""

MEDIA_TYPE = "image/jpeg"
_READ_FORMATS = ("JPEG", "PNG", "WEBP", "TIFF", "BMP", "GIF")
_GPS_TAG = 0x8825  # Exif 2.3, "GPS Info IFD Pointer"


def prepare_photo(data: bytes, called: str = "Photo", *, keep_location: bool = False) -> bytes:
    """Return the picture as JPEG: upright, longest side at most 2048 px, location removed.

    Args:
        data: a JPEG, PNG, WebP, TIFF, BMP or GIF file's bytes.
        called: its name, for messages.
        keep_location: keep the place where it was taken, if the picture tells it.
    Raises:
        ProjectFileError: no picture, damaged, or more than 120 million pixels.
    """
    image = _open(data, called)
    width, height = image.size
    if width * height > LARGEST_PIXELS:
        raise ProjectFileError(
            spoken(
                "{called}: is {width} x {height} pixels; at most {largest_pixels} million are "
                "taken. Save it smaller and add it again.",
                called=called,
                width=width,
                height=height,
                largest_pixels=LARGEST_PIXELS // 10**6,
            )
        )
    try:
        location = image.getexif().get_ifd(_GPS_TAG) if keep_location else {}
        image.draft("RGB", (LONGEST_SIDE, LONGEST_SIDE))
        upright = _flat(ImageOps.exif_transpose(image))
        upright.thumbnail((LONGEST_SIDE, LONGEST_SIDE), Image.Resampling.LANCZOS)
        return _encoded(upright, dict(location))
    except (OSError, ValueError, SyntaxError, MemoryError) as fault:
        raise ProjectFileError(
            spoken(
                "{called}: the picture is damaged ({fault}). Take or save it again.",
                called=called,
                fault=fault,
            )
        ) from fault


def _open(data: bytes, called: str) -> Image.Image:
    try:
        with warnings.catch_warnings():
            # Pillow warns below our own limit, which is judged right after.
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)
            Image.init()  # else only some of the formats are known yet
            return Image.open(BytesIO(data), formats=_READ_FORMATS)
    except Image.DecompressionBombError as fault:
        raise ProjectFileError(
            spoken(
                "{called}: has more pixels than any camera takes ({fault}). Save it smaller and "
                "add it again.",
                called=called,
                fault=fault,
            )
        ) from fault
    except (UnidentifiedImageError, OSError, ValueError, SyntaxError) as fault:
        raise ProjectFileError(
            spoken(
                "{called}: is not a picture that can be read here (JPEG, PNG, WebP, TIFF, BMP, "
                "GIF). Save it as JPEG and add it again.",
                called=called,
            )
        ) from fault


def _flat(image: Image.Image) -> Image.Image:
    """Return the picture in RGB, transparent parts on white."""
    if image.mode in ("RGBA", "LA", "PA") or "transparency" in image.info:
        layered = image.convert("RGBA")
        ground = Image.new("RGBA", layered.size, "white")
        return Image.alpha_composite(ground, layered).convert("RGB")
    return image.convert("RGB")


def _encoded(image: Image.Image, location: dict[int, object]) -> bytes:
    exif = Image.Exif()
    if location:
        exif[_GPS_TAG] = location
    out = BytesIO()
    # A bare copy of the pixels: nothing of the source's metadata can come along.
    bare = Image.frombytes("RGB", image.size, image.tobytes())
    bare.save(out, "JPEG", quality=JPEG_QUALITY, optimize=True, exif=exif)
    return out.getvalue()
