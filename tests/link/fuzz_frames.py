"""A coverage-guided run against the decoder, for those who have atheris.

    python -m tests.link.fuzz_frames -runs=2000000 -max_len=4096

Each input is split by its own first byte and fed in pieces and whole: no exception, the same events,
bounded memory, and every accepted frame must encode back to bytes that stand in the input.
"""

import sys

import atheris

with atheris.instrument_imports():
    from mixer.board.frames import LONGEST, Decoder, Frame, encode


def one_input(data: bytes) -> None:
    """Raise AssertionError where the decoder breaks a promise."""
    cut, stream = (data[0] or 1, data[1:]) if data else (1, b"")
    whole, pieces = Decoder(), Decoder()
    events = whole.feed(stream)
    in_pieces = [event for at in range(0, len(stream), cut) for event in pieces.feed(stream[at : at + cut])]
    assert events == in_pieces
    assert len(whole._pending) < LONGEST
    for event in events:
        if isinstance(event, Frame):
            assert encode(event) in b"\0" + stream


if __name__ == "__main__":
    atheris.Setup(sys.argv, one_input)
    atheris.Fuzz()
