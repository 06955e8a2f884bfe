"""Going in by a private link, as far as a test needs to."""

from django.http import HttpResponseBase
from django.test import Client
from django.urls import reverse

BIRTH = "17 5 1990"
CLOSED = 410


def opened(phone: Client, address: str) -> Client:
    phone.post(address)
    return phone


def known(phone: Client, address: str) -> Client:
    opened(phone, address).post(reverse("private_who"), {"birth_on": BIRTH})
    return phone


def is_private(response: HttpResponseBase) -> bool:
    return response.headers["Cache-Control"] == "no-store" and response.headers["Referrer-Policy"] == "no-referrer"
