"""One account of the board at the other end: what it says it runs, what is compared, what is told once."""

from dataclasses import replace

import pytest

from mixer.board.frames import FLOODED, LATE, BeganAnew, Event, Frame, Identity, Lost, Restarted
from mixer.link.watch import KEPT, BoardWatch, waits_for
from mixer.profile.aboard import Tunings
from mixer.profile.profile import Profile, parse_profile
from tests.cli.boards import CART
from tests.link.identities import identity_of
from tests.link.test_parity import as_on_board

CART_PROFILE = parse_profile(CART, "cart.toml")
TURNED = parse_profile(
    CART.replace("throttle = 1.0, steer = 1.0", "throttle = 0.9, steer = 1.0"), "cart.toml"
)
DISARMED = "the arm switch has been off for a moment"


def on_board(profile: Profile, number: int) -> list[Event]:
    """A board with this profile's mix: who it is, then its frames from the start."""
    return [identity_of(profile), *as_on_board(profile.plan(), number)]


def wrong(event: Event) -> Event:
    """The frame with one wire off by one."""
    assert isinstance(event, Frame)
    assert event.mix is not None
    return replace(event, mix=replace(event.mix, wires=(event.mix.wires[0] + 1, *event.mix.wires[1:])))


def test_all_is_well_and_said_once() -> None:
    """Which board, which tuning, from where on it is compared; an identity that comes again is no news."""
    watch = BoardWatch(Tunings(CART_PROFILE))
    events = on_board(CART_PROFILE, 80)
    assert isinstance(events[0], Identity)
    watch.take([*events[:40], events[0], *events[40:]])
    told = [(news.level, news.words) for news in watch.news()]
    runs = f"it runs {CART_PROFILE.fingerprint()}, the tuning in use here; "
    runs += f"it is built for wiring {events[0].wiring}, the one in use here"
    assert told == [
        (
            "note",
            f"the board is ATmega328P: {runs}; it started because power came",
        ),
        ("note", "from here on every tick of the board is compared with the core's"),
    ]
    assert watch.news() == []
    view = watch.view()
    assert (view.agreeing, view.waits, view.remedy) == ("100.00 % of 80 ticks", "", "")


def test_a_difference_is_told_once_and_the_first_are_kept() -> None:
    """When, which number, both values; a share is never rounded up to all."""
    watch = BoardWatch(Tunings(CART_PROFILE))
    events = on_board(CART_PROFILE, 300)
    watch.take([*events[:200], *map(wrong, events[200:220]), *events[220:]])
    bad = [news.words for news in watch.news() if news.level == "bad"]
    assert len(bad) == 1
    assert bad[0].startswith(
        "the board DIFFERS from the tuning in use: 4.000 s, frame 199: output.left.wire is"
    )
    assert len(watch.first) == KEPT
    assert watch.view().agreeing == "93.33 % of 300 ticks"


def test_a_board_is_held_against_the_tuning_it_says_it_runs() -> None:
    """An edit here makes it another one and no wrong one; taken back, it is this one again."""
    watch = BoardWatch(Tunings(CART_PROFILE))
    events = on_board(CART_PROFILE, 200)
    watch.take(events[:100])
    watch.news()
    watch.follow(Tunings(TURNED))
    watch.study()
    watch.take(events[100:])
    view = watch.view()
    assert (view.runs, view.compared, view.differing) == ("other", 200, 0)
    assert view.told.endswith("since then: output.left.mix.throttle: 1 -> 0.9")
    assert [(news.level, "since then" in news.words) for news in watch.news()] == [("warn", True)]
    watch.follow(Tunings(CART_PROFILE))
    watch.study()
    assert watch.view().runs == "this"
    assert [news.level for news in watch.news()] == ["note"]


SWAPPED = CART.replace("pin = 10", "pin = 11").replace("pin = 9", "pin = 10").replace("pin = 11", "pin = 9")
REPINNED = parse_profile(SWAPPED, "cart.toml")


def test_other_wires_are_told_and_the_mix_is_compared_all_the_same() -> None:
    """A pin moved here and not on the board: told once with both pins; moved back, all is well again."""
    watch = BoardWatch(Tunings(REPINNED, None, (("the file", CART_PROFILE),)))
    watch.take(on_board(CART_PROFILE, 50))
    told = [news for news in watch.news() if "wires" in news.words]
    assert [news.level for news in told] == ["warn"]
    assert "its wires are those of another export, wiring " in told[0].words
    assert "since then: pin of left: D9 -> D10; pin of right: D10 -> D9" in told[0].words
    assert told[0].words.endswith("Export this tuning and flash it")
    view = watch.view()
    assert (view.runs, view.wires, view.compared, view.differing) == ("this", "other", 50, 0)
    watch.follow(Tunings(CART_PROFILE))
    watch.study()
    assert (watch.view().wires, watch.remedy) == ("this", "")
    assert [news.level for news in watch.news()] == ["note"]


def test_older_firmware_is_told_as_that() -> None:
    """It runs this mix and does not say for which wires: a warning with its remedy, and not right."""
    watch = BoardWatch(Tunings(CART_PROFILE))
    watch.take([replace(identity_of(CART_PROFILE), wiring=None)])
    (news,) = watch.news()
    assert news.level == "warn"
    assert "its firmware is older and does not say for which wires it is built" in news.words
    assert (watch.view().wires, watch.is_wired_otherwise) == ("untold", False)
    assert watch.view().remedy == "export this tuning and flash it"


def test_another_mix_flashed_meanwhile_begins_anew() -> None:
    """The board comes back with the edited tuning: counts begin anew, against that one."""
    watch = BoardWatch(Tunings(TURNED, None, (("the file", CART_PROFILE),)))
    watch.take(on_board(CART_PROFILE, 50))
    assert (watch.view().runs, watch.view().compared) == ("other", 50)
    watch.take([Restarted(), *on_board(TURNED, 30)])
    assert (watch.view().runs, watch.view().compared, watch.view().differing) == ("this", 30, 0)


def test_what_nobody_knows_is_compared_with_nothing() -> None:
    """A fingerprint of which no values are at hand: no agreement and no difference is claimed."""
    watch = BoardWatch(Tunings(CART_PROFILE))
    watch.take([Identity("ATmega328P", "0123456789ab", 1), *as_on_board(CART_PROFILE.plan(), 20)])
    view = watch.view()
    assert (view.runs, view.compared, view.differing) == ("unknown", 0, 0)
    assert view.waits == "not compared: the values of the tuning it runs are not known here"
    assert watch.runs_another


def test_a_board_that_is_flashed_without_a_mix_has_nothing_to_compare() -> None:
    """A bare pulse reader after a mix: it is told as that, and no frame of it counts."""
    watch = BoardWatch(Tunings(TURNED, None, (("the file", CART_PROFILE),)))
    watch.take(on_board(CART_PROFILE, 20))
    watch.news()
    bare = [
        replace(event, mix=None)
        for event in as_on_board(CART_PROFILE.plan(), 9)
        if isinstance(event, Frame)
    ]
    watch.take([Identity("ATmega328P", "", 1), Restarted(), *bare])
    assert watch.news()[0].words == "the board is ATmega328P: it runs no mix; it started because power came"
    assert (watch.view().runs, watch.refused) == ("", None)


def test_a_flood_of_edges_is_told_once() -> None:
    """The board says from then on that it has dropped pulses; comparing goes on."""
    watch = BoardWatch(Tunings(CART_PROFILE))
    flooded = identity_of(CART_PROFILE, started=1 | FLOODED)
    watch.take([identity_of(CART_PROFILE, started=1), *on_board(CART_PROFILE, 70)])
    watch.news()
    watch.take([flooded, flooded])
    (news,) = watch.news()
    assert news.level == "bad"
    assert "noise on a channel's wire made more edges than the board has room for" in news.words
    view = watch.view()
    assert view.started == "it started because power came, noise has made it drop pulses since"
    assert view.differing == 0


def test_a_late_tick_is_told_and_comparing_goes_on_from_there() -> None:
    """The mix begins anew at both ends; the board says from then on that a tick came late."""
    watch = BoardWatch(Tunings(CART_PROFILE))
    late = identity_of(CART_PROFILE, started=1 | LATE)
    again = as_on_board(CART_PROFILE.plan(), 30)
    watch.take([*on_board(CART_PROFILE, 70), late, BeganAnew(), *again])
    assert [news.words for news in watch.news() if news.level == "bad"] == [
        "a tick came late on the board: outputs went to rest and its mix began anew, a hand has to arm"
    ]
    view = watch.view()
    assert (view.compared, view.differing, view.passed_over) == (100, 0, 0)
    assert view.started == "it started because power came, a tick has come late since"


def test_a_start_is_told_with_its_reason() -> None:
    """A watchdog that bit is news, whatever the frames say."""
    watch = BoardWatch(Tunings(CART_PROFILE))
    watch.take(on_board(CART_PROFILE, 20))
    watch.news()
    watch.take([identity_of(CART_PROFILE, started=8), Restarted()])
    words = [news.words for news in watch.news()]
    assert words[0].endswith("it started because its watchdog had waited in vain")
    assert words[1].startswith("the board has started anew: it started because its watchdog")


@pytest.mark.parametrize(
    ("unsettled", "words"),
    [
        (("guard.seen_off",), f"at its next start, or once {DISARMED}"),
        (("actuator.lift.driven",), "at its next start, or once lift has been driven to an end stop"),
        (
            ("guard.off_for", "actuator.lift.driven"),
            f"at its next start, or once {DISARMED} and lift has been driven to an end stop",
        ),
        (("flip.flipped", "guard.seen_off"), "at its next start"),
    ],
)
def test_what_would_settle_it_is_said(unsettled: tuple[str, ...], words: str) -> None:
    """What a person can do, where anything helps."""
    assert waits_for(unsettled) == words


def test_after_a_lost_frame_it_says_what_it_waits_for() -> None:
    """Nothing is compared then, and the panel does not pretend."""
    watch = BoardWatch(Tunings(CART_PROFILE))
    events = on_board(CART_PROFILE, 200)
    watch.take([*events[:150], Lost(1), *events[151:]])
    assert watch.view().waits.startswith("comparing begins at its next start, or once the arm switch")
    assert watch.view().compared == 149
