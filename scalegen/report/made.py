"""Everything about a job that is laid out and billed: what pictures, papers and pages are made from."""

from dataclasses import dataclass

from scalegen.design import Scale
from scalegen.form.volumes import Volumes
from scalegen.machining.bridges import Bridges
from scalegen.machining.dry_run import DryRun
from scalegen.machining.stages import Stage
from scalegen.model import BomRow, Finding, JobSpec, Shop
from scalegen.report.record_scale import Data
from scalegen.sheet.layout import SheetLayout
from scalegen.shop.blank import BlankReport
from scalegen.shop.facing import Facing


@dataclass(frozen=True, kw_only=True, eq=False)
class Lot:
    """One pattern's part of a job.

    Attributes:
        scale: Every number of its scale.
        volumes: Volumes by layer.
        pairs: Pairs asked for.
        spares: Further pairs against mishaps.
        blank: What the readings of the blank tell; None when it was not measured.
        facing: What facing and flattening leave of the blank.
        stages: The plan: what is cut with which cutter, in order.
    """

    scale: Scale
    volumes: Volumes
    pairs: int
    spares: int
    blank: BlankReport | None
    facing: Facing
    stages: tuple[Stage, ...] = ()


@dataclass(frozen=True, kw_only=True, eq=False)
class Made:
    """A job before its papers are drawn.

    Attributes:
        lots: Patterns, one or more; all are cut from the same kind of blank.
        spec: What was asked for, pairs counted.
        shop: The tables it was resolved with.
        layouts: Sheets, in order.
        runs: The sheets cut in thought, one for each; empty where that was not done.
        bridges: The tabs of each sheet; empty where none were planned.
        findings: What there is to say, stops first.
        bom: Bill of materials.
        record: The same as ``job.json`` will have it, with no files listed yet.
    """

    lots: tuple[Lot, ...]
    spec: JobSpec
    shop: Shop
    layouts: tuple[SheetLayout, ...]
    runs: tuple[DryRun, ...]
    findings: tuple[Finding, ...]
    bom: tuple[BomRow, ...]
    record: Data
    bridges: tuple[Bridges, ...] = ()

    @property
    def name(self) -> str:
        """What the job is called: the name given, or those of its patterns joined."""
        joined = "-".join(lot.scale.pattern.name for lot in self.lots)
        return self.spec.job or joined[:80].rstrip("-.")
