"""Rows of the inventory, one import path."""

from inventory.catalog.schema import Severity
from inventory.models.calendars import CalendarLink, CalendarLinkQuerySet
from inventory.models.charts import ChartConfirmation
from inventory.models.counts import (
    OUTCOME_LABELS,
    REASON_LABELS,
    Count,
    CountDifference,
    CountLine,
    CountQuerySet,
    Sighting,
    SightingQuerySet,
)
from inventory.models.donations import Donation
from inventory.models.figures import Figure
from inventory.models.inspections import (
    SEVERITY_LABELS,
    Closed,
    Finding,
    FindingQuerySet,
    Inspection,
    InspectionQuerySet,
    ListRemark,
    PartLook,
    PlayTest,
    ProblemReport,
    ProblemReportQuerySet,
    Purpose,
    Unsafe,
)
from inventory.models.instruments import (
    READINESS_LABELS,
    VERDICT_LABELS,
    Accessory,
    Acquired,
    Custody,
    Instrument,
    InstrumentQuerySet,
    Level,
    Lock,
    Photo,
    Tag,
    TagQuerySet,
    Whereabouts,
    fresh_on,
    in_use_on,
)
from inventory.models.intake import ColumnMemory, ImportBatch, ImportRow
from inventory.models.integrations import Integration, Scope
from inventory.models.leaving import (
    Disposal,
    DisposalQuerySet,
    InstrumentPaper,
    InstrumentPaperQuerySet,
    Transfer,
    TransferQuerySet,
)
from inventory.models.months import FleetMonth, FleetMonthQuerySet
from inventory.models.opening import OpeningLink
from inventory.models.places import (
    District,
    Role,
    Room,
    School,
    SchoolQuerySet,
    SchoolRowsQuerySet,
    StaffRole,
    roles_held,
    schools_of,
)
from inventory.models.purchases import PurchaseRequest, PurchaseRequestQuerySet
from inventory.models.samples import DEVIATING, Sample, SampleItem, SampleItemQuerySet, SampleQuerySet, Strata, Tested
from inventory.rules.readiness import Readiness
from inventory.rules.verdict import Verdict
