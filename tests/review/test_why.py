"""Which key makes which difference: robots between two, and the whole told by `compare`."""

import json
from copy import deepcopy
from pathlib import Path

import numpy as np
import pytest

from mixer.cli.main import main
from mixer.core.ops import ONE
from mixer.profile.edit.differences import choices, with_changes
from mixer.profile.profile import load_profile
from mixer.profile.read.overlay import Table
from mixer.review.why.between import MOST_APART, Between
from mixer.review.why.effects import half_stick
from mixer.review.why.explained import mostly

TANK = Path("profiles/tank_pair.toml").resolve()
CARRIER = Path("profiles/sample_carrier.toml").resolve()


def tables(path: Path = CARRIER, **values: object) -> Table:
    """A shipped robot's tables with some values changed, keys dotted with ``__``."""
    base = deepcopy(load_profile(path).tables())
    for key, value in values.items():
        *way, last = key.split("__")
        inner = base
        for part in way:
            inner = inner.setdefault(part, {})
        inner[last] = value
    return base


def test_all_changes_together_make_the_other() -> None:
    """A with everything of B is B, for every shipped loadout; A stays as it was."""
    profile = load_profile(CARRIER)
    a, kept = profile.tables(), deepcopy(profile.tables())
    for loadout in profile.loadouts:
        b = profile.tables(loadout)
        assert with_changes(a, choices(a, b)) == b
    assert a == kept


def test_what_cannot_be_made_apart_goes_together() -> None:
    """A stick on a shape that only B has goes with that shape; what stands alone stays alone."""
    b = tables(shape__sharp={"expo": 0.9}, stick__tip__shape="sharp", output__left_front__gain=0.8)
    between = Between(tables(), b, "between")
    idle = between.settle()
    keys = [sorted(between.changes[n].key for n in player) for player in between.players]
    assert sorted(keys) == [["output.left_front.gain"], ["shape.sharp", "stick.tip.shape"]]
    assert idle == ()


def test_words_and_pins_have_no_part_in_it() -> None:
    """A pin changes neither firmware nor physics; names are not even asked."""
    b = tables(robot__about="another", output__left_front__pin=12, shape__dash__expo=0.5)
    between = Between(tables(), b, "between")
    idle = between.settle()
    assert [between.changes[n].key for player in idle for n in player] == ["output.left_front.pin"]
    assert [between.changes[n].key for player in between.players for n in player] == ["shape.dash.expo"]


def test_very_many_keys_go_by_section() -> None:
    """Beyond what can be told apart, the keys of one section count as one."""
    outputs = ("left_front", "left_rear", "right_front", "right_rear", "tray_left", "tray_right")
    keys = {f"output__{name}__{key}": value for name in outputs for key, value in
            (("gain", 0.7), ("limit", 0.6), ("slew_up_ms", 111), ("slew_down_ms", 99))}  # fmt: skip
    between = Between(tables(), tables(**keys), "between")
    assert len(between.players) > MOST_APART
    between.settle()
    assert len(between.players) == len(outputs)


def test_half_stick_tells_the_expo() -> None:
    """At half stick the response is (1 - k)/2 + k/8 of what deadband leaves, with k = expo (cubic expo)."""
    softer = Between(tables(TANK), tables(TANK), "x").profile(frozenset()).plan()
    text = TANK.read_text(encoding="utf-8")
    assert "expo" in text
    shape = next(iter(tables(TANK)["shape"]))
    b = Between(tables(TANK, **{f"shape__{shape}__expo": 0.8}), tables(TANK), "x").profile(frozenset())
    found = half_stick(softer, b.plan())
    assert found is not None
    stick = next(s for s in b.plan().sticks if s.name == found.stick)
    was, now = softer.sticks[b.plan().sticks.index(stick)].shapes[0], stick.shapes[0]
    banded = (0.5 - now.band / ONE) * now.gain / ONE

    def curved(k: float) -> float:
        return (1 - k) * banded + k * banded**3

    expected = curved(now.expo / ONE) / curved(was.expo / ONE)
    assert found.after / found.before == pytest.approx(expected, rel=0.02)


def test_the_shortest_time_with_most_of_it() -> None:
    """Of a burst in a long quiet the burst, to a tenth of a second; of nothing nothing."""
    apart = np.zeros(10_000)
    apart[3000:3500] = 1.0
    found = mostly(apart, 0.002)
    assert found is not None
    assert 6.0 <= found[0] <= found[1] <= 7.0
    assert found[1] - found[0] == pytest.approx(0.8)
    assert mostly(np.zeros(100), 0.002) is None


@pytest.fixture
def drive(tmp_path: Path) -> Path:
    """Ten seconds of the rough drive, driving from the fourth on."""
    rough = (CARRIER.parent / "logs" / "carrier_rough_ground.csv").read_text(encoding="utf-8")
    log = tmp_path / "drive.csv"
    log.write_text("".join(rough.splitlines(keepends=True)[:500]), encoding="utf-8")
    return log


@pytest.mark.long
def test_compare_shares_the_difference_out(
    drive: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Shares add up to 1 and effects to b less a; a key that no stick used has no share."""
    b = tmp_path / "b.toml"
    text = CARRIER.read_text(encoding="utf-8")
    changes: list[tuple[str, str]] = [
        ("gain = 0.98                      #", "gain = 0.8  #"),
        ("deadband = 0.04\nexpo = 0.3", "deadband = 0.04\nexpo = 0.5"),
        ("deadband = 0.05\nexpo = 0.2\nrate = 0.35", "deadband = 0.05\nexpo = 0.2\nrate = 0.30"),
    ]
    for was, now in changes:
        assert was in text
        text = text.replace(was, now)
    b.write_text(text, encoding="utf-8")
    assert main(["compare", str(CARRIER), str(b), str(drive), "--json"]) == 1
    found = json.loads(capsys.readouterr().out)
    why = found["why"]
    shares = {part["changes"][0].partition(":")[0]: part["share"] for part in why["parts"]}
    assert sum(shares.values()) == pytest.approx(1)
    assert shares["shape.crawl.rate"] == 0
    assert shares["output.right_front.gain"] > 0.2
    mean = sum(output["command"]["mean"] for output in found["outputs"]) / len(found["outputs"])
    assert why["whole"] == pytest.approx(mean)
    for name, before in why["a"].items():
        added = sum(part["effects"][name] for part in why["parts"])
        assert before + added == pytest.approx(why["b"][name], abs=1e-9)
    assert main(["compare", str(CARRIER), str(b), str(drive)]) == 1
    told = capsys.readouterr().out
    assert "output.right_front.gain: 0.98 -> 0.8, mostly" in told
    assert "half throttle with pace at dash" in told
    assert main(["compare", str(CARRIER), str(b), str(drive), "--no-why"]) == 1
    assert "why" not in capsys.readouterr().out


def test_loadouts_of_one_robot_are_shared_out_too(drive: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Parts taken out that cannot be told apart count together, and it all still adds up."""
    words = ["compare", str(CARRIER), str(CARRIER), str(drive), "--loadout-b", "long_tray", "--json"]
    main(words)
    why = json.loads(capsys.readouterr().out)["why"]
    assert why is None or sum(part["share"] for part in why["parts"]) == pytest.approx(1)
