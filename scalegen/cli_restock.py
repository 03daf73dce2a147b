"""The command that carries a pattern over to a stack of another thickness."""

import shlex
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from scalegen.model import Restock
    from scalegen.pipeline import Study
    from scalegen.restock import Comparison


def restock(
    pattern: Annotated[Path, typer.Argument(metavar="PATTERN", help="Pattern file.", show_default=False)],
    *,
    measured: Annotated[
        str,
        typer.Option(
            metavar="T[,T...]|FILE",
            help="Readings of the stack it is to be cut from, or a .csv of x, y, reading.",
            show_default=False,
        ),
    ],
    sheets_measured: Annotated[
        str | None,
        typer.Option(
            metavar="T,T...",
            help="What each of its sheets measured before bonding, from back to face; tells the glue's film.",
        ),
    ] = None,
    made_for: Annotated[
        str | None,
        typer.Option("--from", metavar="T", help="Stack it was made for; else what its tables add up to."),
    ] = None,
    stock: Annotated[
        str | None,
        typer.Option(metavar="NAME", help="Stack in the shop tables, instead of the pattern's own."),
    ] = None,
    rule: Annotated[
        list[str] | None,
        typer.Option(
            metavar="NAME=WORD", help='Instead of the pattern\'s own rule, such as "bevel=keep run".'
        ),
    ] = None,
    save: Annotated[
        str | None, typer.Option(metavar="NAME", help="Keep it as a variant, a pattern file beside this one.")
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="Write over a variant of that name.")] = False,
    shop: Annotated[
        Path | None,
        typer.Option(
            "--shop", metavar="DIR", help="Shop tables; else the nearest shared/ above the pattern."
        ),
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print data instead of tables.")] = False,
) -> None:
    """Carry a pattern over to a stack of another thickness: old against new, side by side."""
    from dataclasses import replace

    from scalegen.errors import StopError
    from scalegen.model import JobSpec
    from scalegen.options import Typed, merged, readings
    from scalegen.pattern.read import read_pattern
    from scalegen.pipeline import require_no_stops, shop_for
    from scalegen.pipeline import study as look_at
    from scalegen.report.record import to_json
    from scalegen.report.restock_views import print_comparison
    from scalegen.report.views import console
    from scalegen.restock import compare, comparison_record, rules_by_field

    read = read_pattern(pattern)
    typed = Typed(measured=measured, sheets_measured=sheets_measured)
    wanted = merged(JobSpec(stock=stock), typed, read.units)
    old = JobSpec(stock=stock)
    if made_for is not None:
        old = replace(old, measured_mm=readings(made_for, read.units))
    tables = shop_for(pattern, shop)
    rules = _rules(read.restock, rule or [])
    found = compare(look_at(read, None, old, tables), wanted, rules)
    record = comparison_record(found)
    if as_json:
        typer.echo(to_json(record), nl=False)
        if found.after.stops:
            # The findings are in it: a second object for the error would make the output no JSON.
            raise typer.Exit(StopError.exit_code)
    else:
        title = f"{read.title}: from a stack of {{}} to one of {{}}"
        shown = [_stack(side) for side in (found.before, found.after)]
        print_comparison(record, rules_by_field(found), read.units, title.format(*shown), console())
    require_no_stops(found.after)
    if save is not None:
        path = _saved(found, save, force=force)
        if not as_json:
            typer.echo(f"{path}: written; to make it:")
            given = ["--measured", measured]
            given += ["--sheets-measured", sheets_measured] if sheets_measured is not None else []
            typer.echo(f"  scalegen make {shlex.join([str(path), *given])}")


def _stack(side: "Study") -> str:
    """The stack's thickness in the pattern's unit."""
    from scalegen.units import format_length

    return format_length(side.scale.stack.used_mm, side.scale.pattern.units)


def _rules(rules: "Restock", typed: list[str]) -> "Restock":
    """The pattern's rules with those of the command line put over them."""
    from dataclasses import asdict
    from typing import Any, get_args, get_type_hints

    from scalegen.errors import UsageError
    from scalegen.fields.words import suggest
    from scalegen.model import Restock

    known = {name: get_args(hint) for name, hint in get_type_hints(Restock).items()}
    for each in typed:
        name, _, word = (part.strip() for part in each.partition("="))
        if word not in known.get(name, ()):
            names = "; ".join(f"{key}: {' or '.join(may)}" for key, may in known.items())
            hint = suggest(name, known) if name not in known else suggest(word, known[name])
            raise UsageError(
                f'"{each}" is no rule', where="--rule", remedy=f"{hint} The rules: {names}".strip()
            )
        words: dict[str, Any] = {**asdict(rules), name: word}
        rules = Restock(**words)
    return rules


def _saved(found: "Comparison", name: str, *, force: bool) -> Path:
    """Write the variant, whole or not at all."""
    from dataclasses import asdict

    from scalegen.errors import UsageError
    from scalegen.export.files import save_bytes, write_error
    from scalegen.pattern.variant import variant_path, variant_text

    old, new = found.before.scale.pattern, found.after.scale.pattern
    path = variant_path(old, name)
    if path.exists() and not force:
        raise UsageError(f"{path} is there already", where="--save", remedy="take another name, or --force")
    stacks = [_stack(side) for side in (found.before, found.after)]
    heading = f"Variant of {old.path.name} for a stack of {stacks[1]}; that one was made for {stacks[0]}."
    rules = ", ".join(f"{rule} = {word}" for rule, word in asdict(found.rules).items())
    text = variant_text(old, new, name, f"{heading}\nRules: {rules}.")
    try:
        save_bytes(path, text.encode())
    except OSError as error:
        raise write_error(error, path) from error
    return path
