"""Each broken rule of a report, and a witness of each other, as logs that replay and the bench can run."""

from collections.abc import Iterator

from mixer.failsafe.campaign.recording import Run, counter_examples, files_of, witnesses
from mixer.failsafe.campaign.run import setting_of
from mixer.failsafe.proof.counter_example import CounterExample
from mixer.failsafe.report.account import FailsafeReport, Options, request_of
from mixer.live.robot.robot import build_of
from mixer.profile.profile import Profile
from mixer.profile.read.fitting import fitting_of


def examples_of(profile: Profile, report: FailsafeReport, options: Options) -> dict[str, str]:
    """One run of each rule, broken or not, its log and where needed its start state: texts by file name."""
    files: dict[str, str] = {}
    for name, example in _examples(profile, report, options):
        files |= files_of(f"{name}.csv", example)
    return files


def _examples(
    profile: Profile, report: FailsafeReport, options: Options
) -> Iterator[tuple[str, CounterExample]]:
    words = fitting_of(report.loadout).words
    prefix = f"{words.replace(', ', '+').replace(' ', '_')}." if words else ""
    if report.proof is not None:
        for item in report.proof.rules:
            if item.counter_example is not None:
                yield f"{prefix}proof.{item.rule}", item.counter_example
    setting = setting_of(request_of(build_of(profile, report.loadout), options))
    broken: dict[str, Run] = {}
    for fault in report.campaign.faults:
        for it in fault.broken:
            broken.setdefault(it.rule, Run(it.rule, fault.key, it.lane, it.tick))
    reached = [
        Run(witness.rule, witness.fault, witness.lane, witness.tick)
        for witness in report.campaign.witnesses
        if witness.scenarios and witness.rule not in broken
    ]
    for example in counter_examples(setting, list(broken.values())):
        yield f"{prefix}campaign.{example.rule}", example
    for example in witnesses(setting, reached):
        yield f"{prefix}witness.{example.rule}", example
