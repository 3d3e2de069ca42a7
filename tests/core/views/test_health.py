import pytest
from django.db.migrations.recorder import MigrationRecorder
from django.urls import reverse


@pytest.mark.django_db
def test_health_is_well_when_every_migration_is_applied(client):
    assert client.get(reverse("core:health")).json() == {"status": "ok"}


@pytest.mark.django_db
def test_health_is_ill_when_a_migration_waits(client):
    MigrationRecorder.Migration.objects.filter(app="loans").delete()
    answer = client.get(reverse("core:health"))
    assert answer.status_code == 503
    assert answer.json()["status"] == "migrations waiting"
