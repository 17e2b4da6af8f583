"""`stickwright tick`."""

from pathlib import Path

import pytest

from mixer.board.engine.flashed import wiring_for
from mixer.board.project.build import image_of_project
from mixer.board.project.source import sources_of
from mixer.profile.profile import load_profile
from tests.cli.conftest import CARRIER, TANK, Run
from tests.cli.programs import tank_program

needs = pytest.mark.needs_tool("avr-gcc")


@pytest.fixture
def elf(tmp_path: Path) -> Path:
    """A program of the tank pair."""
    return tank_program(tmp_path)


@needs
def test_the_bound_is_told_with_what_it_rests_on(run: Run, elf: Path) -> None:
    """One sentence with cycles, milliseconds and stack; below it the file, the loops, interrupts."""
    ran = run("tick", TANK, elf)
    assert ran.code == 0, ran.err
    first, second, *rest = ran.out.splitlines()
    assert "(ATmega328P): mix_tick takes at most 4" in first
    assert " of 2 ms at 16 MHz, and " in first
    assert second == "It rests on:"
    assert any("no interrupt in between" in line for line in rest)
    assert any("never measured on a chip" in line for line in rest)
    data = run("tick", TANK, elf, "--json").data
    assert data["fits"] is True
    assert data["cycles"] == data["cycles_with_interrupts"] == round(data["ms"] * 16_000)
    assert data["fingerprint"] in "".join(rest)


@needs
def test_of_a_whole_firmware_its_rounds_are_told(run: Run) -> None:
    """Beside the mix: a round with its interrupts, when outputs are given, the stack, what is assumed."""
    profile = load_profile(TANK)
    wiring = wiring_for(profile, None, "atmega328p")
    elf = image_of_project(sources_of(profile, None, wiring), wiring.board).where
    ran = run("tick", TANK, elf, "--json")
    assert ran.code == 0, ran.err
    whole = ran.data["round"]
    assert ran.data["cycles"] < whole["cycles"] < whole["cycles_with_interrupts"]
    assert whole["cycles_with_interrupts"] < whole["over_after_cycles"] < whole["tick_cycles"]
    assert whole["stack_bytes"] > ran.data["stack_bytes"]
    assert any("10 edges in the receiver's 20 ms" in line for line in ran.data["rests_on"])
    told = run("tick", TANK, elf).out
    assert f"takes at most {whole['cycles_with_interrupts']:,} of the tick's 32,000 cycles" in told
    assert "Outputs are given at most " in told


@needs
def test_a_linker_that_drops_it_keeps_the_mark_where_it_is_told(run: Run, tmp_path: Path) -> None:
    """Without its constant a program does not say whose mix it carries; the remedy brings it back."""
    drops = ("-fdata-sections", "-Wl,--gc-sections")
    refused = run("tick", TANK, tank_program(tmp_path, *drops))
    assert refused.code == 2
    assert "does not say that it carries the mix" in refused.err
    remedy = "-Wl,-u,mix_fingerprint"
    assert remedy in refused.err
    ran = run("tick", TANK, tank_program(tmp_path, *drops, remedy))
    assert ran.code == 0, ran.err


@needs
def test_interrupts_make_it_longer_and_may_take_all_the_time(run: Run, elf: Path) -> None:
    """By rate and length: a few are added, too many leave no bound, and that is exit 1."""
    plain = run("tick", TANK, elf, "--json").data
    some = run("tick", TANK, elf, "--json", "--interrupt", "100@8000").data
    assert some["cycles_with_interrupts"] == plain["cycles"] + 100
    ran = run("tick", TANK, elf, "--interrupt", "1000@16000")
    assert ran.code == 1
    assert "interrupts alone take all its time" in ran.out


@needs
def test_a_clock_too_slow_is_exit_1(run: Run, elf: Path) -> None:
    """At 16 kHz the tick does not fit into its 2 ms."""
    ran = run("tick", TANK, elf, "--mhz", "0.016")
    assert ran.code == 1
    assert "TOO LONG" in ran.out


@needs
def test_bad_input_is_exit_2_with_its_reason(run: Run, elf: Path, tmp_path: Path) -> None:
    """Another robot, no such file, no ELF, nonsense for an option, a routine without a bound."""
    for words, said in (
        (("tick", CARRIER, elf), f"carries the mix {load_profile(TANK).fingerprint()}, the profile's is "),
        (("tick", TANK, tmp_path / "none.elf"), "cannot be read"),
        (("tick", TANK, tmp_path / "mix.c"), "is no 32-bit little-endian ELF file"),
        (("tick", TANK, elf, "--mhz", "0"), "is no clock of a board"),
        (("tick", TANK, elf, "--interrupt", "often"), "is not WHAT@PER_SECOND"),
        (("tick", TANK, elf, "--routine", "main"), "no bound for main"),
    ):
        ran = run(*words)
        assert ran.code == 2, words
        assert said in ran.err
        assert ran.out == ""
