"""What is typed about a panel's pattern and its takeoff."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from django import forms

from jobs.estimating.areas import MM_PER_FOOT, area_unit
from jobs.estimating.lengths import format_length
from jobs.estimating.takeoff import Takeoff
from jobs.forms.fields import LengthField
from jobs.models import Came, Glass, Panel, Pattern, Studio
from jobs.models.said import Answers, Fill, Quantities

BEVELS, DEPTHS, GLASSES = 3, 2, 4


class AmountField(forms.DecimalField):
    """A long run or an area, typed in the studio's larger unit and kept in mm or mm2 (float)."""

    def __init__(self, *, unit: Decimal, **options: Any) -> None:
        options.setdefault("widget", forms.NumberInput(attrs={"step": "any", "min": "0"}))
        super().__init__(min_value=0, max_digits=14, **options)
        self.unit = unit

    def clean(self, value: Any) -> float:
        return float((super().clean(value) or Decimal(0)) * self.unit)

    def prepare_value(self, value: Any) -> Any:
        if not isinstance(value, float):
            return value
        return f"{Decimal(value) / self.unit:.2f}" if value else ""


class UploadForm(forms.Form):
    file = forms.FileField(
        label="Drawing, SVG or DXF",
        help_text="The lead lines or one filled shape a piece, at full size. At most 10 MB.",
        widget=forms.ClearableFileInput(attrs={"accept": ".svg,.dxf,image/svg+xml"}),
        allow_empty_file=True,
        max_length=500,
    )


class AnswersForm(forms.Form):
    """What the drawing is measured with; it asks only what the file leaves open."""

    drawn_width_mm = LengthField(label="How wide the drawing is", required=False)
    scale = forms.ChoiceField(label="Which size is right", required=False, widget=forms.RadioSelect)
    close_below_mm = LengthField(
        label="Close gaps up to", required=False, help_text="Such as 1 mm, at most 10 mm. Empty: close none."
    )
    came = forms.ModelChoiceField(Came.objects.none(), label="Came inside", empty_label=None)
    border = forms.ModelChoiceField(Came.objects.none(), label="Came of the border", empty_label=None)

    def __init__(
        self, *args: Any, pattern: Pattern, sizes: Mapping[str, str], studio: Studio, **options: Any
    ) -> None:
        initial = {
            "drawn_width_mm": pattern.drawn_width_mm or pattern.panel.width_mm,
            "scale": pattern.scale_answer,
            "close_below_mm": pattern.close_below_mm or None,
            "came": pattern.came_id,
            "border": pattern.border_id,
        }
        super().__init__(*args, **{"initial": initial, "prefix": "answer", **options})
        for name in ("drawn_width_mm", "close_below_mm"):
            self.fields[name].unit = studio.units  # type: ignore[attr-defined]
        self.fields["scale"].choices = [  # type: ignore[attr-defined]
            ("panel", f"The panel: {sizes['panel']}; draw it to that width"),
            ("drawing", f"The drawing: {sizes['drawing']}; the panel gets that size"),
        ]
        for name in ("came", "border"):
            kept = Came.objects.filter(pk=getattr(pattern, f"{name}_id"))
            self.fields[name].queryset = (Came.objects.filter(active=True) | kept).distinct()  # type: ignore[attr-defined]
        if pattern.lines["units_known"]:
            del self.fields["drawn_width_mm"]
        asks = any(fault["kind"] == "scale" for fault in pattern.faults)
        if not (asks or pattern.scale_answer):
            del self.fields["scale"]

    def answers(self) -> Answers:
        typed = self.cleaned_data
        return Answers(
            typed["came"],
            typed["border"],
            typed["close_below_mm"] or Decimal(0),
            typed.get("drawn_width_mm"),
            typed.get("scale") or "",
        )


class GlassesForm(forms.Form):
    """For each color of the drawing the glass it stands for, and its bevel."""

    def __init__(self, *args: Any, pattern: Pattern, studio: Studio, **options: Any) -> None:
        super().__init__(*args, **{"prefix": "fill", **options})
        self.colors: list[str] = pattern.measured["fills"]
        kept = [said["glass"] for said in pattern.fills.values() if "glass" in said]
        glasses = (Glass.objects.filter(active=True) | Glass.objects.filter(pk__in=kept)).distinct()
        self.glasses = {glass.pk: glass for glass in glasses}
        thick = pattern.panel.thickness_mm
        usual = next((glass for glass in self.glasses.values() if glass.thickness_mm == thick), None)
        usual = usual or next(iter(self.glasses.values()), None)
        # Read once, however many colors there are.
        choices = [("", "choose a glass"), *((pk, glass.name) for pk, glass in self.glasses.items())]
        for number, color in enumerate(self.colors):
            said = pattern.fills.get(color, {})
            first = usual if len(self.colors) == 1 else None
            field = forms.ModelChoiceField(
                glasses, label="Glass", required=False, initial=said.get("glass", first and first.pk)
            )
            field.choices = choices
            self.fields[f"glass{number}"] = field
            self.fields[f"beveled{number}"] = forms.BooleanField(
                label="Beveled", required=False, initial=said.get("beveled", bool(first and first.beveled))
            )
            self.fields[f"bevel{number}"] = LengthField(
                label="Bevel width",
                required=False,
                unit=studio.units,
                initial=Decimal(said["bevel_mm"])
                if "bevel_mm" in said
                else (first.bevel_mm if first else None),
                help_text="Empty: the glass’s own.",
            )
            self.fields[f"carved{number}"] = LengthField(
                label="Carved so deep",
                required=False,
                unit=studio.units,
                initial=Decimal(said["carved_mm"]) if said.get("carved_mm") else None,
                help_text="Only where this color is no piece of glass.",
            )
        self.units = studio.units

    def rows(self) -> list[dict[str, Any]]:
        return [
            {
                "color": color,
                "said": self.glasses.get(self.fields[f"glass{n}"].initial),
                "glass": self[f"glass{n}"],
                "beveled": self[f"beveled{n}"],
                "bevel": self[f"bevel{n}"],
                "carved": self[f"carved{n}"],
                "depth": self._depth(n),
            }
            for n, color in enumerate(self.colors)
        ]

    def _depth(self, number: int) -> str:
        depth = self.fields[f"carved{number}"].initial
        return format_length(depth, self.units) if depth else ""

    def clean(self) -> dict[str, Any]:
        typed = super().clean() or self.cleaned_data
        for n in range(len(self.colors)):
            if self.errors.keys() & {f"glass{n}", f"carved{n}"}:
                continue
            if not (typed.get(f"glass{n}") or typed.get(f"carved{n}")):
                self.add_error(f"glass{n}", "Say which glass that is, or how deep it is carved.")
        return typed

    def fills(self) -> dict[str, Fill]:
        typed, found = self.cleaned_data, {}
        for number, color in enumerate(self.colors):
            if typed[f"carved{number}"]:
                found[color] = Fill(None, carved_mm=typed[f"carved{number}"])
                continue
            glass = typed[f"glass{number}"]
            width = typed[f"bevel{number}"] or glass.bevel_mm
            found[color] = Fill(glass, typed[f"beveled{number}"], width)
        return found


class AcceptForm(forms.Form):
    hours = forms.BooleanField(
        required=False, initial=True, label="Give the work that has not begun the hours of its takeoff"
    )
    anyway = forms.BooleanField(required=False, label="It is right all the same")

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **{"prefix": "accept", **options})


class TakeoffForm(forms.Form):
    """A takeoff by hand, of one copy, to start from what holds or what is proposed."""

    inner = forms.ModelChoiceField(Came.objects.none(), label="Came inside", empty_label=None)
    border = forms.ModelChoiceField(Came.objects.none(), label="Came of the border", empty_label=None)
    joints = forms.IntegerField(min_value=0, max_value=1_000_000, help_text="As seen on one face.")
    curved_edges = forms.IntegerField(min_value=0, max_value=1_000_000)
    inner_corners = forms.IntegerField(min_value=0, max_value=1_000_000)
    hard_pieces = forms.IntegerField(label="Pieces hard to cut", min_value=0, max_value=20_000)

    def __init__(
        self, *args: Any, panel: Panel, start: Takeoff | None, studio: Studio, **options: Any
    ) -> None:
        super().__init__(*args, **{"prefix": "take", **options})
        shown = area_unit(studio.units)
        self.run_unit = MM_PER_FOOT if studio.units == Studio.Units.INCH else Decimal(1000)
        self.area_unit = shown.size * 1_000_000
        run, area = "ft" if studio.units == Studio.Units.INCH else "m", shown.word
        for name in ("inner", "border"):
            self.fields[name].queryset = Came.objects.filter(active=True)  # type: ignore[attr-defined]
        self._run("inner_mm", f"Came inside, {run}")
        self._run("border_mm", f"Came of the border, {run}")
        for n in range(BEVELS):
            self._length(f"bevel{n}_thick", "Glass thickness", studio)
            self._length(f"bevel{n}_wide", "Width of the bevel", studio)
            self._run(f"bevel{n}_run", f"Beveled edge, {run}")
        for n in range(DEPTHS):
            self._length(f"carved{n}_deep", "Depth", studio)
            self._area(f"carved{n}_area", f"Carved area, {area}")
        glasses = Glass.objects.filter(active=True)
        choices = [("", "none"), *((glass.pk, glass.name) for glass in glasses)]
        for n in range(GLASSES):
            field = forms.ModelChoiceField(glasses, label="Glass", required=False)
            field.choices = choices
            self.fields[f"glass{n}"] = field
            self._area(f"glass{n}_area", f"Area, {area}")
        if start is not None:
            self.initial = {**_initial(start), **self.initial}

    def _run(self, name: str, label: str) -> None:
        self.fields[name] = AmountField(label=label, unit=self.run_unit, required=False)

    def _area(self, name: str, label: str) -> None:
        self.fields[name] = AmountField(label=label, unit=self.area_unit, required=False)

    def _length(self, name: str, label: str, studio: Studio) -> None:
        self.fields[name] = LengthField(label=label, unit=studio.units, required=False)

    def groups(self) -> dict[str, list[list[forms.BoundField]]]:
        """The rows of the form that are alike, for the template."""
        parts = {
            "glasses": (GLASSES, ("glass{}", "glass{}_area")),
            "bevels": (BEVELS, ("bevel{}_thick", "bevel{}_wide", "bevel{}_run")),
            "carved": (DEPTHS, ("carved{}_deep", "carved{}_area")),
        }
        return {
            group: [[self[name.format(n)] for name in names] for n in range(many)]
            for group, (many, names) in parts.items()
        }

    def clean(self) -> dict[str, Any]:
        typed = super().clean() or self.cleaned_data
        for n in range(BEVELS):
            if typed.get(f"bevel{n}_run"):
                for part in ("thick", "wide"):
                    self._ask(f"bevel{n}_{part}", "Say how thick the glass and how wide the bevel is.")
        for n in range(DEPTHS):
            if typed.get(f"carved{n}_area"):
                self._ask(f"carved{n}_deep", "Say how deep it is carved.")
        for n in range(GLASSES):
            if typed.get(f"glass{n}_area"):
                self._ask(f"glass{n}", "Say which glass that is.")
        return typed

    def _ask(self, name: str, sentence: str) -> None:
        if name not in self.errors and not self.cleaned_data.get(name):
            self.add_error(name, sentence)

    def quantities(self) -> Quantities:
        typed = self.cleaned_data
        return Quantities(
            **{
                name: typed[name]
                for name in (
                    *("inner", "border", "inner_mm", "border_mm"),
                    *("joints", "curved_edges", "inner_corners", "hard_pieces"),
                )
            },
            bevels=[
                (float(typed[f"bevel{n}_thick"]), float(typed[f"bevel{n}_wide"]), typed[f"bevel{n}_run"])
                for n in range(BEVELS)
                if typed[f"bevel{n}_run"]
            ],
            carved=[
                (float(typed[f"carved{n}_deep"]), typed[f"carved{n}_area"])
                for n in range(DEPTHS)
                if typed[f"carved{n}_area"]
            ],
            glasses=[
                (typed[f"glass{n}"], typed[f"glass{n}_area"])
                for n in range(GLASSES)
                if typed[f"glass{n}_area"]
            ],
        )


def _initial(start: Takeoff) -> dict[str, Any]:
    names = ("joints", "curved_edges", "inner_corners", "hard_pieces", "inner_mm", "border_mm")
    values: dict[str, Any] = {name: getattr(start, name) for name in names}
    cames = {came.profile: came.pk for came in Came.objects.filter(profile__in=list(start.came_mm))}
    # Of two profiles the border's is the one whose length is the border's.
    inner = min(start.came_mm, key=lambda name: abs(start.came_mm[name] - start.inner_mm), default="")
    border = min(start.came_mm, key=lambda name: abs(start.came_mm[name] - start.border_mm), default="")
    values["inner"], values["border"] = cames.get(inner), cames.get(border)
    for n, ((thick, wide), run) in enumerate(sorted(start.beveled_mm.items())[:BEVELS]):
        values |= {f"bevel{n}_thick": _mm(thick), f"bevel{n}_wide": _mm(wide), f"bevel{n}_run": run}
    for n, (deep, area) in enumerate(sorted(start.carved_mm2.items())[:DEPTHS]):
        values |= {f"carved{n}_deep": _mm(deep), f"carved{n}_area": area}
    glasses = {glass.name: glass.pk for glass in Glass.objects.filter(name__in=list(start.glass_mm2))}
    for n, (name, area) in enumerate(list(start.glass_mm2.items())[:GLASSES]):
        values |= {f"glass{n}": glasses.get(name), f"glass{n}_area": area}
    return values


def _mm(value: float) -> Decimal:
    return Decimal(value).quantize(Decimal("0.01"))
