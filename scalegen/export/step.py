"""STEP files: named, coloured solids, gathered into parts that are placed as often as wanted."""

import io
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Literal

import numpy as np
from OCP.APIHeaderSection import APIHeaderSection_MakeHeader
from OCP.BRepBuilderAPI import BRepBuilderAPI_Copy
from OCP.gp import gp_Trsf
from OCP.IFSelect import IFSelect_RetDone
from OCP.Interface import Interface_Static
from OCP.Message import Message, Message_Gravity
from OCP.Quantity import Quantity_Color, Quantity_TOC_sRGB
from OCP.STEPCAFControl import STEPCAFControl_Writer
from OCP.STEPControl import STEPControl_AsIs
from OCP.TCollection import TCollection_ExtendedString, TCollection_HAsciiString
from OCP.TDataStd import TDataStd_Name
from OCP.TDF import TDF_Label
from OCP.TDocStd import TDocStd_Document
from OCP.TopLoc import TopLoc_Location
from OCP.XCAFDoc import XCAFDoc_ColorSurf, XCAFDoc_DocumentTool

from scalegen import __version__
from scalegen.errors import WriteError
from scalegen.export.content import Content, check_parts, instance_matrix
from scalegen.export.files import save_bytes
from scalegen.export.part21 import canonical_part21
from scalegen.model import Units
from scalegen.solids.parts import Instance, Part

Schema = Literal["AP214", "AP242"]

# The kernel's names: "IN" would be refused without a word and the unit before it kept.
_KERNEL_UNITS = {"mm": "MM", "in": "INCH"}
_KERNEL_SCHEMAS = {"AP214": "AP214IS", "AP242": "AP242DIS"}
# The standard wants a time stamp, and a true one would make every run's file differ.
_TIME_STAMP = "1970-01-01T00:00:00"


def write_step(
    path: Path,
    *,
    product: str,
    parts: Sequence[Part],
    instances: Sequence[Instance],
    units: Units = "mm",
    schema: Schema = "AP214",
) -> None:
    """Write parts, each as often as it has instances, into one STEP file.

    Args:
        path: File to write.
        product: Name at the top of the tree.
        parts: Parts, with names of their own.
        instances: Where the parts stand; their geometry is written once per part.
        units: Unit of the file.
        schema: Application protocol.

    Raises:
        WriteError: The parts do not fit together (see :func:`check_parts`), the kernel refuses them, or
            the file cannot be written.

    One part at its own origin becomes the top of the tree itself.
    """
    check_parts(parts, instances, where=path.name)
    document = _document(product, parts, instances)
    settings = {
        "write.step.unit": _KERNEL_UNITS[units],
        "write.step.schema": _KERNEL_SCHEMAS[schema],
        "write.step.product.name": _plain(product),
    }
    # Curves on surfaces are left out: readers make them anew, and files are half the size.
    with _quiet_kernel():
        writer = STEPCAFControl_Writer()
        writer.SetNameMode(True)
        writer.SetColorMode(True)
        with _kernel_settings(settings, {"write.surfacecurve.mode": 0}, path):
            if not writer.Transfer(document, STEPControl_AsIs):
                raise WriteError("the kernel could not turn the solids into STEP", where=path.name)
            _fill_header(writer, product, units)
            stream = io.BytesIO()
            if writer.WriteStream(stream) != IFSelect_RetDone:
                raise WriteError("the kernel could not write the STEP text", where=path.name)
    save_bytes(path, canonical_part21(stream.getvalue().decode("utf-8")).encode("ascii"))


def write(path: Path, content: Content) -> None:
    """Write the STEP form of a content; see :func:`write_step`."""
    write_step(
        path,
        product=content.product,
        parts=content.parts,
        instances=content.instances,
        units=content.units,
        schema=content.step_schema,
    )


def _document(product: str, parts: Sequence[Part], instances: Sequence[Instance]) -> TDocStd_Document:
    document = TDocStd_Document(TCollection_ExtendedString("XmlXCAF"))
    XCAFDoc_DocumentTool.SetLengthUnit_s(document, 0.001)
    root = XCAFDoc_DocumentTool.ShapeTool_s(document.Main()).NewShape()
    _name(root, product)
    used = [part for part in parts if any(i.part == part.name for i in instances)]
    if len(instances) == 1 and kernel_location(instances[0]).IsIdentity():
        _add_solids(document, root, used[0])
    else:
        _add_instances(document, root, used, instances)
    XCAFDoc_DocumentTool.ShapeTool_s(document.Main()).UpdateAssemblies()
    return document


def _add_instances(
    document: TDocStd_Document, root: TDF_Label, parts: Sequence[Part], instances: Sequence[Instance]
) -> None:
    shapes = XCAFDoc_DocumentTool.ShapeTool_s(document.Main())
    labels = {}
    for part in parts:
        label = shapes.NewShape()
        _name(label, part.name)
        _add_solids(document, label, part)
        labels[part.name] = label
    for instance in instances:
        place = shapes.AddComponent(root, labels[instance.part], kernel_location(instance))
        _name(place, instance.label)


def _add_solids(document: TDocStd_Document, assembly: TDF_Label, part: Part) -> None:
    shapes = XCAFDoc_DocumentTool.ShapeTool_s(document.Main())
    colors = XCAFDoc_DocumentTool.ColorTool_s(document.Main())
    for solid in part.solids:
        # A copy leaves meshes behind, and keeps a shape that is used twice from sharing one name.
        copy = BRepBuilderAPI_Copy(solid.shape, False, False).Shape()
        label = shapes.AddShape(copy.Located(TopLoc_Location()), False)
        _name(label, solid.name)
        red, green, blue = (int(solid.color[k : k + 2], 16) / 255 for k in (1, 3, 5))
        # The kernel thinks in linear light; "#rrggbb" is sRGB.
        colors.SetColor(label, Quantity_Color(red, green, blue, Quantity_TOC_sRGB), XCAFDoc_ColorSurf)
        _name(shapes.AddComponent(assembly, label, copy.Location()), solid.name)


def kernel_location(instance: Instance) -> TopLoc_Location:
    """The kernel's form of where an instance stands; see :func:`instance_matrix`."""
    matrix = instance_matrix(instance)
    if (matrix == np.eye(4)).all():
        return TopLoc_Location()
    move = gp_Trsf()
    move.SetValues(*matrix[:3].ravel().tolist())
    return TopLoc_Location(move)


def _name(label: TDF_Label, name: str) -> None:
    TDataStd_Name.Set_s(label, TCollection_ExtendedString(_plain(name), True))


def _plain(name: str) -> str:
    """A name without the two things STEP strings give a meaning of their own."""
    return " ".join(name.replace("\\", "/").split())


def _fill_header(writer: STEPCAFControl_Writer, product: str, units: Units) -> None:
    text = TCollection_HAsciiString
    header = APIHeaderSection_MakeHeader(writer.ChangeWriter().Model())
    header.SetName(text(_plain(product)))
    header.SetTimeStamp(text(_TIME_STAMP))
    header.SetAuthorValue(1, text(""))
    header.SetOrganizationValue(1, text(""))
    header.SetAuthorisation(text(""))
    header.SetPreprocessorVersion(text("scalegen"))
    header.SetOriginatingSystem(text(f"scalegen {__version__}"))
    header.SetDescriptionValue(1, text(f"handle scales, unit {units}"))


@contextmanager
def _kernel_settings(texts: dict[str, str], numbers: dict[str, int], path: Path) -> Iterator[None]:
    """Set the kernel's process-wide settings, make sure that they took, and put them back after."""
    old_texts = {key: Interface_Static.CVal_s(key) for key in texts}
    old_numbers = {key: Interface_Static.IVal_s(key) for key in numbers}
    try:
        for key, text in texts.items():
            if not Interface_Static.SetCVal_s(key, text) or Interface_Static.CVal_s(key) != text:
                raise WriteError(f"the kernel refuses {key} = {text}", where=path.name)
        for key, number in numbers.items():
            if not Interface_Static.SetIVal_s(key, number) or Interface_Static.IVal_s(key) != number:
                raise WriteError(f"the kernel refuses {key} = {number}", where=path.name)
        yield
    finally:
        for key, text in old_texts.items():
            Interface_Static.SetCVal_s(key, text)
        for key, number in old_numbers.items():
            Interface_Static.SetIVal_s(key, number)


@contextmanager
def _quiet_kernel() -> Iterator[None]:
    """Keep the kernel's chatter off the terminal; failures are read from what its calls return."""
    printers = list(Message.DefaultMessenger_s().Printers())
    levels = [printer.GetTraceLevel() for printer in printers]
    try:
        for printer in printers:
            printer.SetTraceLevel(Message_Gravity.Message_Fail)
        yield
    finally:
        for printer, level in zip(printers, levels, strict=True):
            printer.SetTraceLevel(level)
