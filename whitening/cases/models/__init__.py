from whitening.cases.models.cases import Case, CaseInvitation, CaseQuerySet, CaseVisit, CloseReason, VisitPurpose
from whitening.cases.models.plans import Isolation, Plan, PlannedLight
from whitening.cases.models.products import Basis, Peroxide, Price, Product, ProductKind
from whitening.cases.models.shades import Moment, ShadeCorrection, ShadeReading

__all__ = [
    "Basis",
    "Case",
    "CaseInvitation",
    "CaseQuerySet",
    "CaseVisit",
    "CloseReason",
    "Isolation",
    "Moment",
    "Peroxide",
    "Plan",
    "PlannedLight",
    "Price",
    "Product",
    "ProductKind",
    "ShadeCorrection",
    "ShadeReading",
    "VisitPurpose",
]
