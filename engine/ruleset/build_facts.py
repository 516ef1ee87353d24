"""Builds facts: first what each is, then the conditions they hold, which may read any of them."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from engine.errors import QuantityError
from engine.quantity import Kind, parse_quantity, parse_range
from engine.ruleset.conditions import ConditionReader, Reader, nearest_choice
from engine.ruleset.entries import Entries, Entry, plain
from engine.ruleset.model import (
    About,
    Choice,
    Effort,
    FactKind,
    FactSpec,
    Gathered,
    Refusal,
)
from engine.ruleset.names import RESERVED, Names, check_template
from engine.ruleset.report import Report, listed

_WAYS = ("reckoned", "concluded", "gathered")
_ONLY_TOLD = (
    "ask", "how", "effort", "plausible", "ask-when", "alongside", "refuse-when", "refuse-because",
    "not-yet", "assume", "asked", "hazard",
)  # fmt: skip
_ONLY_FOR = {
    "choices": (FactKind.CHOICE, FactKind.SET),
    "not-yet": (FactKind.CHOICE,),
    "alone": (FactKind.SET,),
    "of": (FactKind.LIST,),
    "plausible": (FactKind.QUANTITY, FactKind.LIST),
}
_CONCLUDABLE = (FactKind.YES_NO, FactKind.CHOICE)


def build_facts(entries: Entries, report: Report) -> dict[str, FactSpec | None]:
    """Every fact by id without its conditions; None for one that is there but wrong."""
    return {id: _Builder(entry, report).fact() for id, entry in entries.items()}


class _Builder:
    """Builds one fact from its entry."""

    def __init__(self, entry: Entry, report: Report) -> None:
        self._entry = entry
        self._report = report
        self._before = len(report)

    def fact(self) -> FactSpec | None:
        entry = self._entry
        self._check_name()
        kind, quantity = self._kind()
        about = entry.get("about")
        if kind is None or about is None:
            return None
        self._check_ways(kind, About(about))
        self._check_fitting(kind)
        if not entry.sound:
            return None
        spec = FactSpec(
            id=entry.id,
            about=About(about),
            kind=kind,
            place=entry.name_place,
            title=entry.get("title"),
            quantity=quantity,
            choices=self._choices(),
            effort=Effort(entry.get("effort") or Effort.LOOK),
            ask=entry.get("ask"),
            how=tuple(entry.get("how") or ()),
            plausible=self._plausible(quantity),
            asked=entry.get("asked") != "no",
            hazard=entry.get("hazard") == "yes",
            alongside=tuple(entry.get("alongside") or ()),
            words=tuple(plain(word) for word in entry.get("words") or ()),
            reckoned=entry.text("reckoned"),
        )
        spec = replace(
            spec,
            alone=self._choice(spec, "alone"),
            not_yet=self._not_yet(spec),
            assume=self._assumed(spec),
            otherwise=self._choice(spec, "concluded", "otherwise"),
        )
        return spec if len(self._report) == self._before else None

    def _check_name(self) -> None:
        if self._entry.id in RESERVED:
            self._report.add(
                "reserved-name",
                f"`{self._entry.id}` has a meaning of its own and cannot name a fact",
                self._entry.name_place,
                "Give the fact another name.",
            )

    def _kind(self) -> tuple[FactKind | None, Kind | None]:
        written = self._entry.get("kind")
        if written is None:
            return None, None
        if written not in iter(FactKind):
            return FactKind.QUANTITY, Kind(written)
        kind = FactKind(written)
        of = self._entry.get("of")
        return kind, Kind(of) if kind is FactKind.LIST and of else None

    def _check_ways(self, kind: FactKind, about: About) -> None:
        entry = self._entry
        ways = [way for way in _WAYS if way in entry.data]
        if not ways:
            return
        if len(ways) > 1:
            self._report.add(
                "two-ways",
                f"the fact `{entry.id}` is {listed(ways)} at once",
                entry.key_place(ways[1]),
                "Keep the one way its value is found.",
            )
        for key in _ONLY_TOLD:
            if key in entry.data:
                self._report.add(
                    "key-does-not-fit",
                    f"`{entry.id}` is {ways[0]}, so `{key}` means nothing here",
                    entry.key_place(key),
                    f"Take `{key}` out; it is for facts that people tell.",
                )
        if "gathered" in ways and about is not About.CAR:
            self._report.add(
                "gathered-not-car",
                f"`{entry.id}` is gathered from the panels but is about the {about}",
                entry.key_place("gathered"),
                "Only facts of the car are gathered: write `about: car`.",
            )
        if "gathered" in ways and kind is not FactKind.YES_NO:
            self._report.add(
                "gathered-not-yes-no",
                f"`{entry.id}` is gathered but its kind is `{entry.get('kind')}`",
                entry.key_place("kind"),
                "A gathered fact is `kind: yes-no`.",
            )
        if "concluded" in ways and kind not in _CONCLUDABLE:
            self._report.add(
                "concluded-kind",
                f"`{entry.id}` is concluded but its kind is `{entry.get('kind')}`",
                entry.key_place("kind"),
                "Rules conclude facts of the kinds `yes-no` and `choice`.",
            )

    def _check_fitting(self, kind: FactKind) -> None:
        for key, kinds in _ONLY_FOR.items():
            if key in self._entry.data and kind not in kinds:
                words = "quantity" if kind is FactKind.QUANTITY else str(kind)
                self._report.add(
                    "key-does-not-fit",
                    f"`{key}` means nothing for a {words}",
                    self._entry.key_place(key),
                    f"`{key}` is for {' and '.join(_plural(each) for each in kinds)}.",
                )

    # --- values -------------------------------------------------------------------------------

    def _choices(self) -> tuple[Choice, ...]:
        written = self._entry.get("choices") or {}
        choices: list[Choice] = []
        taken: dict[str, str] = {}
        for id, value in written.items():
            text = value if isinstance(value, str) else value["text"]
            also = () if isinstance(value, str) else tuple(map(plain, value.get("also") or ()))
            choices.append(Choice(id, text, also))
            for word in dict.fromkeys(word.casefold() for word in (id, *also)):
                other = taken.setdefault(word, id)
                if other != id:
                    self._report.add(
                        "ambiguous-word",
                        f"`{word}` stands for `{other}` and for `{id}` of `{self._entry.id}`",
                        self._entry.key_place("choices", id),
                        "Leave the word with one of them.",
                    )
        return tuple(choices)

    def _choice(self, spec: FactSpec, *keys: str) -> str | None:
        value = self._entry.text(*keys)
        if value is not None and spec.choice_ids and value not in spec.choice_ids:
            self._no_choice(value, spec, keys)
        return value

    def _not_yet(self, spec: FactSpec) -> frozenset[str]:
        values = [plain(value) for value in self._entry.get("not-yet") or ()]
        for index, value in enumerate(values):
            if spec.choice_ids and value not in spec.choice_ids:
                self._no_choice(value, spec, ("not-yet", index))
        return frozenset(values)

    def _no_choice(self, value: str, spec: FactSpec, keys: tuple[str | int, ...]) -> None:
        self._report.add(
            "unknown-choice",
            f"`{value}` is no choice of `{spec.id}`",
            self._entry.place(*keys),
            nearest_choice(value, spec),
        )

    def _assumed(self, spec: FactSpec) -> str | None:
        value = self._entry.text("assume")
        if value is None:
            return None
        if spec.kind is FactKind.LIST:
            self._report.add(
                "key-does-not-fit",
                "`assume` means nothing for a list",
                self._entry.key_place("assume"),
                "Readings are never assumed; take it out.",
            )
        elif spec.kind is FactKind.QUANTITY and spec.quantity is not None:
            try:
                parse_quantity(value, spec.quantity, place=self._entry.place("assume"))
            except QuantityError as error:
                self._report.extend(error.problems)
        elif spec.choice_ids and value not in spec.choice_ids:
            self._no_choice(value, spec, ("assume",))
        return value

    def _plausible(self, quantity: Kind | None) -> tuple[Fraction, Fraction] | None:
        written = self._entry.get("plausible")
        if written is None or quantity is None:
            return None
        try:
            return parse_range(written, quantity, place=self._entry.place("plausible"), signed=True)
        except QuantityError as error:
            self._report.extend(error.problems)
            return None


def _plural(kind: FactKind) -> str:
    return "quantities" if kind is FactKind.QUANTITY else f"{kind}s"


# --- second pass ------------------------------------------------------------------------------


def add_conditions(entries: Entries, names: Names, report: Report) -> dict[str, FactSpec | None]:
    """The facts with their conditions read and their texts checked."""
    reader = ConditionReader(names, report)
    return {
        id: _with_conditions(entry, names.facts[id], names, reader, report)
        for id, entry in entries.items()
    }


def _with_conditions(
    entry: Entry, spec: FactSpec | None, names: Names, reader: ConditionReader, report: Report
) -> FactSpec | None:
    before = len(report)
    about = entry.get("about")
    if about is None:
        return None
    by = Reader(About(about), f"the fact `{entry.id}`")
    for key in ("ask", "refuse-because"):
        text = entry.get(key)
        if text is not None:
            check_template(text, entry, (key,), by.about, names, report)
    for index, line in enumerate(entry.get("how") or ()):
        check_template(line, entry, ("how", index), by.about, names, report)
    ask_when = reader.read(entry, ("ask-when",), by)
    refused = reader.read(entry, ("refuse-when",), by)
    gathered = _gathered(entry, reader)
    if spec is None or len(report) > before:
        return None
    because = entry.get("refuse-because")
    return replace(
        spec,
        ask_when=ask_when,
        refusal=Refusal(refused, because) if refused is not None and because else None,
        gathered=gathered,
    )


def _gathered(entry: Entry, reader: ConditionReader) -> Gathered | None:
    written = entry.get("gathered")
    if not written:
        return None
    (quantifier,) = written
    # The condition is put to each panel, so it reads what a rule about a panel may read.
    panel = Reader(About.PANEL, f"the fact `{entry.id}`")
    condition = reader.read(entry, ("gathered", quantifier), panel)
    return None if condition is None else Gathered(quantifier, condition)
