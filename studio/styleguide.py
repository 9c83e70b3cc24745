"""Sample data for the style guide: invented, and only for looking at components.

Higher apps give the page their own samples; nothing here knows them.
"""

from typing import Any

from django import forms
from django.contrib.messages import constants
from django.contrib.messages.storage.base import Message
from django.core.paginator import Paginator

from studio.drawings.edge_view import (
    BandState,
    EdgeLayer,
    EdgeView,
    build_edge_view,
)

HEAT_NAMES = ("0", "1", "2", "3", "4", "5", "6")
COLOUR_NAMES = (
    "paper",
    "paper-raised",
    "paper-sunk",
    "line",
    "line-strong",
    "ink-soft",
    "ink",
    "glass-wash",
    "glass-lit",
    "glass",
    "glass-strong",
)


class SampleForm(forms.Form):
    """A form with one of each kind of field."""

    title = forms.CharField(help_text="As it will stand on the papers.")
    width = forms.CharField(label="Width", help_text="12 in, 305 mm, 12 1/8")
    height = forms.CharField(label="Height")
    technique = forms.ChoiceField(
        choices=[("enamel", "Enamel"), ("decal", "Decal")], widget=forms.RadioSelect
    )
    glass = forms.ChoiceField(
        choices=[("", "Choose a glass"), ("clear", "Clear, 3 mm")], required=False
    )
    maquette = forms.BooleanField(label="Make a maquette first", required=False)
    notes = forms.CharField(widget=forms.Textarea(attrs={"rows": 3}), required=False)


_STATES = (
    BandState.BURNT,
    BandState.BURNT,
    BandState.SECOND_PASS,
    BandState.BURNT,
    BandState.REMAKE,
    BandState.PAINTED,
    BandState.PAINTED,
    BandState.PLANNED,
    BandState.CLEAR,
)
_LABELS = (
    "Far shore",
    "Evening sky",
    "Sandbank",
    "Channel markers",
    "Reeds, left",
    "Reeds, right",
    "Waders",
    "Near water",
    "Cap",
)

_DEEP = ("Sky", "Far shore", "Sandbank", "Channel", "Near water")


def sample_layers(*, linked: bool) -> list[EdgeLayer]:
    """Return nine layers, one state after the other."""
    return [
        EdgeLayer(
            number=number,
            thickness_mm=3.0 if state is not BandState.CLEAR else 4.0,
            state=state,
            label=label,
            href=f"#layer-{number}" if linked else "",
        )
        for number, (state, label) in enumerate(
            zip(_STATES, _LABELS, strict=True), start=1
        )
    ]


def _fused(key: str) -> EdgeView:
    layers = [
        EdgeLayer(
            number=n,
            thickness_mm=3.0,
            state=BandState.BURNT,
            href=f"#f{n}",
            label=_DEEP[n % 5],
        )
        for n in range(1, 21)
    ]
    return build_edge_view(layers, key=key, large=True, fused=True)


def _small_views(key: str) -> list[EdgeView]:
    deep = [
        EdgeLayer(number=n, thickness_mm=3.0, state=BandState.BURNT)
        for n in range(1, 21)
    ]
    planned = [
        EdgeLayer(number=n, thickness_mm=3.0, state=BandState.PLANNED)
        for n in range(1, 13)
    ]
    return [
        build_edge_view(deep, key=f"{key}a", fused=True),
        build_edge_view(sample_layers(linked=False), key=f"{key}b"),
        build_edge_view(planned, key=f"{key}c"),
    ]


def _rows(key: str) -> list[dict[str, Any]]:
    texts = (
        ("Low water, evening", "20 layers, 60 mm", "hot", "Closed until Fri 14:00"),
        (
            "Waders at the bar",
            "9 layers, 28 mm",
            "waiting",
            "1 waits for its next pass",
        ),
        ("The long spit", "12 layers, 36 mm", "planned", "Quote sent, due 4 Dec"),
    )
    return [
        {"view": view, "title": title, "note": note, "kind": kind, "text": text}
        for view, (title, note, kind, text) in zip(
            _small_views(key), texts, strict=True
        )
    ]


def _forms(key: str) -> dict[str, forms.Form]:
    return {
        "form": SampleForm(auto_id=f"{key}-%s"),
        "bad_form": SampleForm(
            {"title": "", "width": "12 inchs", "height": "8 in"}, auto_id=f"{key}-b-%s"
        ),
    }


def _money() -> dict[str, Any]:
    return {
        "sections": [
            {
                "title": "Material",
                "lines": [
                    {
                        "label": "Glass, 3 mm clear",
                        "explanation": "20 sheets of 12 × 8 in and a tenth for waste",
                        "quantity": "1.36 m²",
                        "unit_price": "$148.00",
                        "amount": "$201.28",
                    }
                ],
            },
            {
                "title": "Kiln",
                "lines": [
                    {
                        "label": "Full fuse and anneal",
                        "explanation": "Heating, soak and cooling to 60 mm",
                        "quantity": "122 h",
                        "unit_price": "$4.50",
                        "amount": "$549.00",
                    },
                    {
                        "label": "Energy",
                        "explanation": "",
                        "quantity": "96 kWh",
                        "unit_price": "$0.21",
                        "amount": "$20.16",
                    },
                ],
            },
        ],
        "totals": [
            ("Without tax", "$770.44"),
            ("Tax 8 %", "$61.64"),
            ("Total", "$832.08"),
        ],
    }


def sample_context(key: str) -> dict[str, Any]:
    """Return what one copy of the style guide needs; ids start with `key`."""
    return {
        "key": key,
        "colours": COLOUR_NAMES,
        "heat": HEAT_NAMES,
        "page_facts": ["20 layers", "60 mm", "12 × 8 in", "for a client"],
        "facts": [
            ("Kiln", "Big bell", "#kiln"),
            ("Opens", "Fri 14:00, 38 h left"),
            ("Anneal soak", "900 °F for 6 h"),
            ("Glass", "Clear, 3 mm"),
        ],
        "edge": build_edge_view(
            sample_layers(linked=True), key=f"{key}-edge", large=True
        ),
        "fused": _fused(f"{key}-fused"),
        "rows": _rows(f"{key}-row"),
        "statuses": [
            ("planned", "planned"),
            ("painted", "painted"),
            ("waiting", "waits for its second pass"),
            ("doing", "under way"),
            ("done", "burnt on"),
            ("clear", "clear"),
            ("remake", "being made again"),
            ("hot", "412 °F and cooling"),
            ("stopped", "called off"),
            ("problem", "no readings for 3 h"),
        ],
        "stages": [
            {"label": "Quote accepted", "state": "done", "note": "2 November"},
            {"label": "Layers painted", "state": "done", "note": "20 of 20"},
            {"label": "In the kiln", "state": "now", "note": "until about Fri 14:00"},
            {"label": "Finished", "state": "next", "note": ""},
        ],
        "tabs": [
            {"label": "In work", "href": "#", "current": True, "count": 4},
            {"label": "Finished", "href": "#", "current": False, "count": 11},
            {"label": "All", "href": "#", "current": False, "count": None},
        ],
        "cautions": [
            "Hot: heat-proof gloves and face shield.",
            "Do not open above 120 °F, not even a finger's width.",
        ],
        "messages": [
            Message(constants.SUCCESS, "Booked: Big bell, Mon 09:00 to Fri 14:00."),
            Message(
                constants.ERROR,
                "The kiln is taken from Wed 08:00. Free next from Sat 18:00.",
            ),
        ],
        "page_obj": Paginator(range(90), 30).page(2),
        "schedule": [
            (
                "Anneal soak",
                "as fast as it can",
                "900 °F",
                "6 h",
                "evens the glass out",
            ),
            ("Cooling 1", "5 °F/h", "800 °F", "–", "slowest"),
            ("Cooling 2", "9 °F/h", "700 °F", "–", "a little faster"),
            ("Final cooling", "30 °F/h", "70 °F", "–", "down to the room"),
        ],
        **_forms(key),
        **_money(),
    }


def themed_samples() -> list[dict[str, Any]]:
    """Return the samples twice, ids kept apart, for the light and the dark theme."""
    return [
        {"theme": theme, "sample": sample_context(f"s-{theme}")}
        for theme in ("light", "dark")
    ]
