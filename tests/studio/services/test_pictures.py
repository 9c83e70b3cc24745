"""Photographs: judged by their content, turned, stripped, stored in two sizes."""

import io
import struct
import zlib

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image

from studio.errors import Refused
from studio.models import HistoryEntry, Picture
from studio.services import photographs
from studio.services import pictures as services
from tests import make
from tests.cast import NOW


def file_of(image: Image.Image, kind: str = "JPEG", **how) -> io.BytesIO:
    out = io.BytesIO()
    image.save(out, kind, **how)
    out.seek(0)
    return out


def photograph(size=(3000, 2000), mode="RGB", colour="teal"):
    return Image.new(mode, size, colour)


def kept(field) -> Image.Image:
    with field.open("rb") as file:
        return Image.open(io.BytesIO(file.read()))


def add(cast, upload, **said):
    return services.add_picture(
        studio=cast.studio, upload=upload, name="low tide.jpg", by=None, at=NOW, **said
    )


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP", "TIFF"])
def test_a_photograph_is_kept_large_and_small_as_webp(cast, kind):
    made = add(cast, file_of(photograph(), kind), caption="Low tide")
    assert (made.width_px, made.height_px) == (3000, 2000)
    large, small = kept(made.image), kept(made.thumbnail)
    assert large.format == small.format == "WEBP"
    assert large.size == (2048, 1365)
    assert small.size == (480, 320)


def test_a_small_picture_is_not_blown_up(cast):
    made = add(cast, file_of(photograph((200, 100))))
    assert kept(made.image).size == (200, 100)


def test_the_cameras_data_is_gone_and_the_picture_stands_upright(cast):
    exif = Image.Exif()
    exif[0x0112] = 6  # orientation: lies on its side
    exif[0x010F] = "A camera with a serial number"
    made = add(cast, file_of(photograph((400, 200)), exif=exif.tobytes()))
    assert (made.width_px, made.height_px) == (200, 400)
    assert kept(made.image).size == (200, 400)
    assert not kept(made.image).getexif()
    with made.image.open("rb") as file:
        assert b"serial number" not in file.read()


def test_transparent_paper_is_white(cast):
    made = add(cast, file_of(photograph((40, 40), "RGBA", (0, 0, 0, 0)), "PNG"))
    assert kept(made.image).getpixel((20, 20)) == (255, 255, 255)


def test_names_on_disk_are_nobodys_words(cast):
    made = add(cast, file_of(photograph((40, 40))))
    assert "tide" not in made.image.name
    assert made.image.name.startswith(f"pictures/{cast.studio.pk}/")
    assert made.image.name != made.thumbnail.name


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"not a picture at all",
        b"<svg xmlns='http://www.w3.org/2000/svg'/>",
        b"%PDF-1.7",
        b"\xff\xd8\xff\xe0 broken",
        file_of(photograph((40, 40))).getvalue()[:-200],
        file_of(photograph((40, 40)), "PNG").getvalue()[:60],
        file_of(photograph((40, 40)), "GIF").getvalue(),
    ],
)
def test_what_is_no_picture_is_refused_by_name(cast, data):
    with pytest.raises(Refused, match="low tide.jpg is not a picture that can be read"):
        add(cast, io.BytesIO(data))
    assert not Picture.across_studios.exists()


# Pillow warns on its way to judging a broken file; what counts is the judgement.
@pytest.mark.filterwarnings("ignore")
@given(st.binary(max_size=300), st.integers(0, 600))
@settings(max_examples=150, suppress_health_check=[HealthCheck.too_slow])
def test_a_damaged_file_is_read_or_refused_and_never_an_error(damage, where):
    for kind in ("JPEG", "PNG", "TIFF", "WEBP"):
        data = bytearray(file_of(photograph((60, 40)), kind).getvalue())
        data[where : where + len(damage)] = damage
        try:
            photographs.develop(io.BytesIO(bytes(data)), "x.jpg")
        except Refused:
            continue


def png_that_claims(width: int, height: int) -> io.BytesIO:
    """A few hundred bytes that would unpack to a huge picture."""

    def chunk(name: bytes, data: bytes) -> bytes:
        check = zlib.crc32(name + data)
        return struct.pack(">I", len(data)) + name + data + struct.pack(">I", check)

    head = struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)
    body = chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(b"\0" * 999))
    return io.BytesIO(b"\x89PNG\r\n\x1a\n" + body + chunk(b"IEND", b""))


@pytest.mark.filterwarnings("ignore::PIL.Image.DecompressionBombWarning")
@pytest.mark.parametrize("size", [(7_800, 7_700), (10_000, 10_000), (60_000, 60_000)])
def test_too_many_pixels_are_refused_before_they_are_unpacked(cast, size):
    with pytest.raises(Refused, match="million pixels"):
        add(cast, png_that_claims(*size))


def test_too_many_bytes_are_refused_without_reading_on(cast):
    class Endless(io.BytesIO):
        asked = 0

        def read(self, size=-1):
            self.asked = size
            return b"x" * size

    upload = Endless()
    with pytest.raises(Refused, match="larger than 25 MB"):
        add(cast, upload)
    assert upload.asked == photographs.MAX_BYTES + 1


def test_a_layers_picture_belongs_to_its_piece_and_a_passs_to_its_layer(cast):
    piece = make.piece(studio=cast.studio, glass=cast.glass)
    of_pass = make.passes_of(piece)[0]
    made = add(cast, file_of(photograph((40, 40))), of_pass=of_pass)
    assert made.layer == of_pass.sheet.layer
    assert made.piece == piece


def test_another_studios_piece_gets_no_picture(cast, strangers):
    theirs = make.piece(studio=strangers.studio, glass=strangers.glass)
    with pytest.raises(ValueError, match="another studio"):
        add(cast, file_of(photograph((40, 40))), piece=theirs)


def test_showing_to_the_client_and_back_is_told(cast):
    made = add(cast, file_of(photograph((40, 40))), caption="Low tide")
    # Pressed twice, it is told once.
    for is_shown in (True, True, False, False):
        services.show_to_client(picture=made, is_shown=is_shown, by=None, at=NOW)
        made.refresh_from_db()
        assert made.is_shown_to_client is is_shown
    told = HistoryEntry.across_studios.order_by("pk").values_list("what", flat=True)
    assert list(told) == [
        "Shows the client: Low tide",
        "No longer shows the client: Low tide",
    ]


def test_removing_deletes_the_files_once_it_is_certain(
    cast, django_capture_on_commit_callbacks
):
    made = add(cast, file_of(photograph((40, 40))))
    storage, names = made.image.storage, [made.image.name, made.thumbnail.name]
    with django_capture_on_commit_callbacks(execute=False) as afterwards:
        services.remove_picture(picture=made, by=None, at=NOW)
    assert not Picture.across_studios.exists()
    assert all(storage.exists(name) for name in names)
    for callback in afterwards:
        callback()
    assert not any(storage.exists(name) for name in names)


def test_a_caption_is_changed(cast):
    made = add(cast, file_of(photograph((40, 40))))
    services.change_caption(picture=made, caption="x" * 300)
    made.refresh_from_db()
    assert made.caption == "x" * 200
