"""The guided receiver test through the whole chain: receiver, pins, real firmware, frames, verdict."""

from collections.abc import Iterator

import pytest

from mixer.board.chip.chip import Edge
from mixer.board.frames import Decoder, Frame, Identity
from mixer.link.rehearse.rehearsal import Rehearsal
from mixer.link.rehearse.report import Outcome, ReceiverKind
from tests.lengths import cases
from tests.link.firmware import build_board
from tests.link.reader_board import MHZ, Board
from tests.link.receivers import ORDER, Person, Receiver
from tests.plans import cart_plan

pytestmark = [pytest.mark.needs_tool(name) for name in ("avr-gcc", "gcc", "simavr")]

PERIOD_US = 20_003.7
PINS = ("PB0", "PB1", "PB2")


def edges_of(pulses: dict[str, int], at_us: float) -> Iterator[Edge]:
    """One receiver frame, channel after channel."""
    for pin, name in zip(PINS, ORDER, strict=True):
        if name in pulses:
            yield Edge(round(at_us * MHZ), pin, 1)
            yield Edge(round((at_us + pulses[name]) * MHZ), pin, 0)
            at_us += pulses[name] + 30


@pytest.mark.parametrize("kind", cases([], [ReceiverKind.HOLDS, ReceiverKind.STOPS, ReceiverKind.PRESET]))
def test_every_kind_of_receiver_is_judged_right_through_the_real_firmware(kind: ReceiverKind) -> None:
    """Pulses driven on the simulated chip's pins end in the right verdict, with the right times."""
    board, decoder = Board(build_board(CHANNELS=3)), Decoder()
    rehearsal, person = Rehearsal(cart_plan()), Person(Receiver(kind, delay_us=340_000))
    for n in range(200 * 50):
        if rehearsal.prompt is None:
            break
        at_us = n * PERIOD_US
        answer = person.act(rehearsal.prompt, round(at_us))
        if answer and rehearsal.waited_s >= 0.25:
            rehearsal.answer(answer)
        board.play(edges_of(person.receiver.pulses(round(at_us), person.on_air()), at_us + 3_000))
        board.run_until(round((n + 1) * PERIOD_US * MHZ))
        for event in decoder.feed(board.take()):
            assert isinstance(event, Frame | Identity)
            rehearsal.hear(event)
    board.close()

    result = rehearsal.result()
    assert result.complete
    assert result.kind is kind
    driving = next(verdict for verdict in result.verdicts if verdict.step == "off while driving")
    assert (driving.outcome is Outcome.PASSED) == (kind is not ReceiverKind.HOLDS)
    assert result.passed == (kind is not ReceiverKind.HOLDS)
    if kind is not ReceiverKind.HOLDS:
        assert dict(driving.facts)["receiver_after_ms"] == pytest.approx(340 - 120, abs=65)
    if kind is ReceiverKind.STOPS:
        assert dict(driving.facts)["neutral_after_ms"] == pytest.approx(200, abs=31)
