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


# What a caution is called beside a step: by a word that only it holds.
SHORT: tuple[tuple[str, str], ...] = (
    ("treat paint as lead", "lead paint"), ("lead dust", "lead dust"), ("asbestos", "asbestos"), ("no torch near", "no torch"),
    ("silica", "silica dust"), ("only bracing", "bracing"), ("ladder jacks", "jacks"), ("a ledger", "ledger"),
    ("old masonry", "old masonry"), ("structural screws", "engineer: screws"), ("a slab and what", "engineer: slab"),
    ("treat wires as live", "live wires"), ("a gas meter", "gas meter"), ("flue gas", "flue gas"), ("hidden wire", "hidden lines"),
    ("flue inside", "flue"), ("exhaust air", "exhaust"), ("plumbing vent", "plumbing vent"), ("an intake", "intake"),
    ("dryer", "dryer"), ("kitchen exhaust", "kitchen exhaust"), ("smell of gas", "gas"), ("wrap a meter", "meter"),
    ("hot vent", "hot vent"), ("attic intake", "attic vents"), ("shut off and drain", "water off"), ("does not say what runs", "unknown line"),
    ("falls:", "falls"), ("ladder 1 out", "ladder"), ("power lines:", "power lines"), ("brake stock conducts", "metal near lines"),
    ("wind above", "wind"), ("give off vapor", "fumes"), ("missing guard", "open holes"), ("way out in a fire", "way out"),
    ("termites", "termites"), ("lift it", "heavy"), ("radon", "radon"),
)  # fmt: skip
LOCAL = re.compile(r"; local code(?: and (.+?))? decides?\)$")


def short(caution: str) -> str:
    """Return what a caution is called beside a step, two or three words.

    >>> short("Falls: protection from 6 ft up."), short("Mind the dog: it bites.")
    ('falls', 'mind the dog')
    """
    said = caution.casefold()
    for words, name in SHORT:
        if words in said:
            return name
    return " ".join(re.split(r"[:.;,]", said)[0].split()[:3])


def brief(caution: str) -> str:
    """Return a caution without `local code ... decides`, which is said once over all of them; who decides stays.

    >>> brief("Wet it. (29 CFR 1926.62, 1993; local code and a licensed plumber decide)")
    'Wet it. (29 CFR 1926.62, 1993; a licensed plumber)'
    """
    return LOCAL.sub(lambda m: f"; {m[1]})" if m[1] else ")", caution)


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
        self.topics = [(t, [(self.number[c], brief(c)) for c in own]) for t, own in by_topic.items() if own]

    def numbers(self, cautions: Iterable[str]) -> list[int]:
        """Return the numbers of some cautions, ascending."""
        return sorted(self.number[c] for c in dict.fromkeys(cautions))

    def said(self, numbers: Iterable[int]) -> list[tuple[int, str]]:
        """Return (number, words) of the cautions with those numbers, ascending."""
        words = {n: c for c, n in self.number.items()}
        return [(n, brief(words[n])) for n in sorted(set(numbers))]

    def called(self, numbers: Iterable[int]) -> list[tuple[int, str]]:
        """Return (number, what it is called beside a step) of the cautions with those numbers, ascending."""
        words = {n: c for c, n in self.number.items()}
        return [(n, short(words[n])) for n in sorted(set(numbers))]
