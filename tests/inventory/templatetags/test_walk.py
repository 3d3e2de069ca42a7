from __future__ import annotations

from inventory.catalog.load import catalog
from inventory.templatetags.walk import faults_at


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
