"""What stands on the page, that it is the truth, and that nothing is left out silently."""

import re
from dataclasses import replace
from functools import partial

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from mixer.board.image.bound import WorstCase
from mixer.board.image.processors import ATMEGA328P
from mixer.board.image.rounds import RoundTime
from mixer.board.image.ticktime import TickTime
from mixer.board.wiring.settings import fingerprint_of
from mixer.board.wiring.table import rows_of
from mixer.failsafe.campaign.results import FaultVerdict
from mixer.failsafe.proof.theorems import ProofOutcome, RuleProof
from mixer.failsafe.report.warnings import Warned
from mixer.faults.catalogue import catalogue
from mixer.laws.rules import RANGES, REPEATABLE, RULES
from mixer.link.rehearse.report import Outcome, ReceiverKind, RehearsalResult, StepVerdict
from mixer.markup import element
from mixer.profile.profile import load_profile, parse_profile
from mixer.sheet.cautions import _joined
from mixer.sheet.facts import SheetFacts
from mixer.sheet.faults import KINDS
from mixer.sheet.level import levels
from mixer.sheet.page import _filled, _page, draw_sheet
from mixer.sheet.rules import BRIEF
from mixer.sheet.style import ACCENT, HEIGHT_MM, INK, QUIET
from mixer.sizing.finding import Finding, Verdict
from tests.lengths import cases
from tests.plans import carrier, rig
from tests.profile.random_profiles import as_text, profiles
from tests.sheet.pages import EXAMPLES, PROFILES, dense_profile, example, facts_of, read

BASES = [given for given in EXAMPLES if given[1] is None]
LOADOUTS = [(given,) for given in EXAMPLES if given not in BASES]


@pytest.fixture(scope="module", params=cases(BASES, LOADOUTS), ids=lambda given: f"{given[0]}-{given[1]}")
def shipped(request: pytest.FixtureRequest) -> SheetFacts:
    """Every shipped robot, and with --long in every loadout, one after the other."""
    return example(*request.param)


def test_an_example_robot_fits_uncut(shipped: SheetFacts) -> None:
    """Every shipped robot fits on the page in at least 9 pt without any list cut short."""
    sheet = draw_sheet(shipped)
    assert sheet.cuts == ()
    assert sheet.size_pt >= 9
    assert sheet.height_mm <= HEIGHT_MM


def test_everything_that_is_wired_is_on_the_page(shipped: SheetFacts) -> None:
    """Every channel, output, contact, shape, pin, both fingerprints, promise and worst case are there."""
    facts = shipped
    words = read(draw_sheet(facts).html).words
    plan = facts.plan
    named = (*plan.sticks, *plan.switches, *plan.outputs, *plan.contacts)
    expected = [item.name for item in named] + [str(output.pin) for output in facts.robot.output.values()]
    expected += [facts.profile_fingerprint, facts.code_fingerprint]
    expected += [f"promised {facts.stop.promised_ms:g} ms", f"{facts.stop.worst_ms:g} ms"]
    expected += list(facts.robot.shape)
    for item in expected:
        assert item in words, item


def test_the_page_can_be_read_by_ear(shipped: SheetFacts) -> None:
    """Language, title, one h1, h2 only below it, captions, scopes, title and text for every drawing."""
    page = read(draw_sheet(shipped).html)
    tags = page.tags
    assert ("html", "lang", "en") in page.attributes
    assert any(page.inside("title"))
    assert tags.count("h1") == 1
    assert tags.index("h1") < tags.index("h2")
    assert not {"h3", "h4", "h5", "h6"} & set(tags)
    assert tags.count("table") == tags.count("caption") > 4
    assert tags.count("th") == sum(name == "scope" for _, name, _ in page.attributes)
    assert tags.count("svg") == tags.count("desc") == tags.count("figure") > 0
    ids = [value for _, name, value in page.attributes if name == "id"]
    assert len(ids) == len(set(ids))
    assert {ref for _, n, v in page.attributes if n == "aria-labelledby" for ref in v.split()} == set(ids)


@pytest.mark.parametrize("stem", cases(["tank_pair"], ["sample_carrier"]))
def test_equal_facts_give_equal_bytes(stem: str) -> None:
    """No date, no chance: the same robot gives the same page, also when drawn anew from its file."""
    first = draw_sheet(example(stem)).html
    assert draw_sheet(facts_of(load_profile(PROFILES / f"{stem}.toml"))).html == first
    assert not re.search(r"20[2-9]\d-", first)


def test_the_page_asks_nothing_of_anybody() -> None:
    """No address, script, image or font from elsewhere: the page is the whole page."""
    html = draw_sheet(example("sample_carrier")).html.replace('url("data:font/woff;base64,', "")
    for mark in ("http:", "https:", "src=", "href=", "url(", "@import", "<script", "<link", "<img"):
        assert mark not in html


@pytest.mark.parametrize("colour", [INK, QUIET, ACCENT])
def test_text_has_contrast(colour: str) -> None:
    """Every colour of text stands at least 4.5 to 1 on white (WCAG 2.1, 1.4.3, relative luminance)."""
    channels = [int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    luminance = sum(part * light for part, light in zip((0.2126, 0.7152, 0.0722), linear, strict=True))
    assert 1.05 / (luminance + 0.05) >= 4.5


def with_fault(facts: SheetFacts, key: str, ends: FaultVerdict) -> SheetFacts:
    """The facts with one fault ending otherwise."""
    assert facts.simulated is not None
    faults = [replace(f, verdict=ends) if f.key == key else f for f in facts.simulated.faults]
    assert any(f.key == key for f in faults)
    return replace(facts, simulated=replace(facts.simulated, faults=tuple(faults)))


def test_every_rule_has_short_words_and_no_other() -> None:
    """Close pages say each rule briefly: a new rule needs its words, a gone one leaves none behind."""
    assert set(BRIEF) == {rule.key for rule in RULES} | {REPEATABLE, RANGES}


def test_every_fault_belongs_to_a_kind() -> None:
    """No fault of the catalogue stands on the page under its bare key."""
    known = {family for kind in KINDS for family in kind.families}
    for plan in (rig(), carrier(), example("tank_pair").plan):
        assert {fault.key.partition(".")[0] for fault in catalogue(plan)} <= known


def test_a_broken_rule_is_told_in_words_and_boxed() -> None:
    """What is broken stands in capitals in a box, at the top and in its table, never by colour alone."""
    page = read(draw_sheet(with_fault(example("tank_pair"), "spikes.40", FaultVerdict.BROKEN)).html)
    boxed = page.inside("strong")
    assert "1 BROKEN" in boxed
    assert any(re.fullmatch(r"1 of \d+ BROKEN", words) for words in boxed)
    assert not any(
        "BROKEN" in words for words in read(draw_sheet(example("tank_pair")).html).inside("strong")
    )


def first_line(facts: SheetFacts) -> str:
    """What stands under the name."""
    html = draw_sheet(facts).html
    return read(html.split('class="worst">')[1].split("</p>")[0]).words


def test_the_first_line_is_the_worst_thing_known() -> None:
    """A counter-example before a fault that breaks, that before a limit, that before what is unknown."""
    facts = example("tank_pair")
    assert facts.proven is not None
    assert "nobody has tried what this receiver does" in first_line(facts)
    assert first_line(facts).startswith("Nothing known is broken")
    heavy = Finding("mass", "mass", "mass", 9.0, "kg", 1.5, Verdict.OVER, "too heavy")
    facts = replace(facts, size=replace(facts.size, findings=(heavy, *facts.size.findings)))
    assert first_line(facts) == "DOES NOT HOLD: over its limit: mass."
    facts = with_fault(facts, "spikes.40", FaultVerdict.BROKEN)
    assert first_line(facts).startswith("DOES NOT HOLD: broken under spikes.40")
    assert first_line(facts).endswith("And 1 more below.")
    odd = RuleProof("made-up", "A rule that is made up.", ProofOutcome.COUNTER_EXAMPLE, None)
    facts = replace(facts, proven=replace(facts.proven, rules=(*facts.proven.rules, odd)))
    assert "A rule that is made up" in first_line(facts)


def test_a_promise_that_is_not_kept_is_told() -> None:
    """A worst case beyond the promise reads NOT KEPT."""
    facts = example("tank_pair")
    late = replace(facts, stop=replace(facts.stop, worst_ms=facts.stop.promised_ms + 1))
    assert "NOT KEPT" in read(draw_sheet(late).html).words


def test_a_tick_that_is_too_long_is_told() -> None:
    """A compiled program that cannot keep its tick does not hold."""
    worst = WorstCase("mix_tick", ATMEGA328P, 40_000, 50, ())
    tick = TickTime("x.elf", "ab" * 32, "0123456789ab", worst, (), 16e6, 2)
    facts = replace(example("tank_pair"), tick=tick)
    said = "mix_tick takes at most 40,000 cycles, 2.500 of 2 ms at 16 MHz, TOO LONG, and 50 bytes of stack"
    assert first_line(facts).startswith(f"DOES NOT HOLD: the compiled program's {said}")


def test_a_round_that_is_too_long_is_told() -> None:
    """The mix of a board's firmware ends in time, its whole round does not."""
    mix, idle = (
        WorstCase("mix_tick", ATMEGA328P, 9_000, 50, ()),
        WorstCase("round", ATMEGA328P, 3_000, 50, ()),
    )
    whole = RoundTime(idle, replace(idle, cycles=31_000), 20_000, 90, (), (), 16e6, 2)
    tick = TickTime("x.elf", "ab" * 32, "0123456789ab", mix, (), 16e6, 2, whole)
    said = "outputs are given at most 1.438 ms after a tick is due, and the round is over 2.125 ms after it"
    first = first_line(replace(example("tank_pair"), tick=tick))
    assert first.startswith(f"DOES NOT HOLD: the compiled program's {said}: TOO LONG")
    fine = replace(tick, round=replace(whole, whole=replace(idle, cycles=28_000)))
    assert fine.late == ""
    page = read(draw_sheet(replace(example("tank_pair"), tick=fine)).html).words
    assert "takes at most 28,000 of the tick's 32,000 cycles" in page
    assert "interrupts counted in a round" in page


@pytest.mark.parametrize("outcome", [ProofOutcome.COUNTER_EXAMPLE, ProofOutcome.NOT_SETTLED])
def test_an_unproven_rule_comes_first(outcome: ProofOutcome) -> None:
    """A rule that is not proven stands in a box before all that are, and the top counts it out."""
    facts = example("sample_carrier")
    assert facts.proven is not None
    odd = RuleProof("made-up", "A rule that is made up.", outcome, None, "no time left")
    page = read(
        draw_sheet(replace(facts, proven=replace(facts.proven, rules=(*facts.proven.rules, odd)))).html
    )
    words = page.words
    assert words.index("A rule that is made up.") < words.index("Radio gone: all outputs at zero")
    assert f"{len(facts.proven.rules)} of {len(facts.proven.rules) + 1} proven" in words
    assert outcome.value.upper().replace("-", " ") in page.inside("strong")
    assert "no time left" in words


def test_what_was_not_done_is_told() -> None:
    """Without campaign, proof and rehearsal the page says so instead of looking complete."""
    words = read(draw_sheet(replace(example("tank_pair"), proven=None, simulated=None)).html).words
    for said in (
        "not proven",
        "not simulated",
        "not rehearsed",
        "proof of the rules, see",
        "simulated faults, see",
    ):
        assert said in words


def test_a_limit_that_is_exceeded_is_boxed() -> None:
    """A mass over its class limit reads OVER in a box."""
    facts = example("tank_pair")
    heavy = Finding("mass", "mass", "mass", 9.0, "kg", 1.5, Verdict.OVER, "too heavy")
    rest = tuple(finding for finding in facts.size.findings if finding.key != "mass")
    page = read(draw_sheet(replace(facts, size=replace(facts.size, findings=(heavy, *rest)))).html)
    assert "OVER" in page.inside("strong")


@pytest.mark.parametrize("passed", [True, False])
def test_the_receiver_is_told(passed: bool) -> None:
    """What the rehearsal found stands at the top, and a step that did not pass is named."""
    step = StepVerdict("off while driving", Outcome.PASSED if passed else Outcome.FAILED, "said")
    found = RehearsalResult("tank pair", (step,), ReceiverKind.STOPS, complete=True)
    words = read(draw_sheet(replace(example("tank_pair"), rehearsed=found)).html).words
    assert "pulses stop" in words
    assert ("rehearsal passed" in words) is passed
    assert ("NOT PASSED" in words) is not passed
    assert ("off while driving: failed" in words) is not passed


def test_what_firmware_cannot_see_names_the_check_that_finds_it() -> None:
    """The number beside an unseen fault is that of the check in the box."""
    words = read(draw_sheet(example("tank_pair")).html).words
    number = re.search(r"Last frame repeated\s+cannot know: check (\d+)", words)
    assert number
    listed = re.findall(r"<li><bdi>(.*?)</bdi>", draw_sheet(example("tank_pair")).html.split("<ol>")[1])
    assert listed[int(number[1]) - 1].startswith("Transmitter off")


def test_words_of_the_standards_keep_their_meaning() -> None:
    """Stop category 0 takes the power at once, 1 stops under control first (IEC 60204-1, 9.2.2).

    The page claims likeness only: no performance level (ISO 13849-1), no SIL (IEC 61508), no conformity.
    """
    cut = read(draw_sheet(example("sample_carrier")).html).words
    ramp = read(draw_sheet(example("long_crawler")).html).words
    assert "like stop category 0" in cut
    assert "like stop category 1" in ramp
    for words in (cut, ramp):
        assert "0 takes the power from the actuators at once, 1 stops under control, then takes it" in words
        assert "A likeness only" in words
        assert "No PL, SIL or conformity is claimed" in words
        assert "a simulation is no certificate" in words
        assert "The event's rules and local codes decide" in words
        assert "category 2" not in words


DENSE = [
    (*much, seed, longest)
    for much in ((12, 6, 2), (24, 15, 8), (12, 6, 0), (24, 15, 0))
    for seed, longest in enumerate((4, 12, 30))
]
"""Outputs, sticks, actuators, a seed and the length of names."""


@pytest.mark.parametrize(
    ("outputs", "sticks", "actuators", "seed", "longest"), cases(DENSE[1:6:2], DENSE[:5:2] + DENSE[6:])
)
def test_a_dense_robot_fits_and_says_what_was_cut(
    outputs: int, sticks: int, actuators: int, seed: int, longest: int
) -> None:
    """However much there is, the page fits; each list cut short says by how much and where it is whole."""
    facts = facts_of(dense_profile(seed, outputs, sticks, actuators, longest))
    sheet = draw_sheet(facts)
    assert sheet.height_mm <= HEIGHT_MM
    words = read(sheet.html).words
    for cut in sheet.cuts:
        assert f"{cut.what} {cut.shown} of {cut.whole}" in words
        assert cut.where in words
    missing = [output.name for output in facts.plan.outputs if output.name not in words]
    told = [str(cut) for cut in sheet.cuts if cut.what == "outputs"]
    shown = len(facts.plan.outputs) - len(missing)
    if missing:
        assert told == [f"outputs: {shown} of {outputs} shown, all in the profile robot.toml"]
    else:
        assert told == []


def test_a_list_is_cut_only_where_no_more_of_it_fits() -> None:
    """No list that was cut could be a line longer: columns are filled before anything is left out."""
    cut = 0
    for stem, loadout in [("sample_carrier", None), *((str(size), None) for size in (16, 24))]:
        facts = facts_of(dense_profile(2, int(stem), 8, 2)) if stem.isdigit() else example(stem, loadout)
        page = next(page for page in map(partial(_page, facts), levels()) if page.height_mm() <= HEIGHT_MM)
        level = _filled(facts, page).level
        for left_out in level.cuts:
            longer = _page(facts, level.with_room(left_out.what, left_out.shown + 1))
            assert longer.height_mm() > HEIGHT_MM, str(left_out)
            cut += 1
    assert cut > 2


def test_warnings_that_differ_in_names_only_share_a_sentence() -> None:
    """Each name that a warning is about is on the page, its sentence once; others keep their own."""
    names = ("left_end", "tray.2", "right_end")
    said = [f"With its cable off, {name} reads open for ever: unnoticed." for name in names]
    assert _joined([*said, "Nothing ends its way."], names) == [
        f"{said[0]} Likewise tray.2, right_end.", "Nothing ends its way.",
    ]  # fmt: skip
    two = [f"With {stick} still, {output} creeps at {share}%." for stick, output, share in
           (("turn", "left", 0.8), ("pace", "right", 0.9))]  # fmt: skip
    assert _joined(two, ("turn", "pace", "left", "right")) == [f"{two[0]} Likewise pace / right / 0.9%."]


def test_what_an_output_drives_is_told_by_its_kind_on_a_close_page() -> None:
    """The number beside an output is that of the note which tells its wire and what it drives.

    So a dozen outputs on six sticks, with sixteen warnings, lose nothing but whitespace and drawings.
    """
    facts = facts_of(dense_profile(5, 12, 6, 2))
    sheet = draw_sheet(facts)
    assert sheet.cuts == ()
    words = read(sheet.html).words
    told = dict(re.findall(r"(\d): (1 × motor, reversed, ≤ 90 %, [^;.]+)", words))
    assert len(told) == 3
    for name, output in facts.robot.output.items():
        number = re.search(rf"<bdi>{name}</bdi></td><td><bdi>(\d)</bdi>", sheet.html)
        assert number
        wire = "pulse 1000/1500/2000 µs" if output.wire == "pulse" else f"duty ±{output.top}, coast"
        assert told[number[1]].endswith(wire)
    shapes = [f"{name}: band 5%, expo {shape.expo:.2g}" for name, shape in facts.robot.shape.items()]
    assert all(shape in words for shape in shapes)


def test_push_run_time_lift_and_the_worst_are_on_every_page() -> None:
    """However dense a robot is, what its push, battery and lift are good for is not cut, nor the worst."""
    sized = example("sample_carrier").size
    for outputs, sticks, actuators in ((12, 6, 2), (24, 15, 8)):
        facts = replace(facts_of(dense_profile(1, outputs, sticks, actuators)), size=sized)
        sheet = draw_sheet(facts)
        words = read(sheet.html).words
        assert sheet.cuts
        for said in ("standing push", "tray lifts at most", "charge used", sized.find("charge").words):
            assert said in words
        assert "nobody has tried what this receiver does" in first_line(facts)


def test_a_dozen_outputs_on_six_sticks_are_all_shown() -> None:
    """A dense robot keeps its whole wiring; only what stands beside it is cut, and told."""
    for seed in range(4):
        facts = facts_of(dense_profile(seed, 12, 6, 2))
        sheet = draw_sheet(facts)
        words = read(sheet.html).words
        for item in (*facts.plan.channels, *facts.plan.outputs, *facts.plan.contacts):
            assert item.name in words
        assert not {"channels", "outputs", "contacts", "shapes"} & {cut.what for cut in sheet.cuts}


@given(profiles())
@settings(max_examples=25)
def test_any_robot_has_a_page(tables: dict[str, object]) -> None:
    """Every valid profile gets a page that nests and fits."""
    sheet = draw_sheet(facts_of(parse_profile(as_text(tables), "random.toml")))
    read(sheet.html)
    assert sheet.height_mm <= HEIGHT_MM
    assert sheet.size_pt >= 9


MARKUP = (
    "<b>",
    "</bdi>",
    "</li></ul>",
    "<script>x()</script>",
    '"><i class="',
    "&lt;",
    "<!--",
    "-->",
    "</style>",
)
LETTERS = st.one_of(st.sampled_from("<>&\"'`=;\0\x1b\u202e\u2066א🤖\ud800 "), st.characters())
NASTY = st.lists(st.one_of(st.sampled_from(MARKUP), LETTERS), max_size=30).map("".join)


def test_markup_in_a_text_is_read_back_as_text() -> None:
    """What was written in the profile is what a reader sees, letter by letter."""
    for said in (*MARKUP, "a < b & c > d, \"e\", 'f'", "&amp;amp;", "שלום 🤖"):
        page = read(
            draw_sheet(replace(example("tank_pair"), warnings=(Warned("key", said, "remedy"),))).html
        )
        assert said in page.inside("li")
        assert read(element("p", title=said).text).attributes == [("p", "title", said)]


@given(NASTY, NASTY)
@settings(max_examples=40)
def test_no_text_can_leave_its_place(about: str, step: str) -> None:
    """Markup, quotes, controls, half characters and direction marks from outside stay text, in bdi."""
    facts = example("tank_pair")
    robot = facts.robot.model_copy(update={"robot": facts.robot.robot.model_copy(update={"about": about})})
    failed = StepVerdict(step, Outcome.FAILED, "said")
    found = RehearsalResult("tank pair", (failed,), ReceiverKind.HOLDS, complete=True)
    plain = read(
        draw_sheet(replace(facts, rehearsed=replace(found, verdicts=(replace(failed, step="x"),)))).html
    )
    html = draw_sheet(
        replace(facts, robot=robot, rehearsed=found, warnings=(Warned("key", step, "remedy"),))
    ).html
    html.encode("utf-8")
    page = read(html)
    assert set(page.tags) == set(plain.tags)
    assert set(page.attributes) <= set(plain.attributes) | {a for a in page.attributes if a[0] == "col"} | {
        a for a in page.attributes if a[1] == "d"
    }
    assert not re.search(r"[\x00-\x08\x0e-\x1f\x7f-\x9f\ud800-\udfff]", html)
    marks = re.compile("[\u202a-\u202e\u2066-\u2069]")
    assert all("bdi" in tags for tags, text in page.texts if marks.search(text))


def test_pins_stand_on_the_page_as_the_board_prints_them() -> None:
    """Page and project are of one wiring: same fingerprint, channels, directions and all."""
    facts = example("sample_carrier")
    assert facts.wiring is not None
    words = read(draw_sheet(facts).html).words
    assert f"RP2040, wiring {fingerprint_of(facts.wiring)}" in words
    assert "GP0/1" in words
    for row in rows_of(facts.wiring):
        if row.wire.startswith(("channel", "contact", "duty")):
            assert row.pin in words, row
