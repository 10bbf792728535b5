"""The pencil test: does each control layer (water, air, vapor, heat) go round the heated space without lifting?

`lapwright.survey.closure` is another thing: whether the tape closes.
"""

from lapwright.pencil.build import pencil_test
from lapwright.pencil.model import LAYERS, Joint, Patch, PencilTest, State

__all__ = ["LAYERS", "Joint", "Patch", "PencilTest", "State", "pencil_test"]
