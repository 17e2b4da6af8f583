"""The project that `export --board` writes: it builds, and says first what is dangerous."""

import hashlib
import re
import shlex
import shutil
import subprocess
from pathlib import Path

import pytest

from mixer.board.kinds.kind import NO_PIN
from mixer.board.kinds.known import BOARDS
from mixer.board.project.build import image_of_project
from mixer.board.project.project import project_of
from mixer.board.project.source import sources_of
from mixer.board.wiring.fit import Wiring, fit
from mixer.board.wiring.settings import fingerprint_of
from mixer.board.wiring.table import rows_of
from mixer.profile.profile import Profile, load_profile, parse_profile

PROFILES = Path(__file__).parents[2] / "profiles"
TANK = PROFILES / "tank_pair.toml"
BRIDGED = """
[output.arm]
pin = 5
wire = "duty"
bridge = "two-inputs"
at_zero = "brake"
mix = { throttle = 0.5 }
[contact.belly]
pin = 2
[flip]
contact = "belly"
reverses = ["throttle"]
"""


def wired(profile: Profile, board: str) -> Wiring:
    """Its wiring on a board that it fits."""
    made = fit(profile, None, BOARDS[board])
    assert isinstance(made, Wiring)
    return made


def written(profile: Profile, board: str, folder: Path) -> Path:
    """The project in a folder."""
    folder.mkdir()
    for name, text in project_of(profile, None, wired(profile, board), folder).files.items():
        (folder / name).write_text(text, encoding="utf-8")
    return folder


def make(folder: Path, *targets: str) -> str:
    """What make says; it must end well."""
    if shutil.which("make") is None:
        pytest.skip("needs make: apt-get install make")
    done = subprocess.run(
        ["make", "-C", str(folder), *targets], capture_output=True, text=True, timeout=110, check=False
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


def listed(header: str, name: str) -> list[str]:
    """The entries of a list in wiring.h."""
    found = re.search(rf"^#define {name} \{{ (.*) \}}", header, re.MULTILINE)
    assert found is not None, name
    return found.group(1).split(", ")


@pytest.mark.needs_tool("avr-gcc")
@pytest.mark.needs_tool("gcc")
def test_a_small_robot_builds_for_the_328p_and_its_mix_passes(tmp_path: Path) -> None:
    """What is written is enough for make, without a warning, and `make check` passes the vectors."""
    folder = written(load_profile(TANK), "atmega328p", tmp_path / "tank")
    make(folder)
    assert (folder / "build" / "firmware.hex").stat().st_size > 1000
    assert "0 numbers differ" in make(folder, "check")
    assert "avrdude" in make(folder, "-n", "flash")


@pytest.mark.needs_tool("avr-gcc")
def test_a_bridge_a_contact_and_a_pulse_sum_wire_build(tmp_path: Path) -> None:
    """Every kind of wire that the header may hold compiles."""
    text = TANK.read_text().replace(
        "[stick.throttle]", '[receiver]\nwire = "pulse-sum"\n\n[stick.throttle]'
    )
    make(written(parse_profile(text + BRIDGED, "p.toml"), "atmega328p", tmp_path / "bridged"))


@pytest.mark.needs_tool("arm-none-eabi-gcc")
@pytest.mark.needs_tool("gcc")
def test_six_pulses_build_for_the_rp2040(tmp_path: Path) -> None:
    """The larger board, with the image its boot drive takes: the one that is proven here."""
    profile = load_profile(PROFILES / "long_crawler.toml")
    folder = written(profile, "rp2040", tmp_path / "crawler")
    make(folder)
    assert (folder / "build" / "firmware.uf2").stat().st_size > 1000
    wiring = wired(profile, "rp2040")
    proven = image_of_project(sources_of(profile, None, wiring), wiring.board)
    assert proven.sha256 == hashlib.sha256((folder / "build" / "firmware.elf").read_bytes()).hexdigest()


def test_the_header_says_what_the_wiring_is() -> None:
    """Numbers of pins, holes for what has no wire, kinds, tops, rests and brakes."""
    profile = parse_profile(TANK.read_text() + BRIDGED, "p.toml")
    wiring = wired(profile, "atmega328p")
    header = project_of(profile, None, wiring, Path("out")).files["wiring.h"]
    pins = {wire.key: pin.number for wire, pin in wiring.places.items()}
    hole = f"0x{NO_PIN:02X}"
    channels = ["steering", "throttle", hole, hole, "arm"]
    numbers = [
        str(pins.get(("stick", name, "pin"), pins.get(("switch", name, "pin"), name))) for name in channels
    ]
    assert listed(header, "CHANNEL_PINS") == numbers
    assert listed(header, "CONTACT_INPUT_PINS") == ["18"]
    assert listed(header, "OUTPUT_KINDS") == ["OUTPUT_PULSE", "OUTPUT_PULSE", "OUTPUT_BRIDGE"]
    assert listed(header, "OUTPUT_PINS") == ["1", "2", "21"]
    assert listed(header, "OUTPUT_DIRECTION_PINS") == [hole, hole, "22"]
    assert listed(header, "OUTPUT_TOPS") == ["0", "0", "255"]
    assert listed(header, "OUTPUT_RESTS") == ["1500", "1500", "0"]
    assert listed(header, "OUTPUT_BRAKES") == ["0", "0", "1"]
    assert f"#define BAUD {wiring.baud}UL\n" in header
    assert fingerprint_of(wiring) in header


def test_the_readme_begins_with_the_cautions_and_the_table_is_the_wiring() -> None:
    """Before anything to type stands what is dangerous; WIRING.md has every wire of `check --board`."""
    profile = load_profile(TANK)
    wiring = wired(profile, "atmega328p")
    files = project_of(profile, None, wiring, Path("out")).files
    readme = files["README.md"]
    first = readme.index("make flash")
    for words in (
        "Wheels off the ground",
        "weapon locked",
        "Main battery out",
        "back-powering",
        "pull-down",
    ):
        assert readme.index(words) < first, words
    assert "never on this board" in readme
    assert all(f"| {row.pin} | {row.chip} | {row.level} |" in files["WIRING.md"] for row in rows_of(wiring))
    assert files == project_of(profile, None, wired(profile, "atmega328p"), Path("out")).files


@pytest.mark.needs_tool("avr-gcc")
def test_another_choice_is_built_anew(tmp_path: Path) -> None:
    """A `make` with something else chosen would leave the other program there to be flashed."""
    folder = written(parse_profile(TANK.read_text() + BRIDGED, "p.toml"), "atmega328p", tmp_path / "tank")
    elf = folder / "build" / "firmware.elf"
    made = []
    for choices in ([], [], ["DUTY_HZ=3922"], ["DUTY_HZ=3922"], []):
        said = make(folder, *choices)
        made.append(("avr-gcc" in said, elf.read_bytes()))
    assert [compiled for compiled, _ in made] == [True, False, True, False, True]
    assert made[0][1] == made[4][1] != made[2][1] == made[3][1]


def test_what_is_to_be_typed_in_the_folder_works_there(tmp_path: Path) -> None:
    """Commands of both pages name the profile as seen from the project's folder, whatever it is called."""
    path = tmp_path / "my tank.toml"
    path.write_text(TANK.read_text())
    profile, folder = load_profile(path), tmp_path / "boards" / "tank"
    files = project_of(profile, None, wired(profile, "atmega328p"), folder).files
    folder.mkdir(parents=True)
    lines = [line.strip() for line in files["README.md"].splitlines()]
    typed = [shlex.split(line) for line in lines if line.startswith("stickwright ")]
    typed += [shlex.split(found) for found in re.findall("`(stickwright check [^`]*)`", files["WIRING.md"])]
    assert [words[1] for words in typed] == ["bench", "rehearse", "tick", "failsafe", "check"]
    assert all((folder / words[2]).samefile(path) for words in typed)


def test_the_readme_speaks_of_what_this_robot_has() -> None:
    """How fast duties switch only where there are any; a bit as long as the chip's divider makes it."""
    tank, slow = TANK.read_text(), TANK.read_text().replace("tick_ms = 2", "tick_ms = 10")
    readmes = [
        project_of(profile, None, wired(profile, "atmega328p"), Path("out")).files["README.md"]
        for profile in (parse_profile(text, "p.toml") for text in (tank, tank + BRIDGED, slow))
    ]
    assert ["Duties switch" in readme for readme in readmes] == [False, True, False]
    assert ["a bit is 8.5 µs" in readme for readme in readmes] == [False, False, True]
