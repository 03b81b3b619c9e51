"""Photos: upright, of bounded size, without location; bytes read only when asked for.

Exif tags by number (CIPA DC-008, Exif 2.3): orientation 0x0112, GPS pointer 0x8825.
"""

from __future__ import annotations

import struct
import zlib
from io import BytesIO

import pytest
from PIL import Image

from commission.errors import ProjectFileError
from commission.project import ProjectFile
from commission.project.pictures import LONGEST_SIDE, prepare_photo

ORIENTATION, MAKER_TEXT, GPS = 0x0112, 0x010F, 0x8825
LATITUDE_REF, LATITUDE = 1, 2


def picture(size=(640, 480), colour="red", file_format="JPEG", exif=None, mode="RGB") -> bytes:
    out = BytesIO()
    extra = {} if exif is None else {"exif": exif}
    Image.new(mode, size, colour).save(out, file_format, **extra)
    return out.getvalue()


def phone_exif(orientation: int = 1) -> Image.Exif:
    exif = Image.Exif()
    exif[ORIENTATION] = orientation
    exif[MAKER_TEXT] = "invented camera"
    exif[GPS] = {LATITUDE_REF: "N", LATITUDE: (39.0, 30.0, 0.0)}
    return exif


def opened(data: bytes) -> Image.Image:
    return Image.open(BytesIO(data))


@pytest.mark.parametrize("file_format", ["JPEG", "PNG", "WEBP", "TIFF", "BMP", "GIF"])
def test_common_formats_become_jpeg(file_format):
    image = opened(prepare_photo(picture(file_format=file_format)))
    assert (image.format, image.mode, image.size) == ("JPEG", "RGB", (640, 480))
    red, green, blue = image.getpixel((320, 240))
    assert red > 245
    assert max(green, blue) < 10


@pytest.mark.parametrize(
    ("size", "expected"),
    [
        ((4096, 1024), (2048, 512)),
        ((1000, 3000), (683, 2048)),
        ((2048, 2048), (2048, 2048)),
        ((100, 50), (100, 50)),
    ],
)
def test_the_longest_side_is_bounded_and_small_ones_stay(size, expected):
    assert opened(prepare_photo(picture(size))).size == expected
    assert max(expected) <= LONGEST_SIDE


def test_the_orientation_of_the_camera_is_applied():
    source = Image.new("RGB", (200, 100), "blue")
    source.paste("red", (0, 0, 50, 100))  # red at the left as stored
    out = BytesIO()
    source.save(out, "JPEG", exif=phone_exif(6))  # 6: to be turned clockwise by a quarter
    image = opened(prepare_photo(out.getvalue()))
    assert image.size == (100, 200)
    assert image.getpixel((50, 10))[0] > 200  # red at the top
    assert image.getpixel((50, 190))[2] > 200


def test_location_and_all_other_metadata_are_removed():
    out = BytesIO()
    remark = "north roof, 39.5 N"
    Image.new("RGB", (64, 48)).save(out, "JPEG", exif=phone_exif(), comment=remark)
    data = out.getvalue()
    assert opened(data).getexif().get_ifd(GPS)
    kept = prepare_photo(data)
    assert len(opened(kept).getexif()) == 0
    for text in (b"invented camera", remark.encode()):
        assert text in data
        assert text not in kept


def test_location_stays_if_asked_for_and_nothing_else_does():
    exif = opened(prepare_photo(picture(exif=phone_exif(6)), keep_location=True)).getexif()
    assert exif.get_ifd(GPS)[LATITUDE] == (39.0, 30.0, 0.0)
    assert list(exif) == [GPS]


@pytest.mark.parametrize(("mode", "colour"), [("RGBA", (255, 0, 0, 0)), ("LA", (0, 0))])
def test_transparent_parts_become_white(mode, colour):
    image = opened(prepare_photo(picture(mode=mode, colour=colour, file_format="PNG")))
    assert min(image.getpixel((10, 10))) > 245


@pytest.mark.parametrize("mode", ["L", "P", "1", "CMYK", "I;16"])
def test_other_colour_models_are_taken(mode):
    file_format = "TIFF" if mode in ("CMYK", "I;16") else "PNG"
    data = picture(mode=mode, colour=0, file_format=file_format)
    assert opened(prepare_photo(data)).mode == "RGB"


def png_that_claims(width: int, height: int) -> bytes:
    """A PNG whose header claims a size that its few bytes do not hold (PNG 11.2.2 IHDR)."""

    def chunk(kind: bytes, content: bytes) -> bytes:
        check = zlib.crc32(kind + content)
        return struct.pack(">I", len(content)) + kind + content + struct.pack(">I", check)

    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", b"") + chunk(b"IEND", b"")


@pytest.mark.parametrize("size", [(12_001, 10_000), (60_000, 60_000)])
def test_absurd_pixel_counts_are_refused_before_they_are_decoded(size):
    with pytest.raises(ProjectFileError, match=r"^P7\.png: .*pixels.*Save it smaller"):
        prepare_photo(png_that_claims(*size), "P7.png")


@pytest.mark.parametrize("data", [b"", b"no picture", b"\xff\xd8\xff\xe0" + bytes(40)])
def test_what_is_no_picture_is_refused(data):
    with pytest.raises(ProjectFileError, match=r"Save it as JPEG|Take or save it again"):
        prepare_photo(data)


def test_a_picture_cut_short_is_refused():
    data = picture((800, 800), colour="green")
    with pytest.raises(ProjectFileError, match="damaged"):
        prepare_photo(data[: len(data) // 2])


def test_a_photo_is_kept_and_read_when_asked_for(project, unit_id, tmp_path, path):
    (tmp_path / "p.png").write_bytes(picture(file_format="PNG"))
    photo = project.add_photo(
        unit_id, tmp_path / "p.png", name="nameplate_photo", index=(2,), caption="plate"
    )
    assert (photo.name, photo.index, photo.caption) == ("nameplate_photo", (2,), "plate")
    assert photo.media_type == "image/jpeg"
    assert opened(photo.data).size == (640, 480)
    project.close()
    with ProjectFile.open(path, read_only=True) as again:
        (found,) = again.photos(unit_id)
        assert found == photo
        assert opened(found.data).size == (640, 480)
    with pytest.raises(ProjectFileError, match="the file is still open"):
        _ = found.data


def test_the_same_picture_is_stored_once(project, unit_id):
    first = project.add_photo(unit_id, picture(), caption="one")
    project.add_photo(unit_id, picture(), caption="two")
    assert project._select("SELECT count(*) AS n FROM photo_data")[0]["n"] == 1
    assert project.update_photo(first.id, caption="three").at == first.at
    assert [photo.caption for photo in project.photos()] == ["three", "two"]
    project.remove_photo(first.id)
    assert [photo.caption for photo in project.photos(unit_id)] == ["two"]
    with pytest.raises(ProjectFileError, match="keeps its media_type"):
        project.update_photo(first.id, media_type="x")


def test_a_photo_that_cannot_be_read_or_kept_is_told(project, unit_id, tmp_path):
    with pytest.raises(ProjectFileError, match="cannot be read"):
        project.add_photo(unit_id, tmp_path / "absent.jpg")
    noise = Image.effect_noise((900, 900), 90).convert("RGB")
    out = BytesIO()
    noise.save(out, "PNG")
    project._connection.execute("PRAGMA max_page_count = 1")
    with pytest.raises(ProjectFileError, match="Photo was NOT kept: the disk is full"):
        project.add_photo(unit_id, out.getvalue())
    assert project.photos() == []
