"""Trigrams, for finding a patient by any part of a name (clinic.patients.trigrams). PostgreSQL only."""

from django.contrib.postgres.operations import TrigramExtension
from django.db import migrations


class Migration(migrations.Migration):
    dependencies = [("clinic_patients", "0001_initial")]
    operations = [TrigramExtension()]
