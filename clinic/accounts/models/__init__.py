from clinic.accounts.models.invitations import Invitation
from clinic.accounts.models.people import Membership, Profession, Role, User
from clinic.accounts.models.places import Practice, ShortNotice, Site, SiteQuerySet
from clinic.accounts.models.rota import OnCallTurn

__all__ = [
    "Invitation",
    "Membership",
    "OnCallTurn",
    "Practice",
    "Profession",
    "Role",
    "ShortNotice",
    "Site",
    "SiteQuerySet",
    "User",
]
