"""Pictures made to fill the memory, to take for ever, or to stay when refused."""

import errno
import io
import json
import struct
import subprocess
import sys
import threading
import zlib
from datetime import timedelta
from pathlib import Path

import pytest
from django.conf import settings
from django.core.files.base import ContentFile
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import transaction
from django.urls import reverse
from PIL import Image

from commissions.services.intake import change
from firing.firings.services.running import Upload, finish_firing, start_firing
from studio.errors import Refused
from studio.models import Picture
from studio.services import photographs
from studio.services.pictures import keep_picture
from studio.services.pieces import mark_lost
from studio.whole_files import with_its_files
from tests import make
from tests.cast import NOW
from tests.commissions import build
from tests.firing import build as firing_build
from tests.patience import LONG_S, in_form

MOST_ADDED_MB = 300
TOLD_SMALLER = "Save it as an ordinary JPEG, or send a smaller copy."
LONG, SIGNED_LONG_OF_8_BYTES = 4, 17  # TIFF's numbers; Pillow does not know the second.
BUSY = "others are sending pictures just now"


def chunk(name: bytes, data: bytes) -> bytes:
    """Return one part of a PNG."""
    check = zlib.crc32(name + data)
    return struct.pack(">I", len(data)) + name + data + struct.pack(">I", check)


def zeros(count: int) -> bytes:
    """Return so many zeros, compressed."""
    squeeze = zlib.compressobj(1)
    rest = count % 1_000_000
    parts = [squeeze.compress(bytes(1_000_000)) for _ in range(count // 1_000_000)]
    return b"".join([*parts, squeeze.compress(bytes(rest)), squeeze.flush()])


def png(width, height, *, channels=3, interlaced=False, extra=b"", data=None) -> bytes:
    """Return a black PNG; with `data`, whatever its rows really are."""
    colour = {1: 0, 3: 2, 4: 6}[channels]
    head = struct.pack(">IIBBBBB", width, height, 8, colour, 0, 0, int(interlaced))
    if data is None:
        # A little more than the rows need: the seven passes have more of them.
        data = zeros(height * (width * channels + 1) + (width + height) * 16)
    parts = chunk(b"IHDR", head) + extra + chunk(b"IDAT", data) + chunk(b"IEND", b"")
    return b"\x89PNG\r\n\x1a\n" + parts


def saved(size, kind="JPEG", mode="RGB", **how) -> bytes:
    """Return a picture as Pillow writes it."""
    out = io.BytesIO()
    Image.new(mode, size, 90).save(out, kind, **how)
    return out.getvalue()


def many_scans(data: bytes, count: int) -> bytes:
    """Return a progressive JPEG whose last scan comes again and again."""
    last = data.rindex(b"\xff\xda")
    return data[:last] + data[last:-2] * count + data[-2:]


def tiled_tiff(side: int, tile: int, kind: int) -> bytes:
    """Return a grey TIFF in one tile, whose size is given in numbers of this kind."""
    data = zeros(tile * tile)
    data += bytes(len(data) % 2)
    given = tile if kind == LONG else 8
    rows = [(256, LONG, side), (257, LONG, side), (258, LONG, 8), (259, LONG, 8)]
    rows += [(262, LONG, 1), (322, kind, given), (323, kind, given)]
    rows += [(324, LONG, 16), (325, LONG, len(data))]
    head = b"II*\0" + struct.pack("<IQ", 16 + len(data), tile)
    directory = b"".join(struct.pack("<HHII", tag, of, 1, n) for tag, of, n in rows)
    return head + data + struct.pack("<H", len(rows)) + directory + bytes(4)


def pushed_apart(data: bytes, rubbish: bytes) -> bytes:
    """Return a JPEG with something between its parts that the decoder passes over."""
    return data.replace(b"\xff\xda", rubbish + b"\xff\xff\xda")


def with_comments(count: int, first: bytes = b"") -> bytes:
    """Return a JPEG that begins with so many empty comments."""
    data = saved((40, 30))
    return data[:2] + first + b"\xff\xfe\0\2" * count + data[2:]


MANY_SCANS = many_scans(saved((400, 300), progressive=True), 60)
# The worst of each kind first: the short form takes only those.
BOMBS = {
    "PNG of 24 million, transparent": lambda: png(6_000, 4_000, channels=4),
    "WebP of 16 million": lambda: saved(
        (4_000, 4_000), "WEBP", lossless=True, method=0
    ),
    "progressive CMYK JPEG of 16 million": lambda: saved(
        (4_000, 4_000), mode="CMYK", progressive=True
    ),
    "JPEG from a phone, 50 million": lambda: saved((8_160, 6_120)),
    "JPEG, long and thin": lambda: saved((60_000, 1_600)),
    "PNG of 24 million": lambda: png(6_000, 4_000),
    "PNG of 24 million, interlaced": lambda: png(6_000, 4_000, interlaced=True),
    "PNG, long and thin": lambda: png(2_000_000, 12),
    "TIFF of 24 million": lambda: saved(
        (6_000, 4_000), "TIFF", compression="tiff_deflate"
    ),
    "progressive JPEG of 16 million": lambda: saved(
        (4_000, 4_000), progressive=True, subsampling=0
    ),
}


def developed_at_once(count: int, bombs: dict[str, bytes], folder) -> dict[str, dict]:
    for number, bomb in enumerate(bombs.values()):
        (folder / str(number)).write_bytes(bomb)
    files = [str(folder / str(number)) for number in range(len(bombs))]
    told = subprocess.run(
        [sys.executable, "-m", "tests.attacks.develop_at_once", str(count), *files],
        cwd=settings.BASE_DIR,
        capture_output=True,
        text=True,
        check=True,
        timeout=LONG_S,
    )
    return dict(zip(bombs, json.loads(told.stdout), strict=True))


on_linux = pytest.mark.skipif(
    sys.platform != "linux", reason="reads the peak of memory where Linux tells it"
)


@on_linux
def test_six_pngs_of_60_million_pixels_at_once_are_refused_undecoded(tmp_path):
    bombs = {"PNG": png(10_000, 6_000)}
    found = developed_at_once(6, bombs, tmp_path)["PNG"]
    assert all(one.endswith(TOLD_SMALLER) for one in found["told"])
    assert found["added_mb"] < MOST_ADDED_MB / 10


@on_linux
def test_a_small_tiff_in_one_huge_tile_is_refused_undecoded(tmp_path):
    kinds = (LONG, SIGNED_LONG_OF_8_BYTES)
    bombs = {str(kind): tiled_tiff(128, 12_000, kind) for kind in kinds}
    for found in developed_at_once(1, bombs, tmp_path).values():
        assert "it is a TIFF in tiles" in found["told"][0]
        assert found["added_mb"] < MOST_ADDED_MB / 10


@on_linux
def test_pictures_at_once_stay_under_300_mb(tmp_path):
    bombs = {
        name: make() for name, make in list(BOMBS.items())[: in_form(5, len(BOMBS))]
    }
    found = developed_at_once(in_form(2, 6), bombs, tmp_path)
    for name, one in found.items():
        assert one["added_mb"] < MOST_ADDED_MB, name
        # The others came in their turn, or were asked to come again.
        assert any(" x " in told for told in one["told"]), name
        assert all(" x " in told or BUSY in told for told in one["told"]), name


@pytest.mark.parametrize(
    ("data", "why"),
    [
        (png(5_000, 4_801), "more than 24 million pixels"),
        (saved((4_001, 4_000), progressive=True), "more than 16 million pixels"),
        (saved((4_001, 4_000), "WEBP"), "more than 16 million pixels"),
        (png(11_000, 10_001, data=b""), "more than 110 million pixels"),
        (png(60_000, 60_000, data=b""), "more than 110 million pixels"),
        (MANY_SCANS, "JPEG of too many parts"),
        (pushed_apart(MANY_SCANS, bytes(9)), "JPEG of too many parts"),
        (pushed_apart(MANY_SCANS, b"\xff\xd0\xff\xff"), "JPEG of too many parts"),
        (with_comments(10_000), "JPEG of too many parts"),
        (with_comments(10_000, first=b"\xff\xd8"), "JPEG of too many parts"),
        (with_comments(10_000, first=b"\xff\xd9"), "not a picture that can be read"),
        (png(40, 30, extra=chunk(b"tEXt", b"a\0") * 10_000), "PNG of too many parts"),
    ],
)
def test_what_is_too_much_is_told_before_it_is_decoded(data, why):
    with pytest.raises(Refused, match=why):
        photographs.develop(io.BytesIO(data), "it")


def exif_of_many() -> bytes:
    rows = b"".join(
        struct.pack(">HHII", 0x9000 + n % 4096, 2, 0xFFFFFFF0, 8) for n in range(5_000)
    )
    return b"MM\0*\0\0\0\x08" + struct.pack(">H", 5_000) + rows + bytes(4)


@pytest.mark.filterwarnings("ignore")  # Pillow's own, on its way to a judgement.
@pytest.mark.parametrize(
    "extra",
    [
        chunk(b"iCCP", b"profile\0\0" + zeros(300_000_000)),
        chunk(b"zTXt", b"comment\0\0" + zeros(300_000_000)),
        chunk(b"iTXt", b"comment\0\1\0\0\0" + zeros(300_000_000)),
        chunk(b"eXIf", exif_of_many()),
        chunk(b"acTL", struct.pack(">II", 0xFFFFFF, 0)),
    ],
    ids=["iCCP", "zTXt", "iTXt", "eXIf", "acTL"],
)
def test_what_comes_with_a_picture_is_not_unpacked(extra):
    try:
        made = photographs.develop(io.BytesIO(png(40, 30, extra=extra)), "it")
    except Refused:
        return
    assert (made.width_px, made.height_px) == (40, 30)


def pages(kind: str, **how) -> bytes:
    out = io.BytesIO()
    more = [Image.new("RGB", (60, 40), n) for n in range(30)]
    Image.new("RGB", (60, 40)).save(out, kind, save_all=True, append_images=more, **how)
    return out.getvalue()


@pytest.mark.parametrize("kind", ["TIFF", "MPO", "WEBP", "PNG"])
def test_of_many_pages_or_frames_the_first_is_taken(kind):
    made = photographs.develop(io.BytesIO(pages(kind)), "it")
    assert (made.width_px, made.height_px) == (60, 40)


def test_a_phones_picture_stands_upright_at_its_full_size():
    exif = Image.Exif()
    exif[0x0112] = 8
    data = saved((4_032, 3_024), exif=exif.tobytes())
    made = photographs.develop(io.BytesIO(data), "it")
    assert (made.width_px, made.height_px) == (3_024, 4_032)
    assert Image.open(made.large).size == (1_536, 2_048)
    assert Image.open(made.small).size == (360, 480)


@pytest.mark.parametrize("is_progressive", [False, True])
def test_a_film_behind_a_phones_picture_is_not_looked_at(is_progressive):
    data = saved((800, 600), progressive=is_progressive) + b"\xff\xda\0\x08" * 1_000
    assert photographs.develop(io.BytesIO(data), "it").width_px == 800


def test_who_waits_too_long_is_asked_to_come_again(monkeypatch):
    monkeypatch.setattr(photographs, "TURN_WITHIN_S", 0.05)
    monkeypatch.setattr(photographs, "JOIN_WITHIN_S", 0.05)
    upload = saved((40, 30))
    with photographs._desk, pytest.raises(Refused, match=BUSY):
        photographs.develop(io.BytesIO(upload), "it")
    assert photographs.develop(io.BytesIO(upload), "it").width_px == 40
    full = threading.BoundedSemaphore(1)
    full.acquire()
    monkeypatch.setattr(photographs, "_line", full)
    with pytest.raises(Refused, match=BUSY):
        photographs.develop(io.BytesIO(upload), "it")


# --- What is refused keeps no picture ------------------------------------------------


def files_kept() -> list[str]:
    """Return the pictures' files on the disk, whatever folder they are in."""
    root = Path(settings.MEDIA_ROOT) / "pictures"
    return [str(path) for path in root.rglob("*") if path.is_file()]


@pytest.fixture
def keeps_nothing(tmp_path, settings):
    """Return a function that says that no picture stayed, neither row nor file."""
    settings.MEDIA_ROOT = tmp_path

    def check():
        assert not Picture.across_studios.exists()
        assert not files_kept()

    return check


def upload(name="tide.jpg"):
    return SimpleUploadedFile(name, saved((80, 60)), "image/jpeg")


class TooLarge(ContentFile):
    """A file of which only the first part fits on the disk."""

    def chunks(self, chunk_size=None):
        yield self.read()
        raise OSError(errno.ENOSPC, "full")


@pytest.mark.parametrize("too_large", ["large", "small"])
def test_a_picture_that_fills_the_disk(cast, keeps_nothing, too_large):
    kind = {"large": ContentFile, "small": ContentFile, too_large: TooLarge}
    made = {size: kind[size](b"much", name="a.webp") for size in ("large", "small")}
    developed = photographs.Developed(**made, width_px=1, height_px=1)
    with pytest.raises(OSError, match="full"):
        keep_picture(studio=cast.studio, developed=developed, by=None, at=NOW)
    keeps_nothing()


@pytest.mark.django_db(transaction=True)
def test_a_picture_that_is_saved_stays_whatever_fails_after_the_commit(cast):
    def fail():
        raise OSError(errno.EIO, "Input/output error")

    @with_its_files()
    def keep():
        transaction.on_commit(fail)
        developed = photographs.develop(upload(), "tide.jpg")
        keep_picture(studio=cast.studio, developed=developed, by=None, at=NOW)

    with pytest.raises(OSError, match="Input"):
        keep()
    assert Picture.across_studios.count() == 1
    assert len(files_kept()) == 2


@pytest.mark.parametrize("wrong", [{"time_each": "soon"}, {"passes": ["999999"]}, {}])
def test_a_refused_painting(signed_in, cast, keeps_nothing, wrong):
    piece = make.piece(studio=cast.studio, glass=cast.glass)
    first = make.passes_of(piece)[0]
    if not wrong:
        # A rule refuses it: the piece was lost while somebody filled the form in.
        mark_lost(piece=piece, note="It fell", by=None, at=NOW)
    answer = signed_in("helper").post(
        reverse("studio:piece_paint", args=[piece.pk]),
        {"passes": [first.pk], f"picture_{first.pk}": upload(), **wrong},
    )
    assert answer.status_code in (409, 422)
    keeps_nothing()


def test_a_refused_picture_of_a_piece(signed_in, cast, keeps_nothing):
    piece = make.piece(studio=cast.studio, glass=cast.glass)
    answer = signed_in("helper").post(
        reverse("studio:picture_add", args=[piece.pk]),
        {"picture": upload(), "caption": "x" * 201},
    )
    assert answer.status_code == 422
    keeps_nothing()


def test_a_refused_finish_of_a_firing(cast, keeps_nothing):
    firing = firing_build.enamel(kiln=cast.kiln, glass=cast.glass)
    item = firing.items.first()
    with pytest.raises(Refused, match="was not started"):
        finish_firing(
            firing=firing,
            outcomes={item.pk: ("fine", "")},
            pictures_of={item.pk: Upload(file=io.BytesIO(saved((80, 60))), name="a")},
            by=None,
            at=NOW,
        )
    keeps_nothing()


def test_a_finish_refused_after_its_pictures(cast, keeps_nothing, monkeypatch):
    firing = firing_build.enamel(kiln=cast.kiln, glass=cast.glass)
    item = firing.items.first()
    start_firing(firing=firing, by=None, at=NOW)

    def refuse(*_):
        raise Refused("The kiln's time cannot be given back.")

    monkeypatch.setattr("firing.firings.services.running._give_back_rest", refuse)
    with pytest.raises(Refused, match="given back"):
        finish_firing(
            firing=firing,
            outcomes={one.pk: ("fine", "") for one in firing.items.all()},
            pictures_of={item.pk: Upload(file=io.BytesIO(saved((80, 60))), name="a")},
            by=None,
            at=NOW + timedelta(hours=30),
            hand=firing_build.READ_COLD,
        )
    keeps_nothing()


def test_a_refused_request_of_a_client(signed_in, cast, keeps_nothing):
    answer = signed_in().post(
        reverse("commissions:commission_new"),
        {"title": "Flood tide", "reference_file": upload()},
    )
    assert answer.status_code == 422
    keeps_nothing()


def test_a_commission_accepted_while_its_picture_came(cast, keeps_nothing):
    commission = build.accepted(cast).commission
    with pytest.raises(Refused, match="stays their commission"):
        change(
            commission=commission,
            client=build.client(cast, name="Somebody Else"),
            new_client={},
            reference_file=upload(),
            facts={},
            by=cast.owner,
            at=NOW,
        )
    keeps_nothing()


def test_news_whose_second_picture_is_none(signed_in, cast, keeps_nothing):
    commission = build.commission(cast)
    answer = signed_in().post(
        reverse("commissions:post_new", args=[commission.pk]),
        {"text": "News", "uploads": [upload(), SimpleUploadedFile("b.jpg", b"no")]},
    )
    assert answer.status_code == 409
    keeps_nothing()
