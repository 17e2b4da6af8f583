"""Write the golden files anew after a change that was meant: python -m tests.lower.golden."""

from pathlib import Path

from mixer.lower.c.export import export_files
from tests.lower.c_exports import plan_of_robot


def main() -> None:
    """The small robot's header, source and README."""
    folder = Path(__file__).parent / "golden"
    folder.mkdir(exist_ok=True)
    files = export_files(plan_of_robot("tank_pair"), "0123456789ab")
    for name in ("mix.h", "mix.c", "README.md"):
        (folder / f"tank_pair_{name}").write_text(files[name], encoding="utf-8")


if __name__ == "__main__":
    main()
