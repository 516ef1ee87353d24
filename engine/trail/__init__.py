"""The record an auditor can trust: entries in a chain of hashes, in one file per shop.

    with Store.open() as store:
        store.append(opening(job, actor="Kim"))
        seal = store.print_seal("Kim", on="report of BM-7", job="BM-7")
        report = verify(store, seal=str(seal))

What needs rules to be loaded stands in modules of its own: `engine.trail.deciding` records a
decision, `engine.trail.replay` decides all of them again.
"""

from engine.trail.chain import Finding, TrailReport
from engine.trail.entry import Draft, Entry, EntryKind, Original
from engine.trail.export import export_file, import_file, verify_export
from engine.trail.jobs import history, job_facts, opening, telling, withdrawing
from engine.trail.rulesets import kept_ruleset, ruleset_folder
from engine.trail.seal import Seal, read_seal
from engine.trail.store import Store
from engine.trail.verify import verify

__all__ = [
    "Draft",
    "Entry",
    "EntryKind",
    "Finding",
    "Original",
    "Seal",
    "Store",
    "TrailReport",
    "export_file",
    "history",
    "import_file",
    "job_facts",
    "kept_ruleset",
    "opening",
    "read_seal",
    "ruleset_folder",
    "telling",
    "verify",
    "verify_export",
    "withdrawing",
]
