"""Facts to draw sheets from, without hours of simulation, and a reader of what was drawn."""

import random
from dataclasses import dataclass, field
from functools import lru_cache
from html.parser import HTMLParser
from pathlib import Path

from mixer.board.wiring.own import own_wiring
from mixer.failsafe.campaign.results import CampaignResult, FaultResult, FaultVerdict
from mixer.failsafe.proof.theorems import ProofOutcome, ProofResult, RuleProof
from mixer.failsafe.report.stop import stop_of
from mixer.failsafe.report.warnings import warnings_of
from mixer.faults.catalogue import catalogue
from mixer.faults.fault import Fault
from mixer.laws.expect import loss_ms
from mixer.laws.rules import rules_of
from mixer.live.robot.robot import build_of
from mixer.plant.at_zero import BRAKING, COASTING
from mixer.profile.profile import Profile, load_profile, parse_profile
from mixer.sheet.facts import SheetFacts
from mixer.sizing.report import size

PROFILES = Path("profiles").resolve()
EXAMPLES = [
    (path.stem, loadout)
    for path in sorted(PROFILES.glob("*.toml"))
    for loadout in (None, *load_profile(path).loadouts)
]
"""Every shipped robot in every loadout."""
VOID = {"meta", "col", "path", "rect"}


def example(stem: str, loadout: str | None = None) -> SheetFacts:
    """The facts of a shipped robot; its physics is real, the fail-safe results are stand-ins."""
    return _example(stem, loadout)


@lru_cache(maxsize=32)
def _example(stem: str, loadout: str | None) -> SheetFacts:
    return facts_of(load_profile(PROFILES / f"{stem}.toml"), loadout)


def facts_of(profile: Profile, loadout: str | None = None) -> SheetFacts:
    """Real plan, physics, warnings, faults and rules; rules count as proven, faults as their kind."""
    plan, robot, build = profile.plan(loadout), profile.robot(loadout), build_of(profile, loadout)
    rules = (
        RuleProof(rule.key, rule.words, ProofOutcome.PROVEN, rule.bound_ms(plan) if rule.bound_ms else None)
        for rule in rules_of(plan)
    )
    rolls = (BRAKING, COASTING)[: 2 if build.prepared.unsaid_at_zero else 1]
    faults = (simulated(fault, loss_ms(plan), len(rolls)) for fault in catalogue(plan))
    return SheetFacts(
        file=profile.path.name if profile.path else "robot.toml",
        loadout=loadout,
        robot=robot,
        plan=plan,
        profile_fingerprint=profile.fingerprint(loadout),
        code_fingerprint="0123456789abcdef",
        stop=stop_of(profile, loadout),
        size=size(build),
        proven=ProofResult(plan, tuple(rules), 0, (), 0.0),
        simulated=CampaignResult(1, "numpy", 3.0, tuple(faults), (), rolls=rolls),
        warnings=warnings_of(plan, robot),
        wiring=own_wiring(profile, loadout),
    )


def simulated(fault: Fault, stops_ms: int, ways: int) -> FaultResult:
    """How a fault of that kind ends on a right core."""
    stops = fault.radio_gone and not fault.unseen
    return FaultResult(
        key=fault.key,
        words=fault.words,
        scenarios=200,
        moving=100,
        verdict=FaultVerdict.UNKNOWABLE if fault.unseen else FaultVerdict.STOPS,
        neutral_ms=stops_ms if stops else None,
        neutral_lane=0,
        rolled_m=(0.42, 1.23)[:ways] if stops else (),
        rolled_lanes=(0, 0)[:ways] if stops else (),
        broken=(),
        advice=fault.advice,
    )


def dense_profile(seed: int, outputs: int, sticks: int, actuators: int, longest: int = 12) -> Profile:
    """A robot with so much of everything, and names of up to about that length."""
    dice = random.Random(seed)
    names = iter(f"{dice.choice('abcdef')}{'x' * dice.randrange(1, longest)}_{k}" for k in range(999))
    lines = ['[robot]\nname = "dense robot"', f'about = "{"many words about it " * 12}"']
    stick_names = [next(names) for _ in range(sticks)]
    for number, name in enumerate(stick_names, start=1):
        lines.append(f"[shape.s{number}]\nexpo = {dice.random():.2f}\ndeadband = 0.05")
        lines.append(f'[stick.{name}]\nreceiver = {number}\nshape = "s{number}"\nlost_below_us = 900')
    lines.append(f"[switch.arm]\nreceiver = {sticks + 1}")
    moved = []
    for number in range(outputs):
        name = next(names)
        chosen = [stick_names[number % sticks], stick_names[(number + 3) % sticks]]
        mix = ", ".join(f"{stick} = {dice.choice((-1, 1, 0.75))}" for stick in dict.fromkeys(chosen))
        wire = (
            f'wire = "duty"\ntop = {dice.choice((255, 1000))}' if dice.random() < 0.5 else 'wire = "pulse"'
        )
        lines.append(
            f"[output.{name}]\npin = {number}\nmix = {{ {mix} }}\n{wire}\nreverse = true\nlimit = 0.9"
        )
        moved.append(name)
    for name in moved[:actuators]:
        ends = next(names), next(names)
        lines += [f'[contact.{end}]\npin = "{"AB"[k]}{len(lines)}"' for k, end in enumerate(ends)]
        lines.append(f'[actuator.{name}]\noutput = "{name}"\nout_stop = "{ends[0]}"\nin_stop = "{ends[1]}"')
        lines.append(f"full_travel_ms = {dice.randrange(1000, 9000)}")
    lines.append('[guard]\narm = { switch = "arm", position = "on" }')
    return parse_profile("\n".join(lines), "dense.toml")


@dataclass
class Outline(HTMLParser):
    """What a page holds, in the order of its text. Raises AssertionError where tags do not nest."""

    tags: list[str] = field(default_factory=list)
    attributes: list[tuple[str, str, str]] = field(default_factory=list)
    texts: list[tuple[tuple[str, ...], str]] = field(default_factory=list)
    """Text with the tags around it."""
    _open: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        """The parser has its own state."""
        super().__init__(convert_charrefs=True)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note the tag."""
        self.tags.append(tag)
        self.attributes += [(tag, name, value or "") for name, value in attrs]
        if tag not in VOID:
            self._open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        """Close what was opened last, nothing else."""
        if tag not in VOID:
            assert self._open.pop() == tag

    def handle_data(self, data: str) -> None:
        """Note text."""
        if data.strip():
            self.texts.append((tuple(self._open), data))

    def inside(self, tag: str) -> list[str]:
        """The text inside a tag of that name, piece by piece."""
        return [text for tags, text in self.texts if tag in tags]

    @property
    def words(self) -> str:
        """All text that a reader sees."""
        return " ".join(text for tags, text in self.texts if not {"style", "head"} & set(tags))


def read(html: str) -> Outline:
    """A page's outline; every tag must be closed."""
    outline = Outline()
    outline.feed(html)
    outline.close()
    assert not outline._open
    return outline
