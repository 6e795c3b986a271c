"""Writes the pictures of this folder: small HEIC files with a red, a green, a blue and a white quarter.

    pip install pillow-heif==1.8.1 && python make.py

The container and the picture in it are written by libheif and x265 through pillow-heif, neither of which the program
uses; so are `expected.txt`, the colors that libheif itself reads at the middle of each quarter of the upright picture.
"""

from pathlib import Path

import pillow_heif
from PIL import Image

HERE = Path(__file__).parent
WIDTH, HEIGHT = 96, 64


def quarters(width, height):
    picture = Image.new("RGB", (width, height))
    half = (width // 2, height // 2)
    for i, color in enumerate([(220, 30, 30), (30, 180, 60), (40, 60, 210), (240, 240, 240)]):
        picture.paste(color, ((i % 2) * half[0], (i // 2) * half[1], (i % 2 + 1) * half[0], (i // 2 + 1) * half[1]))
    return picture


def place(orientation):
    """Camera's notes: how it was held, and a place in the open sea."""
    exif = Image.Exif()
    exif[0x0112] = orientation
    gps = exif.get_ifd(0x8825)
    gps.update({1: "S", 2: (48.0, 52.0, 36.0), 3: "W", 4: (123.0, 23.0, 36.0)})
    return exif


def write(name, orientation, **options):
    exif = place(orientation)
    # The turn is written into the container (irot, imir); the notes say it too, as those of phones do.
    quarters(WIDTH, HEIGHT).save(HERE / name, format="HEIF", quality=90, exif=exif.tobytes(), **options)


pillow_heif.register_heif_opener()
for name, orientation in [("plain", 1), ("turned", 6), ("over", 3), ("mirrored", 2), ("mirrored-turned", 5)]:
    write(f"{name}.heic", orientation)
quarters(WIDTH, HEIGHT).save(HERE / "place.jpg", quality=90, exif=place(6).tobytes())

with open(HERE / "expected.txt", "w") as out:
    for file in sorted(HERE.glob("*.heic")):
        picture = pillow_heif.open_heif(file).to_pillow().convert("RGB")
        w, h = picture.size
        middles = [picture.getpixel((w * (1 + 2 * x) // 4, h * (1 + 2 * y) // 4)) for y in (0, 1) for x in (0, 1)]
        print(file.name, w, h, *(f"{r},{g},{b}" for r, g, b in middles), file=out)
