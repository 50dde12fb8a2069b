"""Images of scanned pages: read from the spec's folder alone, checked, made fit to print.

What comes out holds the pixels, upright: no camera, place or time, no second image.
"""

from __future__ import annotations

import io
import warnings
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import Literal

import numpy as np
import numpy.typing as npt
from PIL import Image, ImageOps, UnidentifiedImageError

from rewire.reading.faults import Fault, SpecError
from rewire.records.spec import Spec
from rewire.words.wording import shown

MOST_PIXELS, LONGEST_SIDE, MOST_STRETCHED = 50_000_000, 20_000, 20
"""Pixels; pixels of a side; longer side over shorter side."""
MOST_BYTES = 100 * 1024 * 1024
_FINEST = 220.0 / 25.4
"""Pixels per mm beyond which nothing is gained on paper."""
_INSIDE = "put the image beside the spec, or below it, and write its place from there"
Media = Literal["image/png", "image/jpeg"]
Dark = npt.NDArray[np.bool_]
"""Cells of a page, rows from the top; true is ink."""


class ImageRefused(Exception):
    """An image cannot be used: why, and what to do."""


@dataclass(frozen=True, slots=True)
class Upright:
    """An image ready for paper, its size in pixels."""

    data: bytes
    media: Media
    width: int
    height: int
    dark: Dark


def images_of(spec: Spec, most_mm: float) -> dict[str, Upright]:
    """The image of each page by its name, from the spec's folder; longest side on paper in mm.

    Raises:
        SpecError: images that cannot be used, all at once, each with its place in the spec.
    """
    found: dict[str, Upright] = {}
    faults: list[Fault] = []
    for page in spec.pages:
        try:
            if page.image not in found:
                data = _bytes_of(_place_of(spec, page.image))
                found[page.image] = _decoded(data, round(most_mm * _FINEST))
        except ImageRefused as refused:
            message, hint = refused.args
            faults.append(Fault(page.place, f"image {shown(page.image)}: {message}", hint))
    if faults:
        raise SpecError(faults)
    return found


def _decoded(data: bytes, most: int) -> Upright:
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            return _upright(data, most)
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
    media: Media = "image/jpeg" if jpeg else "image/png"
    return Upright(out.getvalue(), media, *image.size, _dark_of(image))


def _dark_of(image: Image.Image) -> Dark:
    """Where a page is darker than its paper, in cells: each as dark as its darkest pixel."""
    levels = np.asarray(image.convert("L"))
    block = max(1, -(-levels.shape[1] // 360))
    rows, columns = (-(-size // block) for size in levels.shape)
    filled = np.full((rows * block, columns * block), 255, dtype=np.uint8)
    filled[: levels.shape[0], : levels.shape[1]] = levels
    paper = int(np.bincount(levels.ravel(), minlength=256).argmax())
    darkest = filled.reshape(rows, block, columns, block).min(axis=(1, 3))
    dark: Dark = darkest.astype(int) < paper - 40
    return dark


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
