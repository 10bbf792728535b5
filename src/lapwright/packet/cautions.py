"""The cautions of the job: grouped by topic, numbered once, so that a step can point at them."""

from __future__ import annotations

import re
from collections.abc import Iterable

from lapwright.packet.view import View

# A caution stands under the first topic of which it holds a word (or the beginning of one).
TOPICS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("Old paint, dust and fibers", ("lead", "asbestos", "silica", "vermiculite", "dust")),
    (
        "What holds the house up",
        ("bracing", "brace", "ledger", "shore", "footing", "post", "dig", "engineer", "masonry"),
    ),
    ("Gas, flues, vents and intakes", ("gas", "flue", "hot vent", "exhaust", "duct", "intake", "vent", "combustion")),
    ("Wires, meters and pipes", ("wire", "breaker", "meter", "electrician", "shut off", "survey does not say")),
    ("Heights, ladders and wind", ("ladder", "fall", "scaffold", "power line", "wind above", "jack", "rung")),
    ("Fire, neighbors and pests", ("fire", "lot line", "ember", "termite", "foam", "thermal barrier")),
    ("People who live there", ("egress", "overnight", "bedroom", "lived-in", "solvent", "way out", "lift", "lb")),
)
OTHER = "Other"


def topic(caution: str) -> str:
    """Return the topic that a caution stands under.

    >>> topic("Ladders 1 out for 4 up.")
    'Heights, ladders and wind'
    """
    said = caution.casefold()
    for title, words in TOPICS:
        if any(re.search(rf"\b{re.escape(word)}", said) for word in words):
            return title
    return OTHER


class Cautions:
    """All cautions of a plan. `topics`: (title, [(number, words)]) in the order of `TOPICS`; `number` by words."""

    def __init__(self, view: View) -> None:
        said = dict.fromkeys(view.doc["job"].get("cautions") or [])
        said |= dict.fromkeys(c for step in view.rows("steps") for c in step["cautions"])
        by_topic: dict[str, list[str]] = {title: [] for title in (*(t for t, _ in TOPICS), OTHER)}
        for caution in said:
            by_topic[topic(caution)].append(caution)
        self.number = {c: n for n, c in enumerate((c for own in by_topic.values() for c in own), 1)}
        self.topics = [(t, [(self.number[c], c) for c in own]) for t, own in by_topic.items() if own]

    def numbers(self, cautions: Iterable[str]) -> list[int]:
        """Return the numbers of some cautions, ascending."""
        return sorted(self.number[c] for c in dict.fromkeys(cautions))

    def said(self, numbers: Iterable[int]) -> list[tuple[int, str]]:
        """Return (number, words) of the cautions with those numbers, ascending."""
        words = {n: c for c, n in self.number.items()}
        return [(n, words[n]) for n in sorted(set(numbers))]
