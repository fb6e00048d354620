"""Photos written anew: what the camera put in goes, pixels and the hash of what was taken stay."""

import hashlib
import io
from pathlib import Path

import pytest
from PIL import Image

from gaugewright.errors import FileError, InputError
from gaugewright.services.work import photos

# Tags of the Exif standard (CIPA DC-008): orientation, place, and latitude in it.
ORIENTATION, PLACE, LATITUDE = 0x0112, 0x8825, 0x0002
COMMENT = b"hall 3, beside the press"


def striped() -> Image.Image:
    """Left half dark, right half light, wider than high."""
    picture = Image.new("RGB", (64, 32), (230, 230, 230))
    picture.paste((20, 20, 20), (0, 0, 32, 32))
    return picture


def seen(path: Path) -> Image.Image:
    return Image.open(io.BytesIO(path.read_bytes()))


@pytest.fixture
def taken(tmp_path: Path) -> Path:
    """As a camera held on its side writes it: turned by a tag, with a place and words in it."""
    path = tmp_path / "IMG_1.jpg"
    exif = Image.Exif()
    exif[ORIENTATION] = 6  # to be turned by 90 degrees clockwise when shown
    exif.get_ifd(PLACE)[LATITUDE] = (45.0, 28.0, 1.0)
    striped().save(path, "JPEG", quality=95, exif=exif, comment=COMMENT)
    assert seen(path).getexif().get_ifd(PLACE)
    return path


def test_place_words_and_small_picture_are_gone_and_it_stands_upright(
    taken: Path, tmp_path: Path
) -> None:
    target = tmp_path / "anew.jpg"
    photos.write_anew(taken, target, file_name=taken.name)
    kept = seen(target)
    assert not dict(kept.getexif())
    assert COMMENT not in target.read_bytes()
    assert b"Exif" not in target.read_bytes()
    assert kept.size == (32, 64)
    assert max(kept.getpixel((16, 5))) < 60  # type: ignore[arg-type]  # the dark half is on top
    assert min(kept.getpixel((16, 58))) > 200  # type: ignore[arg-type]


@pytest.mark.parametrize(("format_name", "kind"), [("PNG", "image/png"), ("WEBP", "image/webp")])
def test_other_kinds_lose_it_too_and_stay_of_their_kind(
    tmp_path: Path, format_name: str, kind: str
) -> None:
    path, target = tmp_path / "taken", tmp_path / "anew"
    exif = Image.Exif()
    exif.get_ifd(PLACE)[LATITUDE] = (45.0, 28.0, 1.0)
    striped().save(path, format_name, exif=exif, lossless=True, xmp=b"<x>hall 3</x>")
    photos.write_anew(path, target, file_name="taken")
    assert photos.kind_of(target.read_bytes()[:16]) == kind
    kept = seen(target)
    assert not dict(kept.getexif())
    assert b"hall 3" not in target.read_bytes()
    assert kept.convert("RGB").getpixel((60, 4)) == pytest.approx((230, 230, 230), abs=6)


def test_png_keeps_every_pixel(tmp_path: Path) -> None:
    path, target = tmp_path / "taken.png", tmp_path / "anew.png"
    striped().save(path)
    photos.write_anew(path, target, file_name="taken.png")
    assert seen(target).tobytes() == striped().tobytes()


def test_a_picture_cut_short_is_refused_by_name(taken: Path, tmp_path: Path) -> None:
    taken.write_bytes(taken.read_bytes()[:-200])
    with pytest.raises(InputError, match=r"IMG_1\.jpg.*opened to its end"):
        photos.write_anew(taken, tmp_path / "anew.jpg", file_name="IMG_1.jpg")
    assert not (tmp_path / "anew.jpg").exists()


def test_only_the_mark_of_a_picture_is_no_picture(tmp_path: Path) -> None:
    path = tmp_path / "mark.png"
    path.write_bytes(b"\x89PNG\r\n\x1a\n" + bytes(40))
    with pytest.raises(InputError, match="opened to its end"):
        photos.write_anew(path, tmp_path / "anew.png", file_name="mark.png")


def test_a_picture_that_would_fill_the_memory_is_refused_before_it_is_opened(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(photos, "MOST_PIXELS", 2_000)
    path = tmp_path / "large.png"
    striped().save(path)
    with pytest.raises(InputError, match="64 by 32 pixels"):
        photos.write_anew(path, tmp_path / "anew.png", file_name="large.png")


def test_a_file_that_is_gone_is_told(tmp_path: Path) -> None:
    with pytest.raises(FileError, match="can't be read"):
        photos.refuse_no_photo(tmp_path / "gone.jpg", "gone.jpg")


def test_kept_with_a_record_once_under_its_hash_as_taken(tiny, taken: Path) -> None:
    store, uid = tiny.store, tiny.uid["bar"]
    first = photos.attach(store, uid, taken, file_name="IMG_1.jpg", caption="crack 2")
    again = photos.attach(store, uid, taken, file_name="IMG_1.jpg", caption="crack 2")
    assert again.uid == first.uid
    assert first.record.taken_sha256 == hashlib.sha256(taken.read_bytes()).hexdigest()
    data = store.original_bytes(first.record.sha256)
    assert hashlib.sha256(data).hexdigest() == first.record.sha256
    assert first.record.sha256 != first.record.taken_sha256
    assert Image.open(io.BytesIO(data)).size == (32, 64)
    assert not list((store.folder / "cache" / "photos").iterdir())


def test_nothing_is_kept_with_a_record_that_is_not_there(tiny, taken: Path) -> None:
    store = tiny.store
    with pytest.raises(InputError, match="a record of this campaign"):
        photos.attach(store, "0" * 26, taken, file_name="IMG_1.jpg")  # type: ignore[arg-type]
