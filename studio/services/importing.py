"""Imports a studio from an archive: all of it, or nothing.

Keys are new, and every record that names another follows. People are found by e-mail
address; anybody with an account here keeps it as it is, and is named in the records
only if admitted.
"""

import secrets
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from datetime import datetime
from itertools import islice
from pathlib import Path
from tempfile import SpooledTemporaryFile
from typing import Any, TypeVar

from django.core.files.base import File
from django.core.files.storage import default_storage
from django.db import DatabaseError
from django.db.models import Field, FileField, ManyToManyField, Model

from studio.archive import ArchiveReader
from studio.errors import Refused
from studio.migration_steps import known_steps
from studio.models import Membership, Person, Role, Studio
from studio.selectors.kinds import Kind, arrivals, carried_kinds, is_pointed_at
from studio.selectors.stored_values import from_json
from studio.services.accounts import password_link
from studio.whole_files import with_its_files

_Row = TypeVar("_Row")

Told = Callable[[str], None]
ROWS_AT_ONCE = 500
LARGEST_FILE = 128 * 1024**2
IN_MEMORY = 8 * 1024**2
# The first bytes of our files; any other file is no picture or paper.
STARTS = {
    ".webp": lambda head: head[:4] == b"RIFF" and head[8:12] == b"WEBP",
    ".pdf": lambda head: head[:5] == b"%PDF-",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrived:
    """An imported studio, and what to tell people."""

    studio: Studio
    links: dict[str, str]
    """For owners without an account here before: the path at which each sets a
    password."""
    waiting: list[str]
    """Addresses with an account here already, which were not admitted."""
    lost_files: int


def import_studio(
    *,
    path: Path,
    at: datetime,
    told: Told,
    admitted: Iterable[str] = (),
    again: bool = False,
) -> Arrived:
    """Import a studio from an archive.

    If an address has an account here, its person gets in only if `admitted` names them:
    an address here may be another person's, and an archive may name anybody. Otherwise
    somebody who cannot sign in, with the archive's name, stands for them. A studio that is already here is imported a
    second time only with `again`.

    Raises
    ------
    Refused
        Saying what is wrong with the archive; nothing is left behind then.
    """
    with ArchiveReader(path) as archive_reader:
        refuse_other_program(archive_reader.manifest)
        archive_reader.check(told)
        bringing = _Bringing(
            archive_reader, at, told, frozenset(map(_address, admitted))
        )
        try:
            with with_its_files():
                return bringing.bring(again=again)
        except DatabaseError as problem:
            raise Refused(
                "The database refuses what the archive holds: its records do not "
                f"go together. ({problem})"
            ) from problem


def refuse_other_program(manifest: dict[str, Any]) -> None:
    """Refuse an archive of a newer program, or one without records of ours.

    Raises
    ------
    Refused
        Saying what to do.
    """
    told, known = manifest.get("migrations"), known_steps()
    if not isinstance(told, dict):
        raise Refused("The archive does not say which program made it.")
    for app, names in told.items():
        if new := [one for one in names if (app, one) not in known]:
            raise Refused(
                f"The archive was made by a newer program, which has {app} {new[0]}. "
                "Update this one first."
            )


def _batches(rows: Iterator[_Row]) -> Iterator[list[_Row]]:
    while batch := list(islice(rows, ROWS_AT_ONCE)):
        yield batch


def _address(email: str) -> str:
    return email.strip().lower()


@dataclass
class _Bringing:
    """One import in progress, and the new keys."""

    archive_reader: ArchiveReader
    at: datetime
    told: Told
    admitted: frozenset[str]
    keys: dict[str, dict[int, int]] = field(
        default_factory=lambda: defaultdict(dict[int, int])
    )
    known: set[int] = field(default_factory=set)
    stand_ins: dict[int, str] = field(default_factory=dict)
    """By key: the address of whom they stand for."""
    lost_files: int = 0

    def bring(self, *, again: bool) -> Arrived:
        studio_kind, person_kind, *kinds = carried_kinds()
        self.studio = self._studio(studio_kind, again=again)
        for key, values in self._records(person_kind):
            self.keys[person_kind.label][key] = self._person(values).pk
        for kind in kinds:
            self.told(f"Bringing in {kind.label}")
            self._bring_kind(kind)
        for kind in kinds:
            if kind.mend is not None:
                self._mend(kind)
        links, waiting = self._open_the_door()
        for arrive in arrivals():
            arrive(self.studio, self.at)
        return Arrived(
            studio=self.studio,
            links=links,
            waiting=waiting,
            lost_files=self.lost_files,
        )

    # --- The studio and its people ------------------------------------------------

    def _studio(self, kind: Kind, *, again: bool) -> Studio:
        found = list(self._records(kind))
        if len(found) != 1:
            raise Refused("The archive holds no studio, or more than one.")
        studio = Studio(**found[0][1])
        same = Studio.objects.filter(name=studio.name, created_at=studio.created_at)
        if same.exists() and not again:
            raise Refused(
                f"{studio.name} is here already. To have it a second time, beside the "
                "first, say --again."
            )
        studio.save()
        return studio

    def _person(self, values: dict[str, Any]) -> Person:
        """Return the person of an address; an existing account is left alone."""
        email = values["email"] = _address(values["email"])
        person: Person | None = Person.objects.filter(email=email).first()
        if person is not None and email in self.admitted:
            self.known.add(person.pk)
            return person
        if person is not None:
            values["email"] = f"{secrets.token_hex(8)}@imported.invalid"
            values["is_active"] = False
        made = Person(**values)
        made.set_unusable_password()
        made.save()
        if person is not None:
            self.stand_ins[made.pk] = email
        return made

    def _open_the_door(self) -> tuple[dict[str, str], list[str]]:
        """Let in everybody allowed; return new owners' links and who must wait.

        Raises
        ------
        Refused
            When nobody could act for the studio.
        """
        links, waiting = {}, []
        members = Membership.owned.for_studio(self.studio).select_related("person")
        for member in members.filter(is_active=True):
            if member.person_id in self.stand_ins:
                member.is_active = False
                member.save(update_fields=["is_active"])
                waiting.append(self.stand_ins[member.person_id])
            elif member.role == Role.OWNER and member.person_id not in self.known:
                links[member.person.email] = password_link(member.person)
        if members.filter(role=Role.OWNER, is_active=True).exists():
            return links, waiting
        told = "Nobody could sign in as its owner."
        if waiting:
            told += (
                f" {', '.join(waiting)} already sign in here: if these are the same "
                "people, admit them with --admit ADDRESS."
            )
        raise Refused(told)

    # --- Records --------------------------------------------------------------------

    def _bring_kind(self, kind: Kind) -> None:
        model: Any = kind.model
        inner = [one for one in kind.fields() if one.related_model is model]
        is_pointed = is_pointed_at(model)
        later: list[tuple[int, dict[str, Any]]] = []
        for batch in _batches(self._records(kind)):
            rows, lists = [], []
            for key, values in batch:
                # Records that point at their own kind may come before those they point
                # at.
                own = {one.name: values.pop(one.name) for one in inner}
                if any(value is not None for value in own.values()):
                    later.append((key, own))
                lists.append(self._lists(kind, values))
                rows.append(self._row(kind, values))
            model.across_studios.bulk_create(rows)
            for (key, _), row, many in zip(batch, rows, lists, strict=True):
                if is_pointed:
                    self.keys[kind.label][key] = row.pk
                for name, listed in many.items():
                    getattr(row, name).set(listed)
        for key, own in later:
            changes = {
                one.attname: self._new_key(kind, one, own[one.name]) for one in inner
            }
            model.across_studios.filter(pk=self.keys[kind.label][key]).update(**changes)

    def _records(self, kind: Kind) -> Iterator[tuple[int, dict[str, Any]]]:
        """Return a kind's records with their old keys, each value as it is stored."""
        fields = {one.name: one for one in kind.fields()}
        if kind.path not in self.archive_reader.files:
            return  # An older program had no such kind.
        for number, record in enumerate(self.archive_reader.lines(kind.path), start=1):
            where = f"{kind.path}, line {number}"
            key = record.pop("id", None)
            if type(key) is not int:
                raise Refused(f"{where} has no key.")
            if strange := sorted(record.keys() - fields.keys()):
                raise Refused(f"{where} has a field {strange[0]!r} that is not ours.")
            values = {}
            for name, one in fields.items():
                if name in record:
                    values[name] = self._value(one, record[name], f"{where}: {name}")
                elif not one.has_default() and not one.null and not one.many_to_many:
                    raise Refused(f"{where} lacks {name}.")
            yield key, values

    def _value(self, one: "Field[Any, Any]", raw: object, where: str) -> object:
        if isinstance(one, ManyToManyField):
            if not isinstance(raw, list) or any(type(key) is not int for key in raw):
                raise Refused(f"{where} is no list of keys.")
            return raw
        if one.is_relation or isinstance(one, FileField):
            wanted: type = str if isinstance(one, FileField) else int
            if type(raw) is wanted or (raw is None and one.null):
                return raw
            raise Refused(f"{where} cannot be taken.")
        return from_json(one, raw, where)

    def _row(self, kind: Kind, values: dict[str, Any]) -> Model:
        row = kind.model(studio=self.studio)
        for one in kind.fields():
            if one.name not in values:
                continue
            value = values[one.name]
            if one.is_relation:
                setattr(row, one.attname, self._new_key(kind, one, value))
            elif isinstance(one, FileField):
                setattr(row, one.name, self._file(row, one, value))
            else:
                setattr(row, one.name, value)
        for name, give in kind.given.items():
            setattr(row, name, give(self.at))
        return row

    def _lists(self, kind: Kind, values: dict[str, Any]) -> dict[str, list[int | None]]:
        return {
            one.name: [
                self._new_key(kind, one, key) for key in values.pop(one.name, [])
            ]
            for one in kind.fields()
            if one.many_to_many
        }

    def _new_key(
        self, kind: Kind, one: "Field[Any, Any]", old: int | None
    ) -> int | None:
        if old is None:
            return None
        assert one.related_model is not None  # noqa: S101 - only relations hold keys
        target = one.related_model._meta.label_lower
        try:
            return self.keys[target][old]
        except KeyError as problem:
            raise Refused(
                f"{kind.label}.{one.name} names {target} {old}, which the archive does "
                "not hold."
            ) from problem

    # --- Files and what holds keys inside -------------------------------------------

    def _file(self, row: Model, one: FileField, name: str) -> str:
        """Copy a picture or paper out of the archive; return its name on disk."""
        if not name:
            return ""
        suffix = f".{name.rpartition('.')[2]}"
        if suffix not in STARTS or not name.startswith("files/"):
            raise Refused(f"{name[:80]!r} is no picture and no paper.")
        wanted = one.generate_filename(row, f"x{suffix}")
        if name not in self.archive_reader.files:
            self.lost_files += 1  # It was lost before the archive was made.
            return str(wanted)
        if self.archive_reader.files[name]["bytes"] > LARGEST_FILE:
            raise Refused(f"{name} is larger than any picture or paper of ours.")
        with SpooledTemporaryFile(max_size=IN_MEMORY) as copy:
            for chunk in self.archive_reader.chunks(name):
                copy.write(chunk)
            copy.seek(0)
            if not STARTS[suffix](copy.read(16)):
                raise Refused(f"{name} is no picture and no paper.")
            copy.seek(0)
            return str(default_storage.save(wanted, File(copy)))

    def _mend(self, kind: Kind) -> None:
        """Put new keys in place of old ones in values; remove what would name nothing."""
        assert kind.mend is not None  # noqa: S101 - for the type checker
        model: Any = kind.model
        kept: list[Model] = []
        gone: list[Model] = []
        for row in model.owned.for_studio(self.studio).iterator(
            chunk_size=ROWS_AT_ONCE
        ):
            (kept if kind.mend(row, self.keys) else gone).append(row)
        if kept and kind.mended:
            model.across_studios.bulk_update(kept, kind.mended, batch_size=ROWS_AT_ONCE)
        for row in gone:
            for one in kind.fields():
                if isinstance(one, FileField):
                    default_storage.delete(getattr(row, one.name).name)
            row.delete()
