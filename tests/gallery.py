"""Draw gallery/ anew: the pictures that README and reviewers look at. ``make gallery`` runs it.

For each shipped spec: its sheet as PDF, and the lug view of each switch of each wiring as SVG
and PNG.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path

from PIL import Image, ImageChops
from PIL.PngImagePlugin import PngInfo

from rewire.cli.files import write_whole
from rewire.compare import compare
from rewire.draw import lug_view, paint_png, paint_svg
from rewire.sheet import packet_of, pdf
from rewire.spec import read_spec
from rewire.spec.model import Spec, Switch

ROOT = Path(__file__).parents[1]
_DPI = 110
_MARGIN = 20


def pictures(spec: Spec) -> Iterator[tuple[str, bytes]]:
    """File names and contents of everything shown of one spec."""
    name = Path(spec.file).stem
    yield f"{name}.pdf", pdf(packet_of(spec, compare(spec)))
    for wiring in spec.wirings.values():
        for part in wiring.parts.values():
            if not isinstance(part, Switch):
                continue
            for page, scene in enumerate(lug_view(spec, wiring, part.name), 1):
                number = f"-{page}" if page > 1 else ""
                stem = f"{name}-{wiring.name}-{part.name}{number}"
                yield f"{stem}.svg", paint_svg(scene)
                yield f"{stem}.png", trimmed(paint_png(scene, dpi=_DPI))


def trimmed(png: bytes) -> bytes:
    """A picture without the empty rest of its sheet, still marked as ours."""
    picture = Image.open(BytesIO(png)).convert("RGB")
    left, top, right, bottom = ImageChops.invert(picture).getbbox() or (0, 0, 1, 1)
    box = (max(left - _MARGIN, 0), max(top - _MARGIN, 0), right + _MARGIN, bottom + _MARGIN)
    mark = PngInfo()
    mark.add_text("Software", "rewire-made")
    data = BytesIO()
    picture.crop(box).save(data, "PNG", pnginfo=mark)
    return data.getvalue()


def main() -> None:
    """Write all pictures, and name each as it is written."""
    folder = ROOT / "gallery"
    folder.mkdir(exist_ok=True)
    for path in sorted((ROOT / "specs").glob("*.yaml")):
        for name, data in pictures(read_spec(path)):
            write_whole(folder / name, data, force=False)
            sys.stdout.write(f"gallery/{name}\n")


if __name__ == "__main__":
    main()
