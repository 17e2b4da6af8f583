"""Loading: text -> tables -> loadouts -> robots -> plans, with every problem of all of them at once."""

import hashlib
import json
from collections.abc import Container, Iterable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from itertools import product
from pathlib import Path
from types import MappingProxyType

from mixer.core.plan import Plan
from mixer.errors import OptionError, Problem, ProfileError, offer
from mixer.profile.checks.guard import soonest_stop_ms
from mixer.profile.checks.notices import notices_of
from mixer.profile.checks.plan import check_plan
from mixer.profile.checks.validation import check_name, robot_of
from mixer.profile.integers.to_plan import plan_of
from mixer.profile.read.complaint import Complaint
from mixer.profile.read.fitting import (
    Fitting,
    base_of,
    complaints_of_overlay,
    fitted,
    fitting_of,
    overlays_of,
)
from mixer.profile.read.lines import KeyPath
from mixer.profile.read.overlay import Table, complaints_of_removal, with_loadout
from mixer.profile.read.reading import Source, read_tables, read_text
from mixer.profile.schema.root import Robot
from mixer.profile.without import unknown, without

MOST_LOADOUTS = 50
MOST_OVERLAYS = 12
"""Of operators and spare receivers together; each goes with each loadout."""


@dataclass(frozen=True, slots=True)
class _Variant:
    robot: Robot
    plan: Plan
    notices: tuple[str, ...]


@dataclass(frozen=True)
class Profile:
    """One robot in all its loadouts, checked. `loadout` None is the base robot throughout.

    What is called `loadout` may name who drives and the receiver as well (`mixer.profile.read.fitting`).
    Every method raises OptionError for a loadout the profile does not have, and ProfileError for one that
    is wrong: only who asks for it is stopped by that.
    """

    path: Path | None
    """The file, where there is one."""
    where: str
    """What messages call it."""
    text: str
    loadouts: tuple[str, ...]
    _source: Source
    _variants: Mapping[str | None, _Variant]
    """The base robot, and each loadout, operator and receiver alone."""
    _broken: Mapping[str, tuple[Problem, ...]]
    """What is wrong with each of them that cannot be used."""
    taken: tuple[str, ...] = ()
    """Channels and motors that are taken as dead, as `--without` names them."""
    _together: dict[str, _Variant] = field(default_factory=dict, init=False, compare=False)
    """Combinations, made when somebody asks for them."""

    @property
    def operators(self) -> tuple[str, ...]:
        """Names of those who drive it."""
        return self._names("operator")

    @property
    def receivers(self) -> tuple[str, ...]:
        """Names of receivers beside the built-in one."""
        return self._names("receiver")

    @property
    def fittings(self) -> tuple[str | None, ...]:
        """Every combination of loadout, operator and receiver, the base robot first."""
        fitted_with = product(("", *self.receivers), ("", *self.operators), ("", *self.loadouts))
        return tuple(
            Fitting(loadout, operator, receiver).name for receiver, operator, loadout in fitted_with
        )

    @property
    def problems(self) -> tuple[Problem, ...]:
        """Everything that is wrong with any loadout, in the order of the file."""
        return tuple(_in_order([problem for found in self._broken.values() for problem in found]))

    def without(self, taken: Sequence[str]) -> "Profile":
        """The same profile with channels (``left_rear``) or single motors (``left_rear:1``) dead.

        Raises OptionError for a name that no loadout has.
        """
        if not taken:
            return self
        refused = unknown([variant.robot for variant in self._variants.values()], taken)
        if refused is not None:
            raise refused
        variants = {
            loadout: _variant_of(without(variant.robot, taken), loadout, self._variants[None].robot.contact)
            for loadout, variant in self._variants.items()
        }
        return replace(self, _variants=MappingProxyType(variants), taken=(*self.taken, *taken))

    def robot(self, loadout: str | None = None) -> Robot:
        """The robot as the file describes it, physical data included."""
        return self._variant(loadout).robot

    def plan(self, loadout: str | None = None) -> Plan:
        """The robot in integers, for the core."""
        return self._variant(loadout).plan

    def tables(self, loadout: str | None = None) -> Table:
        """What the file says of one robot: its base with the loadout laid over."""
        self._variant(loadout)
        return fitted(self._source.tables, fitting_of(loadout))

    def notices(self, loadout: str | None = None) -> tuple[str, ...]:
        """What the reader should know although nothing is wrong."""
        return self._variant(loadout).notices

    def fingerprint(self, loadout: str | None = None) -> str:
        """Twelve hex digits of SHA-256 over the plan: equal plans, equal fingerprints."""
        return fingerprint_of(self.plan(loadout))

    def loadout_of(self, fingerprint: str) -> str | None:
        """The loadout with this fingerprint; None for the base robot, and where none has it."""
        usable = (name for name in self.fittings if name not in self._broken)
        return next((name for name in usable if self.fingerprint(name) == fingerprint), None)

    def stop_within_ms(self, loadout: str | None = None) -> float:
        """The promised time from the last good pulse to all outputs at zero, in ms.

        What the profile says, else the soonest the firmware can promise.
        """
        robot = self.robot(loadout)
        return robot.guard.stop_within_ms or soonest_stop_ms(robot)

    def unused(self, loadout: str | None = None) -> frozenset[str]:
        """Channels and contacts the profile describes and this loadout leaves out of its plan."""
        described: set[str] = set()
        for robot in (variant.robot for variant in self._variants.values()):
            described.update(robot.stick, robot.switch, robot.contact)
        plan = self.plan(loadout)
        channels = {channel.name for channel in plan.channels}
        return frozenset(described - channels - {contact.name for contact in plan.contacts})

    def problem(self, complaint: Complaint, loadout: str | None = None) -> Problem:
        """What others found wrong with a loadout, with file and line."""
        return self._source.problem(complaint, loadout)

    def _names(self, section: str) -> tuple[str, ...]:
        return tuple(name for own, name, _ in overlays_of(self._source.tables) if own == section)

    def _variant(self, loadout: str | None) -> _Variant:
        if loadout in self._variants:
            return self._variants[loadout]
        if loadout is not None and loadout in self._broken:
            raise ProfileError(self._broken[loadout])
        fitting = fitting_of(loadout)
        self._require(fitting)
        name = str(fitting.name)
        if name not in self._together:
            robot, complaints = robot_of(fitted(self._source.tables, fitting))
            if robot is None:
                raise ProfileError([self._source.problem(complaint, name) for complaint in complaints])
            robot = without(robot, self.taken) if self.taken else robot
            self._together[name] = _variant_of(robot, name, self._variants[None].robot.contact)
        return self._together[name]

    def _require(self, fitting: Fitting) -> None:
        """Raises OptionError for what there is not, ProfileError for what is wrong by itself."""
        known = (
            ("loadout", "--loadout", fitting.loadout, self.loadouts),
            ("operator", "--driver", fitting.operator, self.operators),
            ("spare receiver", "--receiver", fitting.receiver, self.receivers),
        )
        for what, option, name, names in known:
            if name and name not in names:
                said = f"{self.where} has no {what} {name!r}"
                if not names:
                    raise OptionError(said, f"it has none: leave {option} out")
                raise OptionError(said, offer(name, names, f"{what}s"))
        singles = (
            Fitting(fitting.loadout),
            Fitting("", fitting.operator),
            Fitting("", "", fitting.receiver),
        )
        for alone in singles:
            if alone.name in self._broken:
                raise ProfileError(self._broken[str(alone.name)])


def fingerprint_of(plan: Plan) -> str:
    """Twelve hex digits of SHA-256 over every number and name of a plan."""
    canonical = json.dumps(asdict(plan), default=int, separators=(",", ":"))
    return hashlib.sha256(canonical.encode()).hexdigest()[:12]


def load_profile(path: Path) -> Profile:
    """The profile in a file. Raises ProfileError with every problem in it where the base robot has one."""
    return _profile(read_tables(read_text(path), str(path)), path)


def parse_profile(text: str, where: str, tables: Table | None = None) -> Profile:
    """The profile in a text that messages call `where`. Raises ProfileError as `load_profile` does.

    Who has read the text as TOML already hands over the tables.
    """
    return _profile(read_tables(text, where) if tables is None else Source(where, text, tables), None)


def _profile(source: Source, path: Path | None) -> Profile:
    base = base_of(source.tables)
    overlays = source.tables.get("loadout", {})
    robot, complaints = robot_of(base)
    problems = [source.problem(complaint, None) for complaint in complaints]
    problems += _overlay_problems(source, overlays)
    usable = overlays if isinstance(overlays, dict) and len(overlays) <= MOST_LOADOUTS else {}
    said = {(complaint.path, complaint.said) for complaint in complaints}
    loadouts = {name: _loadout(source, base, name, table, said) for name, table in usable.items()}
    problems += _operator_problems(source)
    for section, name, table in overlays_of(source.tables):
        fitting = Fitting("", name) if section == "operator" else Fitting("", "", name)
        loadouts[str(fitting.name)] = _overlaid(source, fitting, (section, name, table), said)
    broken = {name: tuple(found) for name, (_, found) in loadouts.items() if found}
    if problems or robot is None:
        every = [problem for found in broken.values() for problem in found]
        raise ProfileError(_in_order(problems + every))
    wired = robot.contact
    variants: dict[str | None, _Variant] = {None: _variant_of(robot, None, wired)}
    for name, (made, found) in loadouts.items():
        if made is not None and not found:
            variants[name] = _variant_of(made, name, wired)
    frozen = MappingProxyType(variants), MappingProxyType(broken)
    return Profile(path, source.where, source.text, tuple(usable), source, *frozen)


def _loadout(
    source: Source, base: Table, name: str, table: object, said: Container[tuple[KeyPath, str]]
) -> tuple[Robot | None, list[Problem]]:
    """A loadout's robot, and what is wrong with it that is not `said` of the base robot already."""
    path = ("loadout", name)
    if not isinstance(table, dict):
        remedy = f"write [loadout.{name}] and what differs under it"
        return None, [source.problem(Complaint(path, "must be a table", remedy), None)]
    own = (*check_name(path, name), *complaints_of_removal(name, base, table))
    robot, complaints = robot_of(with_loadout(base, table))
    fresh = [complaint for complaint in complaints if (complaint.path, complaint.said) not in said]
    problems = [source.problem(complaint, None) for complaint in own]
    return robot, problems + [source.problem(complaint, name) for complaint in fresh]


def _overlaid(
    source: Source,
    fitting: Fitting,
    overlay: tuple[str, str, object],
    said: Container[tuple[KeyPath, str]],
) -> tuple[Robot | None, list[Problem]]:
    """The base robot with one operator or receiver, and what is wrong with it, unless `said` already."""
    own = [*check_name(overlay[:2], overlay[1]), *complaints_of_overlay(source.tables, *overlay)]
    if own:
        return None, [source.problem(complaint, None) for complaint in own]
    robot, complaints = robot_of(fitted(source.tables, fitting))
    fresh = [complaint for complaint in complaints if (complaint.path, complaint.said) not in said]
    return robot, [source.problem(complaint, fitting.name) for complaint in fresh]


def _operator_problems(source: Source) -> Iterator[Problem]:
    operators = source.tables.get("operator", {})
    if not isinstance(operators, dict):
        complaint = Complaint(("operator",), "must hold tables", "write [operator.NAME]")
        yield source.problem(complaint, None)
    overlays = list(overlays_of(source.tables))
    if len(overlays) > MOST_OVERLAYS:
        said = f"{len(overlays)} operators and spare receivers are too many"
        yield source.problem(Complaint(overlays[0][:2], said, f"use {MOST_OVERLAYS} at most"), None)


def _overlay_problems(source: Source, overlays: object) -> Iterator[Problem]:
    path = ("loadout",)
    if not isinstance(overlays, dict):
        yield source.problem(Complaint(path, "must hold tables", "write [loadout.NAME]"), None)
    elif len(overlays) > MOST_LOADOUTS:
        said = f"{len(overlays)} loadouts are too many"
        yield source.problem(Complaint(path, said, f"use {MOST_LOADOUTS} at most"), None)


def _variant_of(robot: Robot, loadout: str | None, wired: Iterable[str]) -> _Variant:
    name = robot.robot.name if loadout is None else f"{robot.robot.name}, {fitting_of(loadout).words}"
    plan = plan_of(robot, name, wired)
    check_plan(plan)
    return _Variant(robot, plan, tuple(notices_of(robot)))


def _in_order(problems: list[Problem]) -> list[Problem]:
    """By line, problems without one first; each said once."""

    def line(problem: Problem) -> int:
        number = problem.where.rpartition(":")[2]
        return int(number) if number.isdigit() else 0

    return sorted(dict.fromkeys(problems), key=line)
