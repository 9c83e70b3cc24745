"""From bytes to lines of text, a piece at a time: a log need not fit into memory."""

import codecs
import io
import re
from collections.abc import Iterator
from contextlib import suppress
from typing import IO

from firing.controller_log.problems import LogProblem

CHUNK = 1 << 16
# No logger writes a longer line; what has one is something else, or made to fill memory.
LONGEST_LINE = 20_000
SNIFFED_BYTES = 2000
_CONTROL = re.compile(r"[\x00-\x08\x0e-\x1f\x7f]")
# One sign each for what is elsewhere written in two.
_SCALES = str.maketrans({"\u2103": "°C", "\u2109": "°F"})
_OTHER_SIGNS = re.compile("[\u2103\u2109]")


def _codecs(head: bytes) -> tuple[str, ...]:
    """Return what a file may be written in, by its beginning."""
    if head.startswith((b"\xff\xfe", b"\xfe\xff")):
        return ("utf-16",)
    # Plain letters in UTF-16 have a zero in every other byte.
    if head[1::2].count(0) > len(head) // 3:
        return ("utf-16-le",)
    if head[0::2].count(0) > len(head) // 3:
        return ("utf-16-be",)
    return ("utf-8-sig", "latin-1")


def _end_of_text(file: IO[bytes], size: int, *, is_wide: bool) -> int:
    """Return where the text ends: a logger that lost power may leave a tail of zeros."""
    end = size
    while end:
        start = max(0, end - CHUNK)
        file.seek(start)
        kept = len(file.read(end - start).rstrip(b"\x00"))
        end = start + kept
        if kept:
            break
    # The second half of a plain letter in UTF-16 is a zero too.
    return min(end + end % 2, size) if is_wide else end


def _not_text() -> LogProblem:
    return LogProblem(
        "This is not a text file. Export the firing as CSV and give that file."
    )


class Text:
    """A file's lines, which may be gone through more than once.

    Attributes
    ----------
    encoding : str
        The encoding, as a person calls it.
    is_unended : bool
        The last line has no end, so it may be cut short.
    """

    def __init__(self, file: IO[bytes]) -> None:
        """Find the encoding.

        Raises
        ------
        LogProblem
            If the file is empty or is no text.
        """
        self._file = file
        size = file.seek(0, io.SEEK_END)
        file.seek(0)
        head = file.read(SNIFFED_BYTES).rstrip(b"\x00")
        if not head.strip():
            raise LogProblem("This file is empty. Export the firing again.")
        for codec in _codecs(head):
            if is_wide := codec.startswith("utf-16"):
                # Half a letter at the end is where the file was cut short.
                size -= size % 2
            self._codec, self._end = codec, _end_of_text(file, size, is_wide=is_wide)
            with suppress(UnicodeDecodeError):
                last = self._look_through()
                break
        else:
            raise _not_text()
        self.encoding = re.sub("-(sig|le|be)$", "", self._codec)
        self.is_unended = self._end < size or not last.endswith("\n")

    def _look_through(self) -> str:
        """Return the last piece, having decoded all of them."""
        last = ""
        for index, piece in enumerate(self._pieces()):
            if "\x00" in piece or (not index and _CONTROL.search(piece)):
                raise _not_text()
            last = piece or last
        return last

    def _pieces(self) -> Iterator[str]:
        """Yield the text in pieces, every end of line as one sign."""
        decoder = io.IncrementalNewlineDecoder(
            codecs.getincrementaldecoder(self._codec)(), translate=True
        )
        for start in range(0, self._end, CHUNK):
            # Whoever goes through it at the same time moves the file's place.
            self._file.seek(start)
            end = min(start + CHUNK, self._end)
            yield decoder.decode(self._file.read(end - start), final=end == self._end)

    def lines(self) -> Iterator[str]:
        """Yield the lines without their ends.

        Raises
        ------
        LogProblem
            If one is longer than any log's.
        """
        tail, number = "", 0
        for piece in self._pieces():
            if _OTHER_SIGNS.search(piece):
                piece = piece.translate(_SCALES)
            *lines, tail = (tail + piece).split("\n")
            if max(len(tail), *map(len, lines), 0) > LONGEST_LINE:
                every = enumerate((*lines, tail), number + 1)
                at = next(at for at, line in every if len(line) > LONGEST_LINE)
                raise LogProblem(
                    f"Line {at:,} is longer than {LONGEST_LINE:,} letters, so this is "
                    "no log of readings. Export the firing as CSV."
                )
            number += len(lines)
            yield from lines
        yield tail
