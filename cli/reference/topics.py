"""The page of topics: treatments, holds, cautions, and the topics the rules are sorted by."""

from __future__ import annotations

from cli.reference.markdown import Page, codes, counted, link, plain
from cli.reference.rules import FILE as RULES
from cli.reference.rules import topic_heading, topics_of
from engine.ruleset import relations
from engine.ruleset.model import RuleSet

FILE = "topics.md"


def page(ruleset: RuleSet) -> Page:
    told = Page(FILE, "Topics", "treatments, holds, cautions, and the topics of the rules")
    told.paragraph("What rules can come to, and what they are about.")
    told.items(
        link(title, title) for title in ("Treatments", "Holds", "Cautions", "Topics of the rules")
    )
    told.heading("Treatments")
    told.paragraph("Lightest first; among those that rules give a panel the deepest wins.")
    for treatment in ruleset.treatments.values():
        told.heading(treatment.id, 3)
        told.paragraph(f"**{plain(treatment.title)}.** {plain(treatment.text)}")
        told.items(_givers(ruleset, "treatment", treatment.id))
    told.heading("Holds")
    told.paragraph("The work does not pass one without a record or a signature.")
    for hold in ruleset.holds.values():
        told.heading(hold.id, 3)
        told.paragraph(f"**{plain(hold.title)}.** {plain(hold.release)}")
        stops = "everything that does not release it"
        if hold.from_phase is not None:
            stops = f"every step from phase {hold.from_phase} on"
        if hold.blocks:
            named = codes(hold.blocks)
            stops = named if hold.from_phase is None else f"{named}, and {stops}"
        steps = [step.id for step in ruleset.steps.values() if hold.id in step.work.holds]
        told.items(
            [
                f"Stops {stops}",
                *_givers(ruleset, "hold", hold.id),
                *([f"Set by steps: {codes(steps)}"] if steps else ()),
                f"Source: {plain(str(hold.source))}",
            ]
        )
    told.heading("Cautions")
    told.paragraph(plain(ruleset.standing_caution))
    for caution in ruleset.cautions.values():
        told.heading(caution.id, 3)
        told.paragraph(f"**{plain(caution.title)}.** {plain(caution.text)}")
        told.items(
            [*_givers(ruleset, "caution", caution.id), f"Source: {plain(str(caution.source))}"]
        )
    told.heading("Topics of the rules")
    told.paragraph("A topic is a file of rules.")
    told.table(
        ("Topic", "Rules"),
        [
            (link(topic, topic_heading(topic), RULES), str(len(rules)))
            for topic, rules in topics_of(ruleset).items()
        ],
    )
    return told


def _givers(ruleset: RuleSet, what: str, name: str) -> list[str]:
    found = relations.rules_giving(ruleset, what, name)
    return [f"Given by {counted(len(found), 'rule')}: {codes(found)}"] if found else []
