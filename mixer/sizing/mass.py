"""Findings about mass, centre of gravity, and the weight on wheels and skids."""

from collections.abc import Iterator

from mixer.plant.from_profile import Prepared
from mixer.plant.parts.mass import centre_of_gravity, total_mass
from mixer.sizing.finding import Finding, Verdict, judged, told


def mass_findings(prepared: Prepared) -> Iterator[Finding]:
    """Mass against the class, parts against the mass, centre of gravity, wheel loads."""
    if prepared.mass_kg is None:
        return
    if prepared.class_limit_kg is None:
        yield told("mass", "mass", "mass", prepared.mass_kg, "kg", "no class limit given")
    else:
        spare = prepared.class_limit_kg - prepared.mass_kg
        words = (f"{spare:.2f} kg to spare", f"only {spare:.2f} kg to spare", f"{-spare:.2f} kg too heavy")
        yield judged("mass", "mass", "mass", prepared.mass_kg, "kg", prepared.class_limit_kg, words, 0.97)
    if prepared.parts:
        listed = total_mass(prepared.parts)
        off = listed - prepared.mass_kg
        agrees = abs(off) <= 0.02 * prepared.mass_kg
        words_of_parts = "agrees with the mass" if agrees else f"differs from the mass by {off:+.2f} kg"
        yield Finding(
            "mass", "parts", "parts listed", listed, "kg", prepared.mass_kg,
            Verdict.FINE if agrees else Verdict.TIGHT, words_of_parts,
        )  # fmt: skip
        where = _place(centre_of_gravity(prepared.parts))
        yield told("mass", "parts_centre", "centre of gravity of the parts", None, "", where)
    if prepared.stance.loads_n:
        where = _place(prepared.stance.centre) + (", by the parts" if prepared.stance.by_parts else "")
        yield told("mass", "centre_of_gravity", "centre of gravity", None, "", where)
    for name, load in prepared.stance.loads_n:
        verdict = Verdict.OVER if prepared.stance.tips else Verdict.TOLD
        words_of_load = "it tips over" if prepared.stance.tips else "" if load > 0 else "in the air"
        yield Finding(
            "mass", f"wheel_load.{name}", f"weight on {name}", load, "N", None, verdict, words_of_load
        )


def _place(place: tuple[float, float, float]) -> str:
    x, y, z = (1000 * value for value in place)
    return f"{x:+.1f} mm ahead, {y:+.1f} mm left, {z:.1f} mm up"
