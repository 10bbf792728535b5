"""One written packet per kind of job, shared by the readers that check it."""

from __future__ import annotations

import packet_doc
import pytest
from packet_doc import Written

from lapwright.packet import write


@pytest.fixture(scope="session", params=["imperial-stop", "metric"])
def written(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Written:
    """Return a packet in feet with a stop, and one in millimeters without."""
    imperial = request.param == "imperial-stop"
    doc = packet_doc.make("imperial" if imperial else "metric", stop=imperial, faces=3 if imperial else 2)
    out = tmp_path_factory.mktemp(request.param) / "packet"
    return Written(doc, out, write(doc, out))
