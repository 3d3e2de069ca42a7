import pytest
from django.db import IntegrityError

from core.models import User


@pytest.mark.django_db
def test_two_people_cannot_share_a_name_in_other_letters():
    User.objects.create_user("Pat", "a-long-enough-word", name="Pat")
    with pytest.raises(IntegrityError):
        User.objects.create_user("pat", "a-long-enough-word", name="Other Pat")


@pytest.mark.django_db
def test_the_password_is_kept_as_a_hash():
    user = User.objects.create_user("pat", "a-long-enough-word", name="Pat")
    assert "a-long-enough-word" not in user.password
    assert user.check_password("a-long-enough-word")
