"""The serial line: how long a frame is, and how fast it has to go."""

from mixer.board.kinds.kind import Board

BITS_A_BYTE = 10
"""On the line: start bit, eight, stop bit."""
CALM = 0.5
"""Share of a tick that a frame may take: the rest is for the mix, during which a board may send nothing,
and for who the board is, which follows some frames."""
MOST = 0.9


def frame_bytes(channels: int, outputs: int) -> int:
    """Bytes of one frame on the line, as FRAMES.md lays it out: body, check, COBS's one more, the zero."""
    return 12 + 2 * channels + 1 + 2 * outputs + 2 + 2


def baud_for(board: Board, channels: int, outputs: int, tick_ms: int) -> int | None:
    """The slowest speed at which frames leave half of each tick free; else some of it; else None."""
    bits = BITS_A_BYTE * frame_bytes(channels, outputs) * 1000
    for share in (CALM, MOST):
        enough = [baud for baud in board.bauds if bits <= share * tick_ms * baud]
        if enough:
            return enough[0]
    return None
