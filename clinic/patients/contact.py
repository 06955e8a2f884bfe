"""What a patient may be written to about, and in which ways: read back from the choices that are kept as proof."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from clinic.patients.models import WRITTEN, Channel, ContactChoice, Patient, Purpose


@dataclass(frozen=True, slots=True)
class Contact:
    """What holds now. `texts` and `newest`: the choice that says so, with who and when."""

    allowed: Mapping[Purpose, bool]
    refused: frozenset[tuple[Purpose, Channel]] = frozenset()
    texts: ContactChoice | None = None
    newest: ContactChoice | None = None

    def ways(self, purpose: Purpose) -> tuple[Channel, ...]:
        """In which the program may write about it; none where the purpose itself is off."""
        if not self.allowed[purpose]:
            return ()
        return tuple(channel for channel in WRITTEN if (purpose, channel) not in self.refused)

    def refused_ways(self, purpose: Purpose) -> frozenset[str]:
        return frozenset(channel.value for one, channel in self.refused if one == purpose)

    @property
    def texts_ended(self) -> bool:
        return all((purpose, Channel.TEXT) in self.refused for purpose in Purpose)


def contact(patient: Patient) -> Contact:
    return contacts([patient.pk])[patient.pk]


def contacts(patients: Iterable[int]) -> dict[int, Contact]:
    """Of many patients in one question, by their keys."""
    choices: dict[int, list[ContactChoice]] = {pk: [] for pk in patients}
    for choice in ContactChoice.objects.filter(patient__in=choices).order_by("chosen_at", "pk"):
        choices[choice.patient_id].append(choice)
    return {pk: _contact(made) for pk, made in choices.items()}


def unsaid(purpose: Purpose) -> bool:
    """What holds where nothing was chosen."""
    return purpose != Purpose.COLOUR


def _contact(choices: Iterable[ContactChoice]) -> Contact:
    """Safety and appointments are on until refused; the colour reminder only when asked for; every way until ended."""
    allowed = {purpose: unsaid(purpose) for purpose in Purpose}
    refused: set[tuple[Purpose, Channel]] = set()
    texts = newest = None
    for newest in choices:
        purpose = Purpose(newest.purpose)
        if not newest.channel:
            allowed[purpose] = unsaid(purpose) if newest.allowed is None else newest.allowed
            continue
        way = (purpose, Channel(newest.channel))
        (refused.add if newest.allowed is False else refused.discard)(way)
        texts = newest if way[1] == Channel.TEXT else texts
    return Contact(allowed, frozenset(refused), texts, newest)
