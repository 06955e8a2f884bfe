"""GiST over plain ids, for the constraint that refuses overlapping claims (clinic.diary.overlap). PostgreSQL only."""

from django.contrib.postgres.operations import BtreeGistExtension
from django.db import migrations


class Migration(migrations.Migration):
    dependencies = [("clinic_diary", "0002_initial")]
    operations = [BtreeGistExtension()]
