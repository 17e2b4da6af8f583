"""Signals tick by tick as CSV."""

import io

import pytest

from mixer.errors import OptionError
from mixer.runs.measure.per_tick import PerTickWriter, chosen_signals
from mixer.runs.play.feed import Chunk
from tests.plans import tipper_plan
from tests.runs.drives import HOLD, armed_inputs, stretches


def test_chosen_signals() -> None:
    """Patterns choose signals, each once, in the order asked for; nothing means guard and wires."""
    plan = tipper_plan()

    assert chosen_signals(plan) == (
        "guard.state",
        "output.left.wire",
        "output.right.wire",
        "output.tray.wire",
    )
    assert chosen_signals(plan, ["output.tray.*", "*.tray.wire", "guard.state"])[-2:] == (
        "output.tray.wire",
        "guard.state",
    )
    with pytest.raises(
        OptionError, match=r"^no signal 'output.lift.wire'\n    remedy: did you mean 'output\.\w+\.wire'\?$"
    ):
        chosen_signals(plan, ["output.lift.wire"])


def test_written() -> None:
    """One line a tick with its time, across chunks."""
    plan, inputs = tipper_plan(), armed_inputs((3, (2000, 1500, 1500, 2000, 0, 0)))
    chunks = [Chunk(0, inputs[:4]), Chunk(4, inputs[4:])]
    file = io.StringIO(newline="")
    writer = PerTickWriter(file, plan, ("guard.state", "output.left.wire"))
    for stretch in stretches("direct", plan, chunks):
        writer.add(stretch)
    lines = file.getvalue().split("\r\n")

    assert lines[0] == "t_ms,guard.state,output.left.wire"
    assert lines[1 : HOLD + 1] == [f"{2 * tick},1,1500" for tick in range(HOLD)]
    assert lines[HOLD + 1 :] == ["10,2,1500", "12,2,1622", "14,2,1744", "16,2,1866", ""]
