"""All files of a project: what compiles, its test vectors, and the pages that go with it."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from mixer.board.project.source import sources_of
from mixer.board.project.words import readme_text, wiring_page
from mixer.board.wiring.fit import Wiring
from mixer.lower.c.export import export_of
from mixer.lower.c.vectors import Vectors
from mixer.profile.profile import Profile


@dataclass(frozen=True)
class Project:
    """The files by name, and the test vectors among them with what they visit."""

    files: Mapping[str, str]
    vectors: Vectors


def project_of(
    profile: Profile, loadout: str | None, wiring: Wiring, folder: Path, *, tables: bool = True
) -> Project:
    """The project of one loadout as it is wired, for that folder; the same letters every time.

    Raises OptionError for a robot that cannot go live (`export_of`).
    """
    export = export_of(profile.plan(loadout), profile.fingerprint(loadout), tables=tables)
    files = {
        "README.md": readme_text(profile, loadout, wiring, folder),
        "WIRING.md": wiring_page(profile, loadout, wiring, folder),
        **sources_of(profile, loadout, wiring, tables=tables),
        **{name: text for name, text in export.files.items() if name != "README.md"},
    }
    return Project(files, export.vectors)
