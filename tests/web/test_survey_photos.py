"""Photos of the survey: kept at their place, upright, without position, set aside and brought back."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from PIL import Image

from airtally.errors import InputError
from airtally.store.photos import photo_bytes, photos_of
from airtally.web.plain_photo import plain_photo

from .test_survey_page import Page, page  # noqa: F401 - the fixture

PLACE = b"48 deg 51 min 29 s N"


def camera_photo(size: tuple[int, int] = (60, 40)) -> bytes:
    """Return a JPEG as a camera held upright writes it: turned by its orientation tag, with position and a maker's note.

    Tags by the Exif standard (CIPA DC-008): 0x0112 orientation, 0x8825 GPS, 0x010E description.
    """
    picture = Image.new("RGB", size, "red")
    exif = picture.getexif()
    exif[0x0112] = 6
    exif[0x010E] = PLACE.decode()
    exif.get_ifd(0x8825).update({1: "N", 2: (48.0, 51.0, 29.6), 3: "E", 4: (2.0, 17.0, 40.2)})
    written = io.BytesIO()
    picture.save(written, "JPEG", exif=exif, comment=PLACE)
    return written.getvalue() + b"trailer of a moving picture: " + PLACE


def test_a_photo_loses_its_position_and_stands_upright() -> None:
    taken = camera_photo()
    assert Image.open(io.BytesIO(taken)).getexif().get_ifd(0x8825)[2] == (48.0, 51.0, 29.6)
    kept = plain_photo(taken)
    opened = Image.open(io.BytesIO(kept))
    assert dict(opened.getexif()) == {}
    assert PLACE not in kept
    assert opened.size == (40, 60)
    red, green, blue = opened.getpixel((20, 30))  # type: ignore[misc]
    assert red > 240 > 20 > max(green, blue)


@pytest.mark.parametrize("content", [b"", b"<svg xmlns='http://www.w3.org/2000/svg'/>", camera_photo()[:200]])
def test_what_is_no_photo_is_refused_with_what_is_wanted(content: bytes) -> None:
    with pytest.raises(InputError, match="JPEG, PNG or WebP"):
        plain_photo(content)


def test_a_photo_is_kept_at_its_place_and_can_be_set_aside_and_brought_back(page: Page) -> None:  # noqa: F811
    body = {"place": "exhaust/bath", "note": "hood over the bath", "post": page.new_post()}
    file = {"photo": ("../../IMG 1.heic.jpg", camera_photo(), "image/jpeg")}
    for _ in range(2):
        page.client.post(page.address("exhausts/photos"), data=body, files=file)
    (photo,) = photos_of(page.store, page.job)
    assert (photo.place, photo.note) == ("exhaust/bath", "hood over the bath")
    assert Path(photo.name).parent == Path("photos")
    assert PLACE not in photo_bytes(page.store, photo.digest)
    html = page.client.get(page.address("exhausts")).text
    address = f"/job/{page.job}/photos/{photo.id}"
    assert f'<img src="{address}" alt="hood over the bath"' in html
    assert page.client.get(address).headers["content-type"] == "image/jpeg"
    assert address not in page.client.get(page.address("spaces")).text
    aside = page.client.post(address, data={"do": "set aside", "back": "exhausts"}).text
    assert photos_of(page.store, page.job) == ()
    assert "Bring it back" in aside
    page.client.post(address, data={"do": "take back", "back": "exhausts"})
    assert len(photos_of(page.store, page.job)) == 1


def test_a_file_that_is_no_photo_says_so_on_its_page(page: Page) -> None:  # noqa: F811
    body = {"place": "exhaust/bath", "note": "", "post": page.new_post()}
    answer = page.client.post(
        page.address("exhausts/photos"), data=body, files={"photo": ("a.jpg", b"text", "image/jpeg")}
    )
    assert "not kept" in answer.text
    assert photos_of(page.store, page.job) == ()
