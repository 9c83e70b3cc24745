"""Messages to people of the studio, letters to its clients, and how they are sent."""

from datetime import time

from django.db import models
from django.db.models import Q

from studio.tenancy import StudioOwned


class Topic(models.TextChoices):
    """What a message is about; each person chooses which reach them, and how."""

    FIRINGS = "firings", "Something is wrong in a firing"
    UNLOADING = "unloading", "A kiln may be opened"
    TODAY = "today", "What is to be done today, each morning"
    CLIENTS = "clients", "What clients answer"


class MessageWishes(StudioOwned):
    """What one person wants to be told of, by which way, and when not."""

    person = models.ForeignKey(
        "studio.Person", on_delete=models.CASCADE, related_name="+"
    )
    mail = models.JSONField(default=list, help_text="Topics that come by e-mail.")
    phone = models.JSONField(default=list, help_text="Topics that come to phones.")
    quiet_from = models.TimeField(null=True, blank=True)
    quiet_to = models.TimeField(null=True, blank=True)
    is_woken = models.BooleanField(
        default=True, help_text="Glass in danger is told in the quiet hours too."
    )
    morning_at = models.TimeField(default=time(7))

    class Meta(StudioOwned.Meta):
        constraints = [
            models.UniqueConstraint(
                fields=["studio", "person"], name="one_set_of_wishes_a_person"
            ),
            models.CheckConstraint(
                condition=Q(quiet_from__isnull=True, quiet_to__isnull=True)
                | Q(quiet_from__isnull=False, quiet_to__isnull=False),
                name="quiet_hours_begin_and_end",
            ),
        ]

    def __str__(self) -> str:
        return f"Wishes of {self.person}"


class Message(StudioOwned):
    """What one person was told, once: the same key is never told twice."""

    person = models.ForeignKey(
        "studio.Person", on_delete=models.CASCADE, related_name="+"
    )
    topic = models.CharField(max_length=12, choices=Topic)
    key = models.CharField(max_length=80)
    title = models.CharField(max_length=160)
    text = models.TextField()
    path = models.CharField(max_length=200, help_text="The page it is about.")
    is_urgent = models.BooleanField(default=False)
    made_at = models.DateTimeField()

    class Meta(StudioOwned.Meta):
        ordering = ["-made_at", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["studio", "person", "key"], name="told_once"
            )
        ]

    def __str__(self) -> str:
        return self.title


class Phone(StudioOwned):
    """A browser that asked for messages to one person, as RFC 8030 names it."""

    person = models.ForeignKey(
        "studio.Person", on_delete=models.CASCADE, related_name="+"
    )
    name = models.CharField(max_length=120)
    endpoint = models.TextField()
    p256dh = models.CharField(max_length=120)
    auth = models.CharField(max_length=40)
    made_at = models.DateTimeField()
    gone_at = models.DateTimeField(
        null=True, blank=True, help_text="When its push service no longer knew it."
    )

    class Meta(StudioOwned.Meta):
        ordering = ["-made_at", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["studio", "endpoint"], name="phone_asked_once"
            )
        ]

    def __str__(self) -> str:
        return self.name


class DeliveryState(models.TextChoices):
    """How far a delivery has come."""

    WAITING = "waiting"
    SENDING = "sending"
    SENT = "sent"
    FAILED = "failed"


class Delivery(StudioOwned):
    """One mail, or one push to one phone: sent by the worker, and again until it is."""

    message = models.ForeignKey(
        Message, null=True, on_delete=models.CASCADE, related_name="deliveries"
    )
    phone = models.ForeignKey(
        Phone, null=True, on_delete=models.CASCADE, related_name="+"
    )
    to = models.EmailField(blank=True)
    subject = models.CharField(max_length=200, blank=True)
    text = models.TextField(blank=True)
    paper = models.ForeignKey(
        "studio.Document", null=True, on_delete=models.PROTECT, related_name="+"
    )
    stop_path = models.CharField(
        max_length=300, blank=True, help_text="Where whoever gets it ends that."
    )
    state = models.CharField(
        max_length=8, choices=DeliveryState, default=DeliveryState.WAITING
    )
    made_at = models.DateTimeField()
    send_at = models.DateTimeField(help_text="Not before: quiet hours, or a pause.")
    lease_until = models.DateTimeField(null=True)
    attempts = models.PositiveSmallIntegerField(default=0)
    problem = models.CharField(max_length=300, blank=True)
    sent_at = models.DateTimeField(null=True)

    class Meta(StudioOwned.Meta):
        ordering = ["made_at", "pk"]
        indexes = [
            models.Index(
                fields=["send_at"],
                condition=Q(state__in=["waiting", "sending"]),
                name="delivery_due",
            )
        ]
        constraints = [
            models.CheckConstraint(
                condition=Q(phone__isnull=True, to__gt="")
                | Q(phone__isnull=False, to=""),
                name="delivery_goes_one_way",
            )
        ]

    def __str__(self) -> str:
        return f"To {self.to or self.phone}: {self.state}"


class StoppedAddress(StudioOwned):
    """An address that asked for no more letters from this studio."""

    address = models.EmailField()
    at = models.DateTimeField()

    class Meta(StudioOwned.Meta):
        constraints = [
            models.UniqueConstraint(
                fields=["studio", "address"], name="address_stopped_once"
            )
        ]

    def __str__(self) -> str:
        return self.address
