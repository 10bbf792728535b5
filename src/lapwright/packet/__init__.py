"""The packet: everything people look at, made from the plan document and nothing else.

`write` turns one plan document (the dict that `plan.json` holds) into paper, drawings and tables.
Nothing is computed here beyond where a line or a word goes on the page: every length, count and
verdict is read from the document, so no page can disagree with another.
"""

from lapwright.packet.write import write

__all__ = ["write"]
