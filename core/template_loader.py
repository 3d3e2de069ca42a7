"""Loads templates without the white space that lays them out."""

from __future__ import annotations

import re
from typing import Any

from django.template.base import Origin, Template, TextNode
from django.template.loaders import cached

RUN = re.compile(r"[ \t\r\n]+")
BEFORE_END_OF_TAG = re.compile(r"[ \t\r\n]+(/?>)")


def squeeze(text: str) -> str:
    """Return markup with each run of white space as one space, and none before the end of a tag."""
    return RUN.sub(" ", BEFORE_END_OF_TAG.sub(r"\1", text))


class Loader(cached.Loader):
    """The cached loader; what it keeps has no indentation, so that a page that reads well is no heavier on its way.

    Works on the parsed template: a template error still names its line. A browser shows a run of white space as one
    space anyway, except in ``pre`` and ``textarea``, which hold only variables here.
    """

    def get_template(self, template_name: str, skip: list[Origin] | None = None) -> Template:
        is_kept = self.cache_key(template_name, skip) in self.get_template_cache
        template: Any = super().get_template(template_name, skip)
        if not is_kept and template_name.endswith(".html"):
            for node in template.nodelist.get_nodes_by_type(TextNode):
                node.s = squeeze(node.s)
        return template  # type: ignore[no-any-return]
