"""Photos drawn anew: pixels on a fresh canvas, and nothing else of the file that was sent.

A file is looked at before it is unpacked: its size, its kind by its first bytes, its pixels by its
header. Unpacking happens in a process of its own with limits on memory and time, because a small
file can claim to be a very large picture. What is kept is a JPEG without place, name, comment,
preview or colour profile (a plain re-save would keep the comment of a JPEG).
"""

from __future__ import annotations

import io
import resource
import struct
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

from shared.errors import Refused
from shared.said import say

ROOT = Path(__file__).resolve().parents[2]
LARGEST_BYTES = 8 * 2**20
MOST_PIXELS = 40_000_000
LONGEST_SIDE = 1_280
MEMORY_BYTES = 512 * 2**20
SECONDS = 20
FORMATS = ("JPEG", "PNG", "WEBP")


@dataclass(frozen=True)
class Photo:
    """A picture that was drawn anew.

    Attributes
    ----------
    jpeg : bytes
        The file.
    width, height : int
        Its size in pixels.
    """

    jpeg: bytes
    width: int
    height: int


def redrawn(data: bytes) -> Photo:
    """Draw a photo anew in a process of its own.

    Parameters
    ----------
    data : bytes
        The file as it was sent.

    Raises
    ------
    Refused
        When it is too large, no photo, or cannot be unpacked.
    """
    if len(data) > LARGEST_BYTES:
        raise Refused.because(
            "photo-too-large",
            say(
                "This file is larger than {largest_bytes} MB; send a smaller photo.",
                largest_bytes=LARGEST_BYTES // 2**20,
            ),
            "/photo",
        )
    drawn = _apart(data)
    if len(drawn) < 8:
        raise Refused.because(
            "photo-unreadable",
            say(
                "This file cannot be read as a photo. Send a JPEG, PNG or WebP of"
                " up to {most_pixels} million pixels, or send the verdict without"
                " it.",
                most_pixels=MOST_PIXELS // 1000000,
            ),
            "/photo",
        )
    width, height = struct.unpack(">II", drawn[:8])
    return Photo(drawn[8:], width, height)


def _apart(data: bytes) -> bytes:
    """Run this module on the file; nothing comes back when it fails or takes too long."""
    try:
        done = subprocess.run(
            [sys.executable, "-m", "recycling.tables.photos"],
            input=data,
            capture_output=True,
            timeout=SECONDS + 10,
            cwd=ROOT,
            check=False,
        )
    except subprocess.TimeoutExpired:
        return b""
    return b"" if done.returncode else done.stdout


def limit_this_process() -> None:
    """Let this process take no more memory and time than a photo needs, and write no file."""
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY_BYTES, MEMORY_BYTES))
    resource.setrlimit(resource.RLIMIT_CPU, (SECONDS, SECONDS))
    resource.setrlimit(resource.RLIMIT_FSIZE, (0, 0))


def draw_anew(data: bytes) -> Photo:
    """Draw a photo anew in this process: turned upright, made smaller, on white.

    Raises
    ------
    ValueError
        When it is no picture of the kinds that are taken, or has too many pixels.
    """
    from PIL import Image, ImageOps

    Image.MAX_IMAGE_PIXELS = None
    with Image.open(io.BytesIO(data), formats=FORMATS) as sent:
        if sent.width * sent.height > MOST_PIXELS or min(sent.size) < 1:
            raise ValueError("too many pixels")
        sent.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
        upright = ImageOps.exif_transpose(sent).convert("RGBA")
    canvas = Image.new("RGB", upright.size, "white")
    canvas.paste(upright, mask=upright.getchannel("A"))
    paper = io.BytesIO()
    canvas.save(paper, "JPEG", quality=82)
    return Photo(paper.getvalue(), canvas.width, canvas.height)


def main() -> None:
    """Read a file from the standard input, write width, height and the new file."""
    limit_this_process()
    photo = draw_anew(sys.stdin.buffer.read(LARGEST_BYTES + 1))
    sys.stdout.buffer.write(struct.pack(">II", photo.width, photo.height) + photo.jpeg)


if __name__ == "__main__":
    main()
