"""Takes the snapshots: what can be seen of every part of a session, numbered by what differs."""

from dataclasses import replace
from typing import NamedTuple

from mixer.live.bench.pace import Pace
from mixer.live.inputs.replay import Replay
from mixer.live.listen.diary import Diary, Trail
from mixer.live.picture.physics import physics_view
from mixer.live.picture.picture import (
    actuator_views,
    channel_views,
    contact_views,
    guard_view,
    last_tick,
    output_views,
    source_views,
    switch_views,
)
from mixer.live.robot.robot import LiveRobot, Source
from mixer.live.views.snapshot import Snapshot
from mixer.live.views.status import CostView, LinkView, TransportView, TuningView


class Parts(NamedTuple):
    """What a session is made of, as far as it can be seen."""

    robot: LiveRobot
    loadout: str
    source: Source
    replay: Replay | None
    link: LinkView
    faults: tuple[str, ...]
    tuning: TuningView
    diary: Diary
    trail: Trail
    recording: str
    pace: Pace
    paused: bool


class Snapshots:
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

    def take(self, parts: Parts) -> Snapshot:
        """What can be seen now; the same object again when nothing differs."""
        fresh = self._taken(parts)
        if self._newest is None or fresh != self._newest:
            self._newest = replace(fresh, revision=fresh.revision + 1)
        return self._newest

    def _taken(self, parts: Parts) -> Snapshot:
        live, pace = parts.robot, parts.pace
        plan, robot = live.plan, live.build.robot
        signals, state = last_tick(live)
        return Snapshot(
            revision=self._newest.revision if self._newest else 0,
            plan_revision=self._plan_revision,
            robot=robot.robot.name,
            loadout=parts.loadout,
            time_s=live.time_s,
            tick=live.tick,
            tick_ms=plan.tick_ms,
            channels=tuple(channel_views(plan, signals, live, robot.receiver.frame_ms)),
            sources=tuple(source_views(plan, robot, signals)),
            switches=tuple(switch_views(plan, signals)),
            outputs=tuple(output_views(plan, signals, state)),
            guard=guard_view(plan, signals, state),
            flipped=bool(signals.flip.flipped),
            contacts=tuple(contact_views(plan, signals, live.inputs)),
            actuators=tuple(actuator_views(plan, robot, live.body, signals)),
            physics=physics_view(live.body),
            rules=parts.diary.rule_views(live.tick - 1),
            faults=parts.faults,
            link=parts.link,
            transport=_transport(parts),
            tuning=parts.tuning,
            cost=CostView(self._ticks, self._tick_us, pace.skipped_s, pace.skipped_now_s),
            event_count=parts.diary.events.count,
            trail=tuple(parts.trail.points),
        )


def _transport(parts: Parts) -> TransportView:
    mode, replay = parts.source.mode, parts.replay
    if replay is None or mode != "replay":
        time_s, playing = parts.robot.time_s, not parts.paused
        return TransportView(mode, playing, 1.0, time_s, 0.0, "", ended=False, recording=parts.recording)
    return TransportView(
        mode=mode,
        playing=replay.playing,
        speed=replay.speed,
        position_s=replay.position_s,
        length_s=replay.length_s,
        log=replay.path.name,
        ended=replay.ended,
        recording=parts.recording,
    )
