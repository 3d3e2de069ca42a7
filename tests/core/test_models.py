import pytest
from django.db import IntegrityError

from core.exceptions import RefusedError
from core.models import PostedForm, User
from tests.factories import NOW, make_school


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


@pytest.mark.django_db
def test_a_form_whose_row_is_gone_is_refused_in_words():
    school = make_school()
    form = PostedForm.objects.create(
        key="k", service="add_school", posted_at=NOW, result_type="inventory.school", result_id=str(school.pk)
    )
    assert form.result() == school
    school.delete()
    with pytest.raises(RefusedError, match="removed"):
        form.result()
