"""The form of a commission: who, what, how, and a maquette if wanted."""

from decimal import Decimal
from string import hexdigits
from typing import Any

from django import forms

from commissions.models import Client, Commission
from commissions.selectors.clients import client_named, clients
from commissions.selectors.commissions import was_sent_before
from studio.fields import DayField, LengthField, QuantityForm, choose_from, hinted
from studio.models import Glass, Studio, Technique
from studio.money import plain_number
from studio.viewer import Viewer

MOST_LAYERS = 60
MOST_PASSES = 12
KEY_LENGTH = 32
TECHNIQUES = [c for c in Technique.choices if c[0] != Technique.CLEAR]
FACTS = (
    "title",
    "brief",
    "width_mm",
    "height_mm",
    "layer_count",
    "cap_count",
    "technique",
    "passes_per_layer",
    "glass",
    "is_dammed",
    "maquette_layer_count",
    "maquette_width_mm",
    "maquette_height_mm",
    "gallery",
    "gallery_cut_percent",
    "gallery_sells",
    "gallery_returns_date",
    "wanted_by_date",
)


class CommissionForm(QuantityForm):
    """Everything a first quote needs, asked once."""

    client: "forms.ModelChoiceField[Client]" = forms.ModelChoiceField(
        queryset=Client.across_studios.none(),
        required=False,
        empty_label="New client",
        label="Client",
    )
    client_name = forms.CharField(max_length=160, required=False, label="Name")
    client_email = forms.EmailField(
        required=False, label="E-mail address", max_length=254
    )
    client_phone = forms.CharField(max_length=40, required=False, label="Telephone")

    title = forms.CharField(max_length=160)
    brief = forms.CharField(
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="What the client asks for, in their words.",
    )
    reference_file = forms.FileField(
        required=False,
        label="Reference picture",
        help_text="JPEG, PNG or WebP, up to 25 MB.",
        widget=forms.ClearableFileInput(attrs={"accept": "image/*"}),
    )

    width_mm = LengthField(label="Width")
    height_mm = LengthField(label="Height")
    layer_count = forms.IntegerField(
        min_value=1,
        max_value=MOST_LAYERS,
        label="Layers",
        help_text="Total, with clear caps.",
    )
    cap_count = forms.IntegerField(
        min_value=0,
        max_value=MOST_LAYERS - 1,
        initial=1,
        label="Clear caps",
        help_text="Clear layers at the front.",
    )
    technique = forms.ChoiceField(choices=TECHNIQUES, label="Image by")
    passes_per_layer = forms.IntegerField(
        min_value=1,
        max_value=MOST_PASSES,
        initial=1,
        label="Passes per layer",
        help_text="Each is burnt on by one enamel firing.",
    )
    glass: "forms.ModelChoiceField[Glass]" = forms.ModelChoiceField(
        queryset=Glass.across_studios.none(), empty_label=None
    )
    is_dammed = forms.BooleanField(
        required=False, initial=True, label="Fused within dams"
    )

    has_maquette = forms.BooleanField(
        required=False, label="Make a maquette first", help_text="A smaller trial."
    )
    maquette_layer_count = forms.IntegerField(
        required=False,
        min_value=1,
        max_value=MOST_LAYERS,
        label="Maquette layers",
        help_text="Leave empty for half as many.",
    )
    maquette_width_mm = LengthField(
        required=False, label="Maquette width", help_text="Leave empty for half size."
    )
    maquette_height_mm = LengthField(
        required=False, label="Maquette height", help_text="Leave empty for half size."
    )

    gallery_cut_percent = hinted(
        forms.DecimalField(
            min_value=0,
            max_value=90,
            max_digits=5,
            decimal_places=2,
            required=False,
            label="Gallery's share",
            help_text="Leave empty without a gallery.",
        ),
        "%",
    )
    gallery: "forms.ModelChoiceField[Client]" = forms.ModelChoiceField(
        queryset=Client.across_studios.none(),
        required=False,
        empty_label="No gallery",
        help_text="A client of yours that sells it or passed it on.",
    )
    gallery_sells = forms.BooleanField(
        required=False,
        label="The gallery sells it",
        help_text="The client pays the gallery, which owes you the rest.",
    )
    gallery_returns_date = DayField(
        required=False, label="Unsold, it comes back on", help_text="On consignment."
    )
    wanted_by_date = DayField(required=False, label="Wanted by")

    request_key = forms.CharField(required=False, widget=forms.HiddenInput)

    def __init__(
        self, *args: Any, studio: Studio, viewer: Viewer, **kwargs: Any
    ) -> None:
        super().__init__(*args, viewer=viewer, **kwargs)
        self.studio = studio
        choose_from(self, "client", clients(studio))
        choose_from(self, "gallery", clients(studio))
        glasses = Glass.owned.for_studio(studio).filter(is_retired=False)
        kept = self.initial.get("glass")
        if kept is not None:
            glasses = glasses | Glass.owned.for_studio(studio).filter(pk=kept)
        self.glasses = glasses.order_by("name", "pk")
        choose_from(self, "glass", self.glasses)

    @staticmethod
    def initial_of(commission: Commission) -> dict[str, Any]:
        """Return what the form shows for a commission that is being changed."""
        shown = {name: getattr(commission, name) for name in FACTS}
        return shown | {
            "client": commission.client_id,
            "glass": commission.glass_id,
            "gallery": commission.gallery_id,
            "has_maquette": bool(commission.maquette_layer_count),
            "maquette_layer_count": commission.maquette_layer_count or None,
            "gallery_cut_percent": Decimal(plain_number(commission.gallery_cut_percent))
            or None,
        }

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        self._check_client(data)
        layers, caps = data.get("layer_count"), data.get("cap_count")
        if layers is not None and caps is not None and caps >= layers:
            self.add_error(
                "cap_count",
                f"At most {layers - 1}: at least one of {layers} layers carries an "
                "image."
                if layers > 1
                else "None: the only layer carries the image.",
            )
        self._fill_maquette(data)
        self._check_gallery(data)
        data["gallery_cut_percent"] = data.get("gallery_cut_percent") or Decimal(0)
        return data

    def clean_request_key(self) -> str:
        """Accept only a key from the page; anything else counts as none."""
        key = str(self.cleaned_data["request_key"])
        is_ours = len(key) == KEY_LENGTH and set(key) <= set(hexdigits)
        return key if is_ours else ""

    def _check_gallery(self, data: dict[str, Any]) -> None:
        """Refuse a sale without a share: what the gallery keeps must be known."""
        share = data.get("gallery_cut_percent")
        if data.get("gallery_sells") and not share:
            self.add_error(
                "gallery_cut_percent", "Write the share that the gallery keeps."
            )
        if data.get("gallery") and data["gallery"] == data.get("client"):
            self.add_error(
                "gallery",
                "The gallery is the client already. Choose the collector as the "
                "client, or no gallery here.",
            )

    def _check_client(self, data: dict[str, Any]) -> None:
        chosen, name = data.get("client"), data.get("client_name", "")
        if chosen and name:
            self.add_error(
                "client_name",
                f"You chose {chosen} above. Empty this, or choose “New client”.",
            )
        elif not chosen and not name and "client" not in self.errors:
            self.add_error("client_name", "Choose a client above, or write a name.")
        elif (
            not chosen
            and not was_sent_before(self.studio, data.get("request_key", ""))
            and client_named(self.studio, name=name, email=data.get("client_email", ""))
        ):
            self.add_error(
                "client_name",
                f"{name} is a client already: choose them above. For another person "
                "of that name, add an e-mail address.",
            )

    def _fill_maquette(self, data: dict[str, Any]) -> None:
        """Use about half of everything where nothing else was typed."""
        if not data.get("has_maquette"):
            data |= {
                "maquette_layer_count": 0,
                "maquette_width_mm": None,
                "maquette_height_mm": None,
            }
            return
        layers, caps = data.get("layer_count"), data.get("cap_count") or 0
        if layers and not data.get("maquette_layer_count"):
            data["maquette_layer_count"] = max((layers + 1) // 2, min(caps + 1, layers))
        for name in ("width_mm", "height_mm"):
            whole = data.get(name)
            if whole and not data.get(f"maquette_{name}"):
                data[f"maquette_{name}"] = whole / 2
        if data.get("maquette_layer_count") == 1 and caps:
            self.add_error(
                "maquette_layer_count", "At least 2: one carries an image, one caps it."
            )

    @property
    def facts(self) -> dict[str, Any]:
        """Return what was typed, as the facts of a commission."""
        return {name: self.cleaned_data[name] for name in FACTS}


class AgreedDayForm(forms.Form):
    """Another day, agreed with the client after they accepted."""

    day = DayField(label="Agreed with the client for")
