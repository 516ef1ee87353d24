"""The page of messages: what the code behind each means, and what is to be done."""

from __future__ import annotations

from cli.manual.read import diagnostics
from cli.reference.markdown import Page, link, plain

FILE = "diagnostics.md"


def page() -> Page:
    told = Page(FILE, "Messages", "what each message of `rules check` and `rules prove` means")
    told.paragraph(
        "Every message names file, line and column, says what is wrong and what would be right, "
        "and ends with a code in brackets. `prepwright help CODE` says the same as this page."
    )
    groups = dict.fromkeys(each.group for each in diagnostics().values())
    told.items(link(group, group) for group in groups)
    for group in groups:
        told.heading(group)
        told.items(
            f"**`{each.code}`** {plain(each.means)} {plain(each.do)}"
            for each in diagnostics().values()
            if each.group == group
        )
    return told
