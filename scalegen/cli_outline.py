"""Commands about outlines: look at what a file holds, and start a pattern from it."""

import shlex
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from scalegen.model import OutlineSource
    from scalegen.outline.survey import Survey
    from scalegen.outline_options import Said

UnitsOption = Annotated[
    str | None,
    typer.Option("--units", metavar="mm|cm|m|in|px", help="Unit of the file's numbers; else what it says."),
]
ContourOption = Annotated[
    int | None,
    typer.Option("--contour", metavar="N", help="Which contour, by its number in the picture; 1 is largest."),
]
Rotate = Annotated[
    str | None,
    typer.Option(
        metavar="DEG|level", help="Turn the drawing counter-clockwise, or so that the outline lies level."
    ),
]
FrontOption = Annotated[
    str | None,
    typer.Option(
        "--front", metavar="SIDE", help="Side of the drawing the blade is on: left, right, top or bottom."
    ),
]
Flip = Annotated[bool, typer.Option("--flip", help="Mirror top to bottom, so that the spine comes up.")]
Zero = Annotated[
    str | None,
    typer.Option(metavar="drawing|front", help="Zero point: the drawing's own, or the outline's front end."),
]
Points = Annotated[
    str | None,
    typer.Option(metavar="smooth|straight", help="How measured points are joined; else as the table says."),
]
ToleranceOption = Annotated[
    str | None,
    typer.Option("--tolerance", metavar="D", help="How far arcs may be from a curve; else 0.005 mm."),
]
Dpi = Annotated[
    float | None, typer.Option(metavar="N", help="Resolution of a scan; else what the file says.")
]
Card = Annotated[
    bool,
    typer.Option("--card", help="Photo with a card of 85.60 x 53.98 mm beside the tang: scale by it."),
]
MarksOption = Annotated[
    str | None,
    typer.Option(
        "--marks", metavar="X,Y,X,Y,D", help="Scale by two places in pixels and the distance between them."
    ),
]
ToneOption = Annotated[
    str | None,
    typer.Option("--tone", metavar="dark|light", help="Tone of the tang; else as the border tells."),
]
ShopOption = Annotated[
    Path | None,
    typer.Option("--shop", metavar="DIR", help="Shop tables; else the nearest shared/ above."),
]
AsJson = Annotated[bool, typer.Option("--json", help="Print data instead of tables.")]


def show_outline(
    file: Annotated[
        Path,
        typer.Argument(
            metavar="FILE", help="DXF, SVG, table of points, scan or pattern.", show_default=False
        ),
    ],
    *,
    units: UnitsOption = None,
    contour: ContourOption = None,
    rotate: Rotate = None,
    front: FrontOption = None,
    flip: Flip = False,
    zero: Zero = None,
    points: Points = None,
    tolerance: ToleranceOption = None,
    dpi: Dpi = None,
    card: Card = False,
    marks: MarksOption = None,
    tone: ToneOption = None,
    picture: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="Where the picture goes, .svg or .png; else out/NAME-outline.svg."),
    ] = None,
    shop: ShopOption = None,
    as_json: AsJson = False,
) -> None:
    """What a file holds: contours by number, holes, gaps and crossings, with a picture."""
    from scalegen.errors import PatternError
    from scalegen.outline.placing import placed
    from scalegen.outline.read import survey
    from scalegen.outline_options import Said, look_at
    from scalegen.pattern.read import read_pattern
    from scalegen.report.outline_record import outline_record, refused_record
    from scalegen.report.outline_views import print_outline
    from scalegen.report.record import to_json
    from scalegen.report.views import console
    from scalegen.shop import find_shared, load_shop

    said = Said(
        units=units,
        contour=contour,
        rotate=rotate,
        front=front,
        flip=flip,
        zero=zero,
        points=points,
        tolerance=tolerance,
        dpi=dpi,
        card=card,
        marks=marks,
        tone=tone,
    )
    tables = load_shop(shop or find_shared(file.resolve().parent))
    try:
        if file.suffix.lower() == ".toml":
            source = _pattern_source(read_pattern(file).outline, said, file)
            found = survey(source, where="outline")
        else:
            source, found = look_at(file, said)
            found = placed(found, source.placing)
    except PatternError as error:
        if not as_json:
            raise
        typer.echo(to_json(refused_record(error)), nl=False)
        typer.echo(f"scalegen: {error}", err=True)
        raise typer.Exit(error.exit_code) from error
    record = outline_record(found, source, tables)
    drawn = _drawn(found, file, picture, as_json=as_json)
    if as_json:
        typer.echo(to_json(record), nl=False)
    else:
        print_outline(record, str(file), console())
        if drawn is not None:
            typer.echo(f"picture: {drawn}")
    if found.reason:
        raise typer.Exit(PatternError.exit_code)


def _pattern_source(source: "OutlineSource", said: "Said", file: Path) -> "OutlineSource":
    """The outline of a pattern, which says all about it itself."""
    from scalegen.errors import UsageError
    from scalegen.outline_options import Said

    if said != Said():
        raise UsageError(
            "a pattern says itself how its outline is read",
            where=str(file),
            remedy="leave these options out, or name the drawing in place of the pattern",
        )
    return source


def _drawn(found: "Survey", file: Path, picture: Path | None, *, as_json: bool) -> Path | None:
    """Draw what was found, unless data alone is asked for; returns where the picture is."""
    from scalegen.errors import UsageError
    from scalegen.export.files import save_bytes, write_error
    from scalegen.report.outline_picture import draw_outline, picture_png, picture_svg

    if picture is None and as_json:
        return None
    target = picture or Path("out") / f"{file.stem}-outline.svg"
    kind = target.suffix.lower()
    if kind not in {".svg", ".png"}:
        raise UsageError("a picture is .svg or .png", where="--picture", remedy="end its name so")
    drawing = draw_outline(found, file.name)
    data = picture_png(drawing) if kind == ".png" else picture_svg(drawing).encode()
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise write_error(error, target) from error
    save_bytes(target, data)
    return target


def new(
    name: Annotated[str, typer.Argument(metavar="NAME", help="Name of the new pattern.", show_default=False)],
    *,
    outline: Annotated[
        Path,
        typer.Option(metavar="FILE", help="DXF, SVG, table of points or scan.", show_default=False),
    ],
    units: UnitsOption = None,
    contour: ContourOption = None,
    rotate: Rotate = None,
    front: FrontOption = None,
    flip: Flip = False,
    zero: Zero = None,
    points: Points = None,
    tolerance: ToleranceOption = None,
    dpi: Dpi = None,
    card: Card = False,
    marks: MarksOption = None,
    tone: ToneOption = None,
    tang: Annotated[
        str | None, typer.Option(metavar="T", help="Thickness of the tang; else 3 mm, to be set later.")
    ] = None,
    front_at: Annotated[
        str | None, typer.Option(metavar="X", help="Where the front line crosses y = 0; else a guess.")
    ] = None,
    stock: Annotated[
        str | None, typer.Option(metavar="NAME", help="Stack in the shop tables; else the first there.")
    ] = None,
    into: Annotated[
        Path | None, typer.Option(metavar="DIR", help="Folder for it; else profiles/ or the present folder.")
    ] = None,
    shop: ShopOption = None,
    as_json: AsJson = False,
) -> None:
    """Start a pattern from an outline, with the pins found in it and every field explained."""
    from scalegen.drafting import Wish, draft_pattern
    from scalegen.outline_options import Said, look_at
    from scalegen.report.record import finding_records, to_json
    from scalegen.report.tables import print_findings
    from scalegen.report.views import console

    said = Said(
        units=units,
        contour=contour,
        rotate=rotate,
        front=front,
        flip=flip,
        zero=zero,
        points=points,
        tolerance=tolerance,
        dpi=dpi,
        card=card,
        marks=marks,
        tone=tone,
    )
    profiles = Path("profiles")
    source, found = look_at(outline, said)
    wish = Wish(
        name=name,
        source=source,
        found=found,
        folder=into or (profiles if profiles.is_dir() else Path()),
        tang=tang,
        front_at=front_at,
        stock=stock,
    )
    made = draft_pattern(wish, shop)
    if as_json:
        record = {"file": str(made.path), "findings": finding_records(made.study.findings)}
        typer.echo(to_json(record), nl=False)
    else:
        if made.copied:
            typer.echo(f"{made.copied}: copied from {outline}")
        typer.echo(f"{made.path}: a new pattern with {made.pins_text}; look through it and set what is yours")
        print_findings(made.study.findings, console())
        typer.echo(f"then: scalegen show pattern {shlex.quote(str(made.path))}")
    if made.study.stops:
        raise typer.Exit(6)
