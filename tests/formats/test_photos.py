"""Pictures: when and where they were taken, and the small copy; what is nonsense counts as not told."""

from __future__ import annotations

import io
from datetime import UTC, datetime
from pathlib import Path

import pytest
from PIL import Image, ImageFile

from standmap.errors import UserError
from standmap.formats import door, photos
from standmap.formats.content import FoundPhoto
from tests.photo_files import photo

MOMENT = datetime(2026, 3, 20, 5, 10, 30, tzinfo=UTC).timestamp()


def read(path: Path) -> FoundPhoto:
    found = door.read(path)
    assert found.format == "photo"
    (one,) = found.photos
    return one


def picture(found: FoundPhoto) -> Image.Image:
    held = Image.open(io.BytesIO(found.content))
    held.load()
    return held


def dark_corner(found: FoundPhoto) -> str:
    """Return in which corner the black quarter is."""
    grey = picture(found).convert("L")
    w, h = grey.size
    corners = {"upper left": (2, 2), "upper right": (w - 3, 2), "lower left": (2, h - 3), "lower right": (w - 3, h - 3)}
    return min(corners, key=lambda name: int(str(grey.getpixel(corners[name]))))


def test_time_zone_place_and_accuracy(tmp_path: Path) -> None:
    one = read(
        photo(
            tmp_path / "a.jpg",
            taken="2026:03:20 07:10:30",
            offset="+02:00",
            at=(27.6, 61.9),
            within_m=7.548,
            camera="Phone 3",
        )
    )
    assert (one.time_s, one.zone_told, one.gps_time, one.zone_s) == (MOMENT, True, False, 7200.0)
    assert one.at == pytest.approx((27.6, 61.9), abs=1e-6)
    assert one.sigma_m == pytest.approx(5.0, abs=0.01)  # a radius that holds 68 % is 1.51 standard deviations
    assert (one.camera, one.ahead_s, one.file_name) == ("Phone 3", None, "a.jpg")


def test_the_clock_alone_is_counted_as_utc(tmp_path: Path) -> None:
    one = read(photo(tmp_path / "a.jpg", taken="2026:03:20 05:10:30"))
    assert (one.time_s, one.zone_told, one.at) == (MOMENT, False, None)


def test_satellite_time_alone_and_beside_the_clock(tmp_path: Path) -> None:
    alone = read(photo(tmp_path / "a.jpg", gps_day="2026:03:20", gps_clock=(5, 10, 30)))
    assert (alone.time_s, alone.zone_told, alone.gps_time) == (MOMENT, True, True)
    both = read(photo(tmp_path / "b.jpg", taken="2026:03:20 07:11:00", gps_day="2026:03:20", gps_clock=(5, 10, 30)))
    assert (both.ahead_s, both.gps_time, both.zone_told) == (7230, False, False)


def test_south_and_west(tmp_path: Path) -> None:
    assert read(photo(tmp_path / "a.jpg", at=(-70.25, -41.5))).at == pytest.approx((-70.25, -41.5), abs=1e-6)


@pytest.mark.parametrize(
    "told",
    [
        {"taken": "0000:00:00 00:00:00"},
        {"taken": "2026:02:30 07:10:30"},
        {"taken": "yesterday"},
        {"taken": "    :  :     :  :  "},
        {"gps_day": "1899:12:30", "gps_clock": (5.0, 10.0, 30.0)},
        {"gps_day": "2026:03:20", "gps_clock": (25.0, 10.0, 30.0)},
        {"at": (0.0, 0.0)},
        {"at": (190.0, 61.0)},
    ],
)
def test_nonsense_counts_as_not_told(tmp_path: Path, told: dict[str, object]) -> None:
    one = read(photo(tmp_path / "a.jpg", **told))  # type: ignore[arg-type]
    assert (one.time_s, one.at, one.sigma_m) == (None, None, None)
    assert picture(one).size == (60, 40)


def test_an_error_of_nought_or_of_miles_is_no_accuracy(tmp_path: Path) -> None:
    for number, within_m in enumerate((0.0, 1e7)):
        assert read(photo(tmp_path / f"{number}.jpg", at=(27.6, 61.9), within_m=within_m)).sigma_m is None


@pytest.mark.parametrize(
    ("orientation", "corner"),
    [
        (1, "upper left"),
        (2, "upper right"),
        (3, "lower right"),
        (4, "lower left"),
        (6, "upper right"),
        (8, "lower left"),
    ],
)
def test_the_copy_is_upright_whatever_way_the_camera_was_held(tmp_path: Path, orientation: int, corner: str) -> None:
    one = read(photo(tmp_path / "a.jpg", orientation=orientation))
    assert dark_corner(one) == corner
    assert picture(one).size == ((40, 60) if orientation > 4 else (60, 40))


def test_the_copy_is_small_and_says_nothing_of_its_maker(tmp_path: Path) -> None:
    path = photo(tmp_path / "a.jpg", size=(4000, 3000), taken="2026:03:20 05:10:30", at=(27.6, 61.9), camera="K")
    one = read(path)
    held = picture(one)
    assert (held.format, held.size) == ("JPEG", (1280, 960))
    assert not held.getexif()
    assert not {"exif", "comment", "icc_profile", "xmp"} & held.info.keys()
    assert len(one.content) < 100_000


@pytest.mark.parametrize(
    ("kind", "mode"),
    [
        *[("JPEG", "L"), ("JPEG", "CMYK"), ("PNG", "RGB"), ("PNG", "RGBA"), ("PNG", "P"), ("PNG", "1")],
        *[("PNG", "I;16"), ("TIFF", "RGB"), ("TIFF", "LA"), ("WEBP", "RGB")],
    ],
)
def test_other_kinds_of_picture(tmp_path: Path, kind: str, mode: str) -> None:
    if mode == "I;16":
        path = tmp_path / "a"
        Image.new("I;16", (60, 40), 65535).save(path, kind)
    else:
        path = photo(tmp_path / "a", kind=kind, mode=mode, taken="2026:03:20 05:10:30")
    one = read(path)
    assert picture(one).size == (60, 40)
    assert picture(one).mode == "RGB"
    assert picture(one).getpixel((58, 38))[0] > 200  # type: ignore[index]
    assert one.time_s in (MOMENT, None)


@pytest.mark.parametrize("kept", [0.02, 0.3, 0.9])
def test_a_picture_that_is_cut_off_is_refused(tmp_path: Path, kept: float) -> None:
    whole = photo(tmp_path / "whole.jpg", size=(800, 600)).read_bytes()
    path = tmp_path / "cut.jpg"
    path.write_bytes(whole[: int(len(whole) * kept)])
    with pytest.raises(UserError) as failed:
        door.read(path)
    assert str(failed.value).startswith("cut.jpg: ")
    assert "\n" not in str(failed.value)


@pytest.mark.parametrize("magic", [b"\xff\xd8\xff\xe0", b"\x89PNG\r\n\x1a\n", b"II*\0", b"RIFF\0\0\0\0WEBP"])
def test_a_file_that_only_begins_like_a_picture_is_refused(tmp_path: Path, magic: bytes) -> None:
    path = tmp_path / "lie.jpg"
    path.write_bytes(magic + bytes(range(256)) * 20)
    with pytest.raises(UserError, match=r"^lie\.jpg: .*picture"):
        door.read(path)


def test_more_pixels_than_any_camera_takes_are_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(photos, "MOST_PIXELS", 2000)
    with pytest.raises(UserError, match=r"a\.jpg: has 60 x 40 pixels"):
        door.read(photo(tmp_path / "a.jpg"))


def test_a_bomb_is_refused_before_it_is_decoded(tmp_path: Path) -> None:
    path = tmp_path / "bomb.png"
    Image.new("1", (40_000, 30_000)).save(path)
    assert path.stat().st_size < 1_000_000
    with pytest.raises(UserError, match=r"bomb\.png: has far more pixels|bomb\.png: has 40000 x 30000 pixels"):
        door.read(path)


def test_damaged_metadata_lose_no_picture(tmp_path: Path) -> None:
    path = photo(tmp_path / "a.jpg", taken="2026:03:20 05:10:30", at=(27.6, 61.9), camera="K")
    whole = bytearray(path.read_bytes())
    at = whole.index(b"Exif\0\0")
    for place in range(at + 14, at + 120, 3):
        whole[place] ^= 0xFF
    path.write_bytes(whole)
    assert picture(read(path)).size == (60, 40)


def test_nothing_of_pillow_is_changed_for_others(tmp_path: Path) -> None:
    before = (Image.MAX_IMAGE_PIXELS, ImageFile.LOAD_TRUNCATED_IMAGES)
    read(photo(tmp_path / "a.jpg"))
    assert before == (Image.MAX_IMAGE_PIXELS, ImageFile.LOAD_TRUNCATED_IMAGES)
