"""Takes the snapshots: asks every part of a session what can be seen of it, and numbers what differs."""

from dataclasses import replace
from typing import TYPE_CHECKING

from mixer.live.picture.picture import (
    actuator_views,
    channel_views,
    contact_views,
    guard_view,
    named_signals,
    named_state,
    output_views,
    source_views,
    switch_views,
)
from mixer.live.picture.snapshot import CostView, Snapshot, TransportView
from mixer.live.robot.loop import RULE_SHOWN_S, Loop
from mixer.live.robot.pace import Pace
from mixer.live.robot.physics import physics_view
from tui.engine.link import NO_LINK

if TYPE_CHECKING:
    from tui.engine.session import Session


class Album:
    """Keeps the newest snapshot."""

    def __init__(self) -> None:
        self._plan_revision = 0
        self._ticks = 0
        self._tick_us = 0.0
        self._newest: Snapshot | None = None

    @property
    def newest(self) -> Snapshot:
        """The one taken last."""
        assert self._newest is not None
        return self._newest

    def plan_changed(self) -> None:
        """Names, order or numbers of the plan are others now."""
        self._plan_revision += 1

    def note_cost(self, ticks: int, took_s: float) -> None:
        """What the last run took."""
        self._ticks = ticks
        if ticks and took_s:
            self._tick_us = took_s / ticks * 1e6

    def take(self, session: "Session", loop: Loop, pace: Pace, *, paused: bool) -> Snapshot:
        """What can be seen now; the same object again when nothing differs."""
        fresh = self._taken(session, loop, pace, paused=paused)
        if self._newest is None or fresh != self._newest:
            self._newest = replace(fresh, revision=fresh.revision + 1)
        return self._newest

    def _taken(self, session: "Session", loop: Loop, pace: Pace, *, paused: bool) -> Snapshot:
        machine, tuning = loop.machine, session.tuning
        plan, robot = machine.plan, machine.profile.robot(machine.loadout)
        signals, state = named_signals(machine), named_state(machine)
        return Snapshot(
            revision=self._newest.revision if self._newest else 0,
            plan_revision=self._plan_revision,
            robot=robot.robot.name,
            loadout=machine.loadout or "",
            time_s=loop.time_s,
            tick=loop.tick,
            tick_ms=plan.tick_ms,
            channels=tuple(channel_views(plan, signals, machine, robot.receiver.frame_ms)),
            sources=tuple(source_views(plan, robot, signals)),
            switches=tuple(switch_views(plan, signals)),
            outputs=tuple(output_views(plan, signals, state)),
            guard=guard_view(plan, signals, state),
            flipped=bool(signals["flip.flipped"]),
            has_flip=plan.flip is not None,
            contacts=tuple(contact_views(plan, signals, machine.inputs)),
            actuators=tuple(actuator_views(plan, robot, machine.body, signals)),
            physics=physics_view(machine.body),
            rules=loop.rules.views(loop.tick - 1, round(RULE_SHOWN_S * 1000 / plan.tick_ms)),
            faults=session.faults.active,
            link=NO_LINK if session.link is None else session.link.view(),
            transport=_transport(session, loop, paused=paused),
            tuning=tuning.view(),
            cost=CostView(self._ticks, self._tick_us, pace.skipped_s, pace.skipped_now_s),
            event_count=session.events.count,
            trail=tuple(loop.trail),
        )


def _transport(session: "Session", loop: Loop, *, paused: bool) -> TransportView:
    mode, replay = loop.source.mode, session.replay
    recording = str(loop.recorder.path or "")
    if replay is None or mode != "replay":
        return TransportView(mode, not paused, 1.0, loop.time_s, 0.0, "", ended=False, recording=recording)
    return TransportView(
        mode=mode,
        playing=replay.playing,
        speed=replay.speed,
        position_s=replay.position_s,
        length_s=replay.length_s,
        log=replay.path.name,
        ended=replay.ended,
        recording=recording,
    )
