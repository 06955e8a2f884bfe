from clinic.accounts.models.invitations import Invitation
from clinic.accounts.models.people import Membership, Profession, Role, User
from clinic.accounts.models.places import Practice, ShortNotice, Site, SiteQuerySet

__all__ = ["Invitation", "Membership", "Practice", "Profession", "Role", "ShortNotice", "Site", "SiteQuerySet", "User"]
