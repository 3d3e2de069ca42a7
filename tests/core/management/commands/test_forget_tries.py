import io

import pytest
from django.core.management import call_command


@pytest.mark.django_db
def test_it_says_how_many_went():
    said = io.StringIO()
    call_command("forget_tries", stdout=said)
    assert said.getvalue() == "Rows of old log-ins and links deleted: 0.\n"
