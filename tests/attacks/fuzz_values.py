"""What is typed into a field: something likely, or something that nobody meant.

Everything is bytes, as on the wire, so that what is no text at all can be sent too.
"""

import datetime as dt
import io
import json
from random import Random

from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image

from tests.attacks.fuzz_pages import Field

Value = bytes | SimpleUploadedFile

ODD = [
    "", " ", "0", "-1", "-0", "1e400", "-1e400", "1e-400", "NaN", "sNaN", "-nan", "Infinity",
    "-Infinity", "inf", "1_000", "٣", "½", "1,5", "1.2.3", "0x10", "1e3", "9" * 20, "9" * 400,
    "1." + "3" * 60, "2147483648", "-2147483649", "9223372036854775808", "null", "None",
    "true", "[]", "{}", '{"a":', "[[0,20],[1,", '{"__class__": 1}', "[" * 900 + "]" * 900,
    "0001-01-01", "9999-12-31", "10000-01-01", "2026-02-31", "2026-13-01", "0000-00-00",
    "0001-01-01T00:00", "9999-12-31T23:59", "2026-02-31T25:61", "23:59:60", "24:00", "99:99",
    "2026-10-25T02:30", "2026-03-29T02:30", "2026-11-01T01:30", "1970-01-01T00:00",
    "\x00", "a\x00b", "\r\n", "\r\nSet-Cookie: a=b", "\ufeff", "\u202egnp.exe", "\u200b",
    "👩‍👩‍👧", "שלום עולם", "Z̷̢̛a̸lg̵o", "İ", "\ud7ff\ufffe",
    "<script>alert(1)</script>", "'\"><img src=x onerror=1>", "{{ 7|add:7 }}", "{% debug %}",
    "' OR 1=1 --", "$(id)", "../../../../etc/passwd", "file:///etc/passwd", "//example.org/",
    "javascript:alert(1)", "=1+1", "%s%n%x", "%00", "a" * 300, "glass " * 2000, "x" * 100_000,
]  # fmt: skip
RAW = [b"\xff\xfe", b"\xed\xa0\x80", b"\xc0\xaf", b"\x80" * 40, b"%ff%zz"]
HUGE_NUMBER = "7" * 5_000
WORDS = (
    "Blue heron",
    "Reed edge 3",
    "Öland",
    "1/8 in clear",
    "For the window by the stair",
)
BODIES = [
    (b"", "application/x-www-form-urlencoded"),
    (b"&=&==&a&%=%&" * 30, "application/x-www-form-urlencoded"),
    (b"a=1&" * 1500, "application/x-www-form-urlencoded"),
    (b"name=\xff\xfe", "application/x-www-form-urlencoded; charset=utf-16"),
    (b"name=x", "application/x-www-form-urlencoded; charset=utf-7"),
    (b"name=x", "application/x-www-form-urlencoded; charset=no-such"),
    (b'{"a": ', "application/json"),
    (b"[" * 2000, "application/json"),
    (b"\x00" * 5000, "application/octet-stream"),
    (b"--x\r\nContent-Disposition: form-data; name=a", "multipart/form-data; boundary=x"),
    (b"no boundary here", "multipart/form-data"),
    (b"--x\r\n\r\n--x--", "multipart/form-data; boundary=\xff".encode("latin-1").decode("latin-1")),
    (b"<a>&b;</a>", "text/xml"),
    (b"t,c\n0,20\n60,x\n", "text/csv"),
    (b"\x1f\x8b\x08\x00garbage", "application/gzip"),
    (b"x", "nonsense"),
]  # fmt: skip


def picture() -> bytes:
    """Return a small picture that is one."""
    out = io.BytesIO()
    Image.new("RGB", (32, 24), "teal").save(out, "PNG")
    return out.getvalue()


PICTURE = picture()
LOG = b"Elapsed (s),Temp C\n" + b"".join(
    b"%d,%d\n" % (n * 60, 20 + n) for n in range(40)
)
FILES = [
    ("a.png", PICTURE, "image/png"),
    ("kiln.csv", LOG, "text/csv"),
    ("kiln.csv", b"", "text/csv"),
    ("kiln.csv", b"Time,Temp\n" + b"x,y\n" * 500, "text/csv"),
    ("kiln.csv", b"Elapsed (s),Temp C\n0,1e400\n60,NaN\n120,99999999999\n", "text/csv"),
    ("kiln.csv", b"\xff\xfeT\x00i\x00m\x00e\x00", "text/csv"),
    ("kiln.csv.gz", b"\x1f\x8b\x08\x00garbage", "application/gzip"),
    ("../../etc/passwd", b"root", "text/plain"),
    ("a\x00.png", PICTURE[:60], "image/png"),
    ("a.svg", b"<svg onload='alert(1)'/>", "image/svg+xml"),
    ("a.jpg", b"\xff\xd8\xff\xe0" + b"\x00" * 200, "image/jpeg"),
    ("a.zip", b"PK\x03\x04" + b"\x00" * 100, "application/zip"),
    ("n" * 400 + ".png", PICTURE, "image/png"),
    ("a.png", b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR\xff\xff\xff\xff\xff\xff\xff\xff", "image/png"),
]  # fmt: skip


def file(random: Random) -> SimpleUploadedFile:
    """Return a small file, now and then a good one."""
    name, data, kind = FILES[random.choice([0, 1, random.randrange(len(FILES))])]
    return SimpleUploadedFile(name, data, content_type=kind)


def likely(field: Field, random: Random, *, now: dt.datetime) -> list[Value]:
    """Return what a person would send: what stands there, or something that fits."""
    if field.kind == "file":
        return [] if random.random() < 0.5 else [file(random)]
    if field.choices:
        if random.random() < 0.5 and field.values:
            return [value.encode() for value in field.values]
        most = len(field.choices) if field.kind == "checkbox" else 1
        count = min(most, 1 + int(random.expovariate(0.7)))
        return [value.encode() for value in random.sample(field.choices, count)]
    if field.kind == "hidden" or (any(field.values) and random.random() < 0.7):
        return [value.encode() for value in field.values]
    return [_typed(field, random, now).encode()]


def _typed(field: Field, random: Random, now: dt.datetime) -> str:
    then = now + dt.timedelta(hours=random.choice([-400, -3, 1, 30, 200, 900]))
    name = field.name.rpartition("-")[2]
    if field.kind == "datetime-local":
        return f"{then:%Y-%m-%dT%H:%M}"
    if field.kind == "date" or name.endswith("date"):
        return f"{then:%Y-%m-%d}"
    if field.kind == "time":
        return f"{then:%H:00}"
    if field.kind == "email":
        return f"somebody{random.randrange(10**6)}@example.org"
    if field.kind == "number" or (field.kind == "text" and random.random() < 0.5):
        return random.choice(
            ["1", "2", "3", "6", "12", "0.25", "40", "480", "800", "1450"]
        )
    return random.choice(WORDS)


def odd(field: Field, random: Random, *, foreign: list[int]) -> list[Value]:
    """Return what nobody meant to be sent in this field."""
    way = random.randrange(12)
    if way == 0:
        return []
    if way == 1:
        return [value.encode() for value in field.values] * 2 + [b"1"]
    if way == 2:
        return [file(random)]
    if way == 3 or (field.kind in {"select", "hidden", "radio"} and way < 6):
        return [str(random.choice([*foreign, 0, -1, 10**30])).encode()]
    if way == 4:
        return [HUGE_NUMBER.encode()]
    if way == 5:
        return [random.choice(RAW)]
    if field.kind == "hidden" and way < 8 and any(field.values):
        return [_broken(field.values[0], random)]
    return [random.choice(ODD).encode("utf-8", "surrogatepass")]


def _broken(value: str, random: Random) -> bytes:
    """Return a value like one of ours with something wrong inside."""
    try:
        known = json.loads(value)
    except ValueError:
        known = None
    if isinstance(known, dict) and known:
        key = random.choice(sorted(known))
        known[key] = random.choice([None, [], {}, "x", -1, 1e308, [[]]])
        return json.dumps(known).encode()
    if isinstance(known, list) and known:
        known[random.randrange(len(known))] = random.choice([None, [], {}, "x", -1])
        return json.dumps(known).encode()
    cut = random.randrange(len(value) + 1)
    return (
        value[:cut] + random.choice(["", "x", "\x00", "-", "9" * 30]) + value[cut + 1 :]
    ).encode()
