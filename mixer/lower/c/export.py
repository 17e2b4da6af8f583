"""The files of an export: C, test vectors, their runner, a README. The plan alone decides every letter."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from mixer.core.plan import Plan
from mixer.core.rest import can_go_live
from mixer.errors import OptionError
from mixer.lower.c.plain.names import comment_text, string_text
from mixer.lower.c.program import Field, fill, header_text, interface_of, source_text, table_bytes
from mixer.lower.c.vectors import Vectors, vectors_of
from mixer.lower.graph.trace import trace

_LONGEST_CELL = 12
MARKS = ("Written by stickwright", "Written by `stickwright export`", "tick,channel.")
"""One of these stands near the beginning of every file of an export."""


@dataclass(frozen=True)
class Export:
    """The files by name, and the vectors among them with what they visit."""

    files: Mapping[str, str]
    vectors: Vectors


def export_of(plan: Plan, fingerprint: str, *, tables: bool = True) -> Export:
    """All files of an export. `fingerprint` says which profile and loadout this is.

    With `tables`, what sticks make of their travel is looked up in flash where that pays.

    Raises OptionError for a robot that its own neutral sticks never bring to life: its vectors would pass
    on a board that does nothing at all.
    """
    if not can_go_live(plan):
        raise OptionError(
            f"{plan.name} cannot go live: with every stick at rest and the arm switch on it stays still, "
            "so that test vectors would prove nothing",
            "`check` says what keeps it; most often a trim, or an end of a stick, beyond neutral_within",
        )
    return _written(plan, fingerprint, tables)


def export_files(plan: Plan, fingerprint: str, *, tables: bool = True) -> Mapping[str, str]:
    """File name -> text, of any plan, also of one whose vectors prove nothing."""
    return _written(plan, fingerprint, tables).files


def _written(plan: Plan, fingerprint: str, tables: bool) -> Export:
    shape = interface_of(trace(plan))
    vectors = vectors_of(plan, [field.name for field in shape.outputs])
    files = {
        "mix.h": header_text(plan, fingerprint),
        "mix.c": source_text(plan, fingerprint, tables=tables),
        "vectors.csv": vectors.text,
        "check.c": _check_text(plan, fingerprint, vectors.text),
        "README.md": _readme_text(plan, fingerprint, vectors.ticks, tables),
    }
    return Export(files, vectors)


def _check_text(plan: Plan, fingerprint: str, vectors: str) -> str:
    shape = interface_of(trace(plan))
    columns = 1 + len(shape.inputs) + len(shape.outputs)
    first = 1 + len(shape.inputs)
    inputs = [
        f"    in->{field.identifier} = ({field.kind})cells[{number}];"
        for number, field in enumerate(shape.inputs, start=1)
    ]
    outputs = [
        f'    wrong += compare("{string_text(field.name)}", out->{field.identifier}, cells[{number}]);'
        for number, field in enumerate(shape.outputs, start=first)
    ]
    header = len(vectors.split("\n", 1)[0].encode("utf-8"))
    return fill(
        "check.c",
        robot=comment_text(plan.name),
        fingerprint=fingerprint,
        columns=str(columns),
        line=str(max(header, columns * _LONGEST_CELL) + 3),
        inputs="\n".join(inputs),
        outputs="\n".join(outputs),
    )


def _tables_told(plan: Plan, tables: bool) -> str:
    """What the choice of tables costs and gains."""
    size = table_bytes(plan)
    if not size:
        return "No stick of this robot takes so much calculation that a table in flash would pay."
    if tables:
        return (
            f"What sticks make of their travel stands in tables: {size:,} bytes of flash, none of RAM,\n"
            "  for less time in a live tick. `stickwright export --no-tables` calculates the same numbers."
        )
    return (
        "What sticks make of their travel is calculated. `stickwright export --tables`, the default,\n"
        f"  takes {size:,} bytes of flash for tables instead: the same numbers, in less time."
    )


def _readme_text(plan: Plan, fingerprint: str, ticks: int, tables: bool) -> str:
    shape = interface_of(trace(plan))
    readers = ["new_pulse_us"] * len(plan.channels) + ["read_contact"] * len(plan.contacts)
    taken = [
        f"        in.{field.identifier} = {reader}({_constant(field)});"
        for field, reader in zip(shape.inputs, readers, strict=True)
    ]
    sent = [
        f"        set_output({_constant(field)}, out.{field.identifier});" for field in shape.outputs[:-1]
    ]
    return fill(
        "README.md",
        robot=comment_text(plan.name),
        fingerprint=fingerprint,
        ticks=str(ticks),
        tick_ms=str(plan.tick_ms),
        tables=_tables_told(plan, tables),
        example_in="\n".join(taken),
        example_out="\n".join(sent),
        inputs=_table(shape.inputs),
        outputs=_table(shape.outputs),
        times="\n".join(_times(plan)),
        state_bytes=str(sum(field.size for field in shape.state)),
        io_bytes=str(sum(field.size for field in (*shape.inputs, *shape.outputs))),
    )


def _constant(field: Field) -> str:
    """The wire's name as a C constant would be written: ``channel_throttle`` -> ``THROTTLE``."""
    return field.identifier.partition("_")[2].upper()


def _table(fields: Sequence[Field]) -> str:
    return "\n".join(f"| `{field.identifier}` | {_cell(field.words)} |" for field in fields)


def _times(plan: Plan) -> list[str]:
    guard = plan.guard
    rows = [
        ("one tick", 1),
        ("a channel without a good pulse counts as lost after", guard.lost_ticks),
        ("sticks at neutral, armed, before it goes live", guard.hold_ticks),
    ]
    if guard.arm is not None:
        rows.append(("the arm switch must be seen off for", guard.off_ticks))
    if plan.flip is not None:
        rows.append(("upside down must be read for", plan.flip.settle_ticks))
    rows += [(f"{contact.name} must read open for", contact.release_ticks) for contact in plan.contacts]
    rows += [(f"{actuator.name}: both stops closed is a fault after", actuator.both_ticks)
             for actuator in plan.actuators]  # fmt: skip
    rows += [
        (f"{output.name} rests before it reverses", output.pause_ticks)
        for output in plan.outputs
        if output.pause_ticks
    ]
    return [f"| {_cell(words)} | {count} | {count * plan.tick_ms} |" for words, count in rows]


def _cell(text: str) -> str:
    return comment_text(text).replace("|", "\\|")
