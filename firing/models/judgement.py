"""What the stress model found in a firing's readings; `firing.physics` says how."""

from django.db import models

from studio.tenancy import StudioOwned


class Judgement(StudioOwned):
    """One firing, judged from one set of readings and one set of numbers.

    People never edit it. Other readings, another glass or another engine make another
    row; computing the same again writes the same row. The newest and the one before it
    are kept.
    """

    NOT_JUDGED = "not judged"

    firing = models.ForeignKey(
        "firing.Firing", on_delete=models.CASCADE, related_name="judgements"
    )
    inputs_sha256 = models.CharField(max_length=64)
    verdict = models.CharField(
        max_length=48,
        help_text="The judge's verdict, or why there is none.",
    )
    numbers = models.JSONField(
        default=dict,
        help_text=(
            "Bands, holds, rates, faults; options, null until somebody wants to know; "
            "unit in the name."
        ),
    )
    trace = models.JSONField(
        default=dict,
        help_text="Seconds since the booking's start, °C and MPa, at most 600 points.",
    )
    made_at = models.DateTimeField(help_text="When its readings were read.")

    class Meta(StudioOwned.Meta):
        ordering = ["-made_at", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["firing", "inputs_sha256"], name="judged_once_per_inputs"
            )
        ]

    def __str__(self) -> str:
        return f"{self.firing}: {self.verdict}"

    @property
    def lacks_options(self) -> bool:
        """Return whether the options from here are still to be computed."""
        return self.numbers.get("next", ()) is None
