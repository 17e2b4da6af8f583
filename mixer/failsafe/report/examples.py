"""Every broken rule of a report as a log that replay and the bench can run."""

from collections.abc import Iterator
from pathlib import Path

from mixer.errors import OptionError
from mixer.failsafe.campaign.recording import counter_example_of, write_counter_example
from mixer.failsafe.proof.counter_example import CounterExample
from mixer.failsafe.report.account import FailsafeReport, Options, request_of
from mixer.profile import Profile


def write_examples(folder: Path, profile: Profile, report: FailsafeReport, options: Options) -> list[Path]:
    """Write one example of each broken rule; gives the files. Raises OptionError where it cannot."""
    plan = profile.plan(report.loadout)
    written: list[Path] = []
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name, example in _examples(profile, report, options):
            written += write_counter_example(folder / f"{name}.csv", plan, example)
    except OSError as error:
        raise OptionError(
            f"{folder} cannot be written: {error.strerror}", "name a folder you may write to"
        ) from error
    return written


def _examples(
    profile: Profile, report: FailsafeReport, options: Options
) -> Iterator[tuple[str, CounterExample]]:
    prefix = "" if report.loadout is None else f"{report.loadout}."
    if report.proof is not None:
        for item in report.proof.rules:
            if item.counter_example is not None:
                yield f"{prefix}proof.{item.rule}", item.counter_example
    request = request_of(profile, report.loadout, options)
    done: set[str] = set()
    for fault in report.campaign.faults:
        for broken in fault.broken:
            if broken.rule not in done:
                done.add(broken.rule)
                example = counter_example_of(request, fault.key, broken.rule, broken.lane, broken.tick)
                yield f"{prefix}campaign.{broken.rule}", example
