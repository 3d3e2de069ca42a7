from inventory.catalog.chart_schema import Fingering


def test_a_fingering_without_keys_is_said_open():
    bare = Fingering(press=(), keys=(), sounds_from="a", must_seal=frozenset(), must_open=frozenset())
    assert bare.words == "open"
    assert (
        Fingering(
            press=("T", "L1"), keys=("T", "L1"), sounds_from="a", must_seal=frozenset(), must_open=frozenset()
        ).words
        == "T L1"
    )
