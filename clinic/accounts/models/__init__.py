from clinic.accounts.models.invitations import Invitation
from clinic.accounts.models.people import Membership, Profession, Role, User
from clinic.accounts.models.places import Practice, Site, SiteQuerySet

__all__ = ["Invitation", "Membership", "Practice", "Profession", "Role", "Site", "SiteQuerySet", "User"]
