"""Real receiver readings: frames from a pulse reader, ports, recording, and the guided receiver test.

`frames` is pure (bytes in, events out), `ports` moves bytes, `session` joins the two and survives a
pulled plug. `recorder`, `jitter`, `parity` and `rehearse` live on the frames a session gives. The pulse
reader's own C source is in `board/`.
"""
