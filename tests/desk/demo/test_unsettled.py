import pytest

from desk.demo.unsettled import TOKEN, report_lost, send_link
from desk.demo.year import lend_instruments
from desk.selectors.verifying import differences
from loans.models import Loan, Loss, SigningLink
from loans.selectors.signing_links import OPENS, link_of, standing_of
from tests.desk.demo.stages import make_stage

pytestmark = pytest.mark.drill


def test_a_link_waits_to_be_signed_and_a_lost_instrument_is_searched_for(db, client):
    stage = make_stage(seen=True, share=0.3)
    lend_instruments(stage, days=-75, due_days=190)
    assert report_lost(stage) is not None
    assert send_link(stage) is not None
    link, loss = SigningLink.objects.get(), Loss.objects.open().get()
    at = stage.at(0, 12)
    assert standing_of(link_of(TOKEN), at=at) in OPENS
    assert link.guardian.email
    assert link.guardian.student_id == link.loan.student_id
    assert set(loss.steps) == {"search", "family"}
    assert loss.loan.instrument.whereabouts == "not_found"
    assert Loan.objects.unsigned().get() == link.loan
    assert differences()[1] == []
