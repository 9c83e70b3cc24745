"""Reads the forms, buttons and links of a page, as a browser or htmx would send them."""

from dataclasses import dataclass, field
from html.parser import HTMLParser
from urllib.parse import urljoin, urlsplit

VERBS = ("get", "post", "put", "delete", "patch")
NOT_SENT = {"submit", "button", "reset", "image"}


@dataclass
class Field:
    """One input, select or text area; what it holds is where a page would start."""

    name: str
    kind: str
    values: list[str] = field(default_factory=list)
    choices: list[str] = field(default_factory=list)


@dataclass
class Form:
    """What can be sent to one address."""

    method: str
    address: str
    fields: list[Field] = field(default_factory=list)
    buttons: list[tuple[str, str]] = field(default_factory=list)
    is_multipart: bool = False
    is_htmx: bool = False


@dataclass
class Page:
    """All forms of a page, and the addresses on the same site that it links to."""

    forms: list[Form] = field(default_factory=list)
    links: list[str] = field(default_factory=list)


def read_page(text: str, *, address: str) -> Page:
    """Return what can be sent from a page, and where it leads."""
    reader = _Reader(address)
    reader.feed(text)
    reader.close()
    return reader.page


class _Reader(HTMLParser):
    def __init__(self, address: str) -> None:
        super().__init__()
        self.page = Page()
        self.address = address
        self.open_form: Form | None = None
        self.by_id: dict[object, Form] = {}
        self.select: Field | None = None
        self.area: Field | None = None

    def handle_starttag(self, tag, attrs):
        found = {name: value or "" for name, value in attrs}
        if tag == "form":
            # A browser leaves the inner form out, and its end closes the outer one.
            assert self.open_form is None, f"a form inside a form of {self.address}"
            self._form(found)
        elif tag == "a":
            self._link(found.get("href", ""))
        elif tag == "option" and self.select is not None:
            value = found.get("value", "")
            self.select.choices.append(value)
            if "selected" in found:
                self.select.values.append(value)
        elif (
            tag in {"input", "select", "textarea", "button"} and "disabled" not in found
        ):
            self._control(tag, found)
        self._asked_by_htmx(found)

    def handle_endtag(self, tag):
        if tag == "form":
            self.open_form = None
        elif tag == "select":
            if self.select is not None and not self.select.values:
                self.select.values = self.select.choices[:1]
            self.select = None
        elif tag == "textarea":
            self.area = None

    def handle_data(self, data):
        if self.area is not None:
            self.area.values = ["".join(self.area.values) + data]

    def _to(self, address):
        return urljoin(self.address, address)

    def _link(self, address):
        parts = urlsplit(self._to(address))
        if address and not parts.netloc and not parts.scheme:
            self.page.links.append(parts._replace(fragment="").geturl())

    def _form(self, found):
        form = self._named(found.get("id", object()))
        form.method = found.get("method", "get").upper()
        form.address = self._to(found.get("action", ""))
        form.is_multipart = "multipart" in found.get("enctype", "")
        self.open_form = form
        self.page.forms.append(form)

    def _named(self, name) -> Form:
        """Return the form of that name, which may come after its fields."""
        return self.by_id.setdefault(name, Form(method="GET", address=""))

    def _control(self, tag, found):
        form = self._named(found["form"]) if "form" in found else self.open_form
        kind = found.get("type", "submit" if tag == "button" else "text")
        if form is None:
            return
        if "formaction" in found:
            self.page.forms.append(
                Form(
                    method="POST",
                    address=self._to(found["formaction"]),
                    fields=form.fields,
                )
            )
        name = found.get("name", "")
        if not name:
            return
        if kind in NOT_SENT:
            form.buttons.append((name, found.get("value", "")))
            return
        value = found.get("value", "on" if kind in {"checkbox", "radio"} else "")
        known = next((f for f in form.fields if f.name == name), None)
        if kind in {"checkbox", "radio"}:
            if known is None:
                known = Field(name, kind)
                form.fields.append(known)
            known.choices.append(value)
            if "checked" in found:
                known.values.append(value)
            return
        made = Field(
            name, tag if tag != "input" else kind, [value] if tag == "input" else []
        )
        form.fields.append(made)
        if tag == "select":
            self.select = made
        elif tag == "textarea":
            self.area = made

    def _asked_by_htmx(self, found):
        for verb in VERBS:
            if f"hx-{verb}" in found:
                self.page.forms.append(
                    Form(
                        method=verb.upper(),
                        address=self._to(found[f"hx-{verb}"]),
                        fields=self.open_form.fields if self.open_form else [],
                        is_htmx=True,
                    )
                )
