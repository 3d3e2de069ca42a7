from __future__ import annotations

from inventory.catalog.load import catalog
from inventory.models import Severity
from inventory.templatetags.walk import CHOICE_KEYS, choice_key, faults_at


def test_a_part_lists_the_faults_of_its_role_in_their_order_and_no_others():
    trade = catalog()
    for part in trade.kinds["trumpet"].parts:
        html = faults_at(part)
        places = [html.index(f'name="fault" value="{code}"') for code in trade.faults_offered(part)]
        assert places == sorted(places)
        assert html.count('name="fault"') == len(places)


def test_words_of_the_trade_are_text_and_details_belong_to_their_fault():
    piston = catalog().kinds["trumpet"].part("piston")
    html = faults_at(piston)
    assert 'name="detail-valve_stuck" value="up"' in html
    assert catalog().faults["valve_stuck"].name in html
    assert faults_at(piston) is html


def test_each_choice_has_its_own_key_and_none_that_a_severity_or_a_link_beside_it_has():
    """The house's own: a key shown once means one thing on the page."""
    keys = [choice_key(number) for number in range(1, len(CHOICE_KEYS) + 2)]
    assert keys[:10] == list("1234567890")
    assert keys[-1] == ""
    assert len(set(keys)) == len(keys)
    assert not set(keys) & {"B", "O", *(severity.value[0].upper() for severity in Severity)}
    offered = [len(catalog().faults_offered(part)) for kind in catalog().kinds.values() for part in kind.parts]
    assert max(offered) <= len(CHOICE_KEYS)
