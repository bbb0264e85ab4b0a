"""Photos keep their pixels and nothing else; files that are none, or bombs, are refused.

Names of the tags are those of the Exif standard (CIPA DC-008); the marker of a comment, FF FE, is
that of ITU-T T.81, table B.1.
"""

from __future__ import annotations

import io
import struct
import zlib

import pytest
from PIL import Image

from recycling.tables.photos import LARGEST_BYTES, LONGEST_SIDE, redrawn
from shared.errors import Refused

NAMED = b"Maria of the harbour"


def telling_photo(kind: str = "JPEG", turn: int = 1) -> bytes:
    """Make a photo that tells a place, a name, a comment and a colour profile."""
    picture = Image.new("RGB", (60, 30), "red")
    picture.paste("blue", (0, 0, 30, 30))
    exif = Image.Exif()
    exif[0x010E], exif[0x013B], exif[0x0112] = NAMED.decode(), NAMED.decode(), turn
    exif.get_ifd(0x8825)[2] = (41.0, 9.0, 5.0)
    paper = io.BytesIO()
    more = {"comment": NAMED} if kind == "JPEG" else {}
    picture.save(paper, kind, exif=exif, icc_profile=NAMED * 4, quality=95, **more)
    return paper.getvalue()


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_nothing_but_pixels_is_kept(kind):
    sent = telling_photo(kind)
    assert NAMED in sent or NAMED in zlib.compress(sent) or kind == "PNG"
    kept = redrawn(sent)
    again = Image.open(io.BytesIO(kept.jpeg))
    assert again.format == "JPEG"
    assert (kept.width, kept.height) == again.size == (60, 30)
    assert not dict(again.getexif())
    assert not {"comment", "exif", "icc_profile", "xmp", "photoshop"} & set(again.info)
    assert NAMED not in kept.jpeg
    assert b"\xff\xfe" not in kept.jpeg[:20]
    assert again.getpixel((5, 15))[2] > 200


def test_a_photo_is_turned_upright_before_its_turn_is_forgotten():
    kept = redrawn(telling_photo(turn=6))
    assert (kept.width, kept.height) == (30, 60)


def test_a_large_photo_is_made_smaller():
    paper = io.BytesIO()
    Image.effect_noise((4000, 3000), 60).convert("RGB").save(paper, "JPEG", quality=70)
    kept = redrawn(paper.getvalue())
    assert max(kept.width, kept.height) == LONGEST_SIDE
    assert len(kept.jpeg) < 1_500_000


def test_a_transparent_picture_lies_on_white():
    paper = io.BytesIO()
    Image.new("RGBA", (10, 10), (255, 0, 0, 0)).save(paper, "PNG")
    again = Image.open(io.BytesIO(redrawn(paper.getvalue()).jpeg))
    assert min(again.getpixel((5, 5))) > 250


def png_bomb(side: int) -> bytes:
    """Make a small PNG file that claims to be a very large picture (ISO/IEC 15948, 11.2.2)."""

    def chunk(name: bytes, data: bytes) -> bytes:
        check = struct.pack(">I", zlib.crc32(name + data))
        return struct.pack(">I", len(data)) + name + data + check

    head = struct.pack(">IIBBBBB", side, side, 8, 2, 0, 0, 0)
    pixels = zlib.compress(b"\x00" * 1_000_000)
    return (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", pixels) + chunk(b"IEND", b"")
    )


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"not a photo",
        b"<svg xmlns='http://www.w3.org/2000/svg'/>",
        telling_photo()[:200],
        png_bomb(60_000),
    ],
    ids=["nothing", "words", "drawing", "half", "bomb"],
)
def test_what_is_no_photo_is_refused_in_words(data):
    with pytest.raises(Refused) as caught:
        redrawn(data)
    assert caught.value.problems[0].code == "photo-unreadable"
    assert caught.value.problems[0].pointer == "/photo"


def test_a_file_that_is_too_large_is_not_even_looked_at():
    with pytest.raises(Refused) as caught:
        redrawn(b"\xff" * (LARGEST_BYTES + 1))
    assert caught.value.problems[0].code == "photo-too-large"
