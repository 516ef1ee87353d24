"""What changed in the supplied set below a shop's changes since the shop last looked at it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from engine.ruleset.finding import Finding, Severity, warning
from engine.ruleset.report import listed
from engine.ruleset.shop_model import Shop, ShopChange, Touched

ACCEPT = "Once you have looked at it, `prepwright rules accept` notes the supplied set as it is."
_LONGEST = 70


def shop_findings(shop: Shop) -> Iterator[Finding]:
    """Which of the shop's changes touch what changed in the supplied set, and what has no copy."""
    changed = [touched for touched in shop.touched if _differs(touched)]
    yield from (_changed(touched) for touched in changed)
    uncopied = [touched.change for touched in shop.touched if touched.copy is None]
    if shop.noted_digest is None:
        yield warning(
            "supplied-not-noted",
            f"it is not noted which `{shop.builds_on}` the shop's changes were made for",
            shop.place,
            "`prepwright rules accept` notes it, with a copy of everything the shop changes.",
        )
        return
    if shop.noted_digest != shop.supplied_digest:
        untouched = "" if changed or uncopied else "; nothing the shop changes is touched by it"
        yield warning(
            "supplied-changed",
            f"`{shop.builds_on}` is not the one the shop last looked at{untouched}",
            shop.place,
            f"It is version {shop.supplied_version} now. {ACCEPT}",
        )
    for change in uncopied:
        yield _no_copy(change, behind=shop.noted_digest != shop.supplied_digest)


def _no_copy(change: ShopChange, *, behind: bool) -> Finding:
    what = _called(change)
    unknown = ", so it cannot be told whether that one changed since" if behind else ""
    return warning(
        "supplied-not-copied",
        f"no copy is kept of the supplied {what} that the shop changes{unknown}",
        change.place,
        "`prepwright rules accept` keeps one.",
        (change.id,),
    )


def _changed(touched: Touched) -> Finding:
    change = touched.change
    return Finding(
        "supplied-part-changed",
        Severity.WARNING,
        f"the supplied {_called(change)}, which the shop {_did(change)} on {change.on}, "
        "changed since",
        change.place,
        f"Look whether the shop's change still holds. {ACCEPT}",
        (change.id,),
        tuple(_differences(touched.copy or {}, touched.now or {}, "")),
    )


def _differs(touched: Touched) -> bool:
    return touched.copy is not None and touched.copy != touched.now


def _called(change: ShopChange) -> str:
    return change.what if change.what == "labour" else f"{change.what} `{change.replaces}`"


def _did(change: ShopChange) -> str:
    if change.retired:
        return "retired"
    return "changed" if change.what in ("limit", "labour") else "replaced"


def _differences(was: object, now: object, key: str) -> Iterator[str]:
    """One line for every part that differs, by its keys."""
    if was == now:
        return
    if isinstance(was, Mapping) and isinstance(now, Mapping):
        for inner in dict.fromkeys((*was, *now)):
            path = f"{key}.{inner}" if key else str(inner)
            yield from _differences(was.get(inner), now.get(inner), path)
    elif was is None:
        yield f"`{key}` is new: {_shown(now)}"
    elif now is None:
        yield f"`{key}` is gone; it was {_shown(was)}"
    else:
        yield f"`{key}` was {_shown(was)}, and is {_shown(now)} now"


def _shown(value: object) -> str:
    if isinstance(value, list) and all(isinstance(item, str) for item in value):
        return listed(value)
    text = str(value).replace("'", "")
    return f"`{text if len(text) <= _LONGEST else f'{text[: _LONGEST - 3]}...'}`"
