from __future__ import annotations

import pypdfium2
import pytest
import zxingcpp

from inventory.exceptions import NoPublicAddressError
from inventory.models import Tag
from inventory.pdf.printing import label_of, print_labels, public_address
from inventory.rules.labels import SHEETS, LabelError
from inventory.services.registering import issue_tag
from tests.factories import NOW, make_instrument

ADDRESS = "https://horns.elm.example"


def test_without_a_public_address_nothing_is_printed(settings):
    settings.PUBLIC_ADDRESS, settings.DEMO = "", False
    with pytest.raises(NoPublicAddressError, match="HORNBOOK_PUBLIC_ADDRESS"):
        public_address(in_demo="http://127.0.0.1:8000")


def test_only_a_demonstration_stands_in_its_own_address(settings):
    settings.PUBLIC_ADDRESS, settings.DEMO = "", True
    assert public_address(in_demo="http://127.0.0.1:8000") == "http://127.0.0.1:8000"
    settings.PUBLIC_ADDRESS = ADDRESS
    assert public_address(in_demo="http://127.0.0.1:8000") == ADDRESS


@pytest.mark.django_db
def test_a_label_says_number_kind_and_school(school):
    instrument = make_instrument(school=school)
    label = label_of(Tag.objects.get(), address=ADDRESS)
    assert (label.asset_number, label.kind, label.school) == (instrument.asset_number, "Trumpet", school.name)
    assert label.url == label.url.upper()


@pytest.mark.django_db
def test_the_label_of_a_mouthpiece_says_so(school):
    instrument = make_instrument(school=school)
    piece = instrument.accessories.get(code="mouthpiece")
    tag = issue_tag(instrument=instrument, accessory=piece, actor=None, at=NOW)
    assert label_of(tag, address=ADDRESS).kind == f"{piece.name}, Trumpet"


@pytest.mark.django_db
def test_what_is_printed_reads_back_and_is_noted(school, director):
    for _ in range(3):
        make_instrument(school=school)
    tags = list(Tag.objects.select_related("instrument__school", "accessory"))
    pdf = print_labels(tags=tags, address=ADDRESS, sheet=SHEETS["30up"], actor=director, at=NOW, start=29)
    pages = [page.render(scale=300 / 72).to_pil() for page in pypdfium2.PdfDocument(pdf)]
    read = [[code.text for code in zxingcpp.read_barcodes(page)] for page in pages]
    assert [len(codes) for codes in read] == [2, 1]
    assert {text for codes in read for text in codes} == {tag.address(home=ADDRESS) for tag in tags}
    assert not Tag.objects.filter(printed_at=None).exists()


@pytest.mark.django_db
def test_a_place_that_is_not_on_the_sheet_notes_nothing(school, director):
    make_instrument(school=school)
    tags = list(Tag.objects.select_related("instrument__school", "accessory"))
    with pytest.raises(LabelError, match="Position 31"):
        print_labels(tags=tags, address=ADDRESS, sheet=SHEETS["30up"], actor=director, at=NOW, start=31)
    assert Tag.objects.get().printed_at is None
