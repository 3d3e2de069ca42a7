"""A template draws a kind as a player knows it."""

from __future__ import annotations

from django.template import Context, Template

from inventory.catalog.load import catalog
from inventory.rules.picture.silhouettes import silhouette_svg

PAGE = Template("{% load silhouettes %}{% silhouette kind %}")


def test_a_template_draws_a_kind_and_nothing_for_a_lost_one():
    assert PAGE.render(Context({"kind": catalog().kinds["sousaphone"]})) == silhouette_svg("sousaphone")
    assert PAGE.render(Context({"kind": catalog().kind("glass_harp")})) == ""
