"""Which kinds of record a studio takes along, field by field, and what stays behind.

Every app declares its own kinds in its `portable.py`. A field that nobody decided on
stops the export, so that a new one is never carried or forgotten by accident.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, TypeVar

from django.apps import apps
from django.db.models import Field, ForeignKey, Model

from studio.models import Person, Studio
from studio.tenancy import StudioOwned

_Model = TypeVar("_Model", bound=Model)

# By label and old key: the new key.
Keys = Mapping[str, Mapping[int, int]]
# Corrects old keys inside a value; False removes the record again.
Mend = Callable[[Any, Keys], bool]
Given = Callable[[datetime], object]
Arrival = Callable[[Studio, datetime], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """What of a model is carried, and what a new studio gets in place of the rest."""

    model: type[Model]
    kept: tuple[str, ...] = ()
    left: Mapping[str, str] = field(default_factory=dict)
    """Fields that stay behind: in words, what there is instead."""
    given: Mapping[str, Given] = field(default_factory=dict)
    """What a field that stayed behind begins with, where that is not its default."""
    mend: Mend | None = None
    mended: tuple[str, ...] = ()
    """The fields that `mend` writes, called once every record is there."""
    left_whole: str = ""
    """Why no record of this kind is carried; empty when they are."""

    @property
    def label(self) -> str:
        return self.model._meta.label_lower

    @property
    def path(self) -> str:
        """Return the name of its file in an archive."""
        return f"records/{self.label}.jsonl"

    def fields(self) -> list["Field[Any, Any]"]:
        """Return the carried fields in the model's order.

        Raises
        ------
        LookupError
            For a field that is neither kept nor left.
        """
        for one in decidable(self.model):
            if (one.name in self.kept) == (one.name in self.left):
                raise LookupError(
                    f"Decide about {self.label}.{one.name}: keep it or leave it, in "
                    "the portable.py of its app."
                )
        return [one for one in decidable(self.model) if one.name in self.kept]


_kinds: dict[type[Model], Kind] = {}
_subjects: dict[str, type[Model]] = {}
_papers: dict[str, type[Model] | None] = {}
_arrivals: list[Arrival] = []


def carry(
    model: type[Model],
    kept: str,
    *,
    left: Mapping[str, str] | None = None,
    given: Mapping[str, Given] | None = None,
    mend: Mend | None = None,
    mended: str = "",
) -> None:
    """Declare that records of a model are carried with these fields, given as words."""
    _kinds[model] = Kind(
        model=model,
        kept=tuple(kept.split()),
        left=left or {},
        given=given or {},
        mend=mend,
        mended=tuple(mended.split()),
    )


def leave(model: type[Model], why: str) -> None:
    """Declare that no record of a model is carried."""
    _kinds[model] = Kind(model=model, left_whole=why)


def name_subjects(**models: type[Model]) -> None:
    """Say what the words before a key in the history's `subject` mean."""
    _subjects.update(models)


def name_paper(kind: str, model: type[Model] | None) -> None:
    """Say which model a paper's `subject_id` is a key of; none when it is no key."""
    _papers[kind] = model


def on_arrival(function: Arrival) -> Arrival:
    """Register what to make again once all records of an imported studio are there."""
    if function not in _arrivals:
        _arrivals.append(function)
    return function


def arrivals() -> list[Arrival]:
    """Return what is registered to be made again."""
    return list(_arrivals)


def subject_model(word: str) -> type[Model] | None:
    """Return the model behind a word of the history's `subject`."""
    return _subjects.get(word)


def paper_model(kind: str) -> tuple[bool, type[Model] | None]:
    """Return whether a kind of paper is known, and which model it is about."""
    return kind in _papers, _papers.get(kind)


def is_pointed_at(model: type[Model]) -> bool:
    """Return whether a record's key may be in another record."""
    named = {*_subjects.values(), *_papers.values()}
    return model in named or any(
        model is one.related_model
        for other in owned_models()
        for one in relations(other)
    )


def decidable(model: type[Model]) -> Iterator["Field[Any, Any]"]:
    """Return the fields to decide on: all but the key and the studio."""
    for one in (*model._meta.concrete_fields, *model._meta.many_to_many):
        if not one.primary_key and one.name != "studio":
            yield one


def owned_models() -> list[type[StudioOwned]]:
    """Return every model whose records belong to a studio, of all apps."""
    return [model for model in apps.get_models() if issubclass(model, StudioOwned)]


def kind_of(model: type[Model]) -> Kind:
    """Return what was declared about a model.

    Raises
    ------
    LookupError
        When nobody declared it.
    """
    try:
        return _kinds[model]
    except KeyError as problem:
        raise LookupError(
            f"Declare {model._meta.label} in the portable.py of its app: carry or leave."
        ) from problem


def carried_kinds() -> list[Kind]:
    """Return the studio, its people, and every carried kind after those it points to."""
    kinds = [kind_of(model) for model in in_order(owned_models())]
    return [
        kind_of(Studio),
        kind_of(Person),
        *(kind for kind in kinds if not kind.left_whole),
    ]


def in_order(models: list[type[_Model]]) -> list[type[_Model]]:
    """Sort models so that each stands after those it points to.

    Raises
    ------
    LookupError
        When two point at each other: no order of making or deleting would do then.
    """
    waiting, found = list(models), list[type[_Model]]()
    while waiting:
        ready = [
            model
            for model in waiting
            if not any(other in waiting for other in _targets(model))
        ]
        if not ready:
            names = ", ".join(model._meta.label for model in waiting)
            raise LookupError(f"These point at each other in a circle: {names}")
        found += ready
        waiting = [model for model in waiting if model not in ready]
    return found


def _targets(model: type[Model]) -> set[type[Model] | None]:
    return {one.related_model for one in relations(model)} - {model}


def relations(model: type[Model]) -> list["Field[Any, Any]"]:
    """Return the fields of a model that point at other records."""
    related = (*model._meta.concrete_fields, *model._meta.many_to_many)
    return [one for one in related if one.is_relation]


def keys_to(model: type[Model], target: type[Model]) -> list["ForeignKey[Any, Any]"]:
    """Return the foreign keys of a model that point at another."""
    return [
        one
        for one in relations(model)
        if isinstance(one, ForeignKey) and one.related_model is target
    ]


def people_named(studio: Studio) -> set[int]:
    """Return the keys of everybody who belongs to a studio or is named in its records."""
    named: set[int] = set()
    for model in owned_models():
        rows = model.owned.for_studio(studio)
        for key in keys_to(model, Person):
            # If ordered, the order would be part of what has to be distinct.
            named |= set(rows.order_by().values_list(key.attname, flat=True).distinct())
    return named - {None}


def field_words(one: "Field[Any, Any]") -> dict[str, Any]:
    """Return what an archive's reader needs to know about a field."""
    told: dict[str, Any] = {"type": one.get_internal_type(), "null": one.null}
    if one.related_model is not None:
        told["refers_to"] = one.related_model._meta.label_lower
    if one.help_text:
        told["meaning"] = str(one.help_text)
    if getattr(one, "flatchoices", None):
        told["values"] = {str(key): str(words) for key, words in one.flatchoices}
    return told
