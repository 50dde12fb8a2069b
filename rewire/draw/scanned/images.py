"""Images of scanned pages: read from the spec's folder, checked, made fit to print.

What comes out holds the pixels alone, upright: no camera, place or time, no second image.
"""

from __future__ import annotations

import io
import warnings
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import Literal

from PIL import Image, ImageOps, UnidentifiedImageError

from rewire.draw.scanned.ink import Ink, ink_of
from rewire.reading.faults import Fault
from rewire.records.spec import Page, Spec
from rewire.words.wording import shown

MOST_PIXELS = 50_000_000
MOST_BYTES = 100 * 1024 * 1024
LONGEST_SIDE = 20_000
"""Pixels."""
MOST_STRETCHED = 20
"""Longer side over shorter side."""
FINEST = 220.0 / 25.4
"""Pixels per mm beyond which nothing is gained on paper."""
_INSIDE = "put the image beside the spec, or below it, and write its place from there"


class ImageRefused(Exception):
    """An image cannot be used; says why and what to do."""

    def __init__(self, message: str, hint: str) -> None:
        self.message = message
        self.hint = hint
        super().__init__(message, hint)


@dataclass(frozen=True, slots=True)
class Upright:
    """An image ready for paper."""

    data: bytes
    media: Literal["image/png", "image/jpeg"]
    width: int
    height: int
    """Pixels."""
    ink: Ink


def fault_of(page: Page, refused: ImageRefused) -> Fault:
    """The fault of a page whose image cannot be used, with its place in the spec."""
    return Fault(page.place, f"image {shown(page.image)}: {refused.message}", refused.hint)


def image_of(spec: Spec, page: Page, most_mm: float) -> Upright:
    """The image of a page.

    Args:
        spec: whose folder it lies in.
        page: that names it.
        most_mm: longest side on paper, mm.

    Raises:
        ImageRefused: it lies elsewhere, is missing, broken, no PNG or JPEG, or too large.
    """
    data = _bytes_of(_place_of(spec, page.image))
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            return _upright(data, round(most_mm * FINEST))
    except UnidentifiedImageError:
        raise ImageRefused("neither PNG nor JPEG", "save it as PNG or JPEG") from None
    except Image.DecompressionBombError:
        raise _too_large(None) from None
    # Pillow's readers end in any of these on a file that is cut off or made up.
    except (OSError, SyntaxError, ValueError, EOFError, ArithmeticError, LookupError, TypeError,
            MemoryError) as error:  # fmt: skip
        said = " ".join(str(error).split())[:80]
        raise ImageRefused(f"broken: {said or type(error).__name__}", "scan it again") from None


def _place_of(spec: Spec, written: str) -> Path:
    """Where the image really is; never outside the spec's folder, whatever a link says."""
    pure = PurePosixPath(written)
    if "\0" in written or "\\" in written or written.strip() in ("", "."):
        raise ImageRefused("not a place of a file", "write it with / and without blanks around it")
    if pure.is_absolute() or ".." in pure.parts or ":" in pure.parts[0]:
        raise ImageRefused("outside of the spec's folder", _INSIDE)
    try:
        folder = Path(spec.file).parent.resolve(strict=True)
        place = (folder / pure).resolve(strict=True)
    except (FileNotFoundError, NotADirectoryError):
        raise ImageRefused("there is no such file", _INSIDE) from None
    except (OSError, RuntimeError, ValueError):
        raise ImageRefused("its place cannot be followed", _INSIDE) from None
    if not place.is_relative_to(folder):
        raise ImageRefused("a link that leads outside of the spec's folder", _INSIDE)
    if not place.is_file():
        raise ImageRefused("not a file", _INSIDE)
    return place


def _bytes_of(place: Path) -> bytes:
    try:
        with place.open("rb") as file:
            data = file.read(MOST_BYTES + 1)
    except OSError as error:
        raise ImageRefused(f"cannot be read: {error.strerror}", "see who may read it") from None
    if len(data) > MOST_BYTES:
        raise ImageRefused(f"larger than {MOST_BYTES // 1024**2} MiB", "save it smaller")
    if not data:
        raise ImageRefused("empty", "scan it again")
    return data


def _upright(data: bytes, most: int) -> Upright:
    with Image.open(io.BytesIO(data), formats=("PNG", "JPEG")) as opened:
        _check(opened)
        jpeg = opened.format != "PNG"
        if jpeg:
            opened.draft("RGB", (most, most))
        opened.load()
        image = _plain(ImageOps.exif_transpose(opened))
    if max(image.size) > most:
        image.thumbnail((most, most), Image.Resampling.LANCZOS)
    out = io.BytesIO()
    if jpeg:
        image.save(out, "JPEG", quality=88, subsampling=0)
    else:
        image.save(out, "PNG", optimize=False, compress_level=7)
    return Upright(
        out.getvalue(), "image/jpeg" if jpeg else "image/png", *image.size, ink_of(image)
    )


def _check(image: Image.Image) -> None:
    """From the header alone, before a pixel is decoded."""
    width, height = image.size
    if width * height > MOST_PIXELS:
        raise _too_large(image.size)
    if max(width, height) > LONGEST_SIDE:
        raise ImageRefused(
            f"{width} × {height} pixels: a side of more than {LONGEST_SIDE}", "scan it coarser"
        )
    if max(width, height) > MOST_STRETCHED * min(width, height):
        raise ImageRefused(f"{width} × {height} pixels: a strip, no page", "cut it into pages")
    if image.format == "PNG" and getattr(image, "n_frames", 1) > 1:
        raise ImageRefused("it moves", "save one of its pictures alone")


def _too_large(size: tuple[int, int] | None) -> ImageRefused:
    said = f"{size[0]} × {size[1]} pixels: " if size else ""
    return ImageRefused(
        f"{said}more than {MOST_PIXELS // 1_000_000} million pixels", "scan it coarser"
    )


def _plain(image: Image.Image) -> Image.Image:
    """Grey or colour on white paper, nothing else: no transparency, palette, profile or text."""
    if image.mode in ("1", "L") and "transparency" not in image.info:
        plain = image.convert("L")
    elif image.mode.startswith(("I", "F")):
        plain = _sixteen_bits(image)
    else:
        layer = image.convert("RGBA")
        plain = Image.new("RGB", layer.size, "white")
        plain.paste(layer, mask=layer.getchannel("A"))
    bare = Image.new(plain.mode, plain.size)
    bare.paste(plain)
    return bare


def _sixteen_bits(image: Image.Image) -> Image.Image:
    """A scanner's 16 bits of grey in 8."""
    return image.convert("I").point(lambda level: level / 256).convert("L")
