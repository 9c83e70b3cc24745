"""The only place that knows what "belongs to a studio" means.

Every record of a studio extends `StudioOwned`. Its only public manager is `owned`, and
the only way in is ``Model.owned.for_studio(studio)``; anything else refuses. Code that
really works across studios (migrations, commands, the worker's sweep) says so with
``Model.across_studios``.
"""

from typing import TYPE_CHECKING, Self, TypeVar

from django.db import models

if TYPE_CHECKING:
    from studio.models import Studio

_Record = TypeVar("_Record", bound="StudioOwned", covariant=True)


class UnscopedRead(Exception):
    """A query was built without saying whose records it may see."""


class StudioQuerySet(models.QuerySet[_Record]):
    """A queryset that knows the column by which records belong to a studio."""

    def for_studio(self, studio: "Studio") -> Self:
        """Keep the records of this studio."""
        return self.filter(studio=studio)


class OwnedManager(models.Manager[_Record]):
    """A manager with one door: `for_studio`."""

    def for_studio(self, studio: "Studio") -> StudioQuerySet[_Record]:
        """Return this studio's records and nobody else's."""
        if studio is None:
            raise UnscopedRead(f"{self.model.__name__} was asked for without a studio.")
        everything = self.model.across_studios.using(self._db)
        # mypy sees the manager of any record, not of this particular model.
        return everything.for_studio(studio)  # type: ignore[return-value]

    def get_queryset(self) -> StudioQuerySet[_Record]:
        raise UnscopedRead(
            f"Read {self.model.__name__} with .owned.for_studio(studio), or say "
            ".across_studios where that is really meant."
        )


StudioManager = models.Manager.from_queryset(StudioQuerySet)


class StudioOwned(models.Model):
    """A record that belongs to exactly one studio."""

    studio = models.ForeignKey(
        "studio.Studio", on_delete=models.CASCADE, related_name="+"
    )

    # First, hence Django's default: related lookups, validation and migrations use it.
    across_studios = StudioManager()
    owned = OwnedManager()

    class Meta:
        abstract = True
        base_manager_name = "across_studios"
        default_manager_name = "across_studios"


def same_studio(studio: "Studio", *records: StudioOwned | None) -> None:
    """Refuse to join records of different studios.

    Raises
    ------
    ValueError
        When a record belongs to another studio: a programming error or a forged id
        that no form should have let through.
    """
    for record in records:
        if record is not None and record.studio_id != studio.pk:
            raise ValueError(
                f"{record.__class__.__name__} {record.pk} belongs to another studio."
            )
