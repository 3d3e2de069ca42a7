"""core.template_loader: indentation stays in the file."""

import pytest
from django.template import Engine, TemplateSyntaxError

from core.template_loader import squeeze


@pytest.fixture
def engine(tmp_path):
    loaders = [("core.template_loader.Loader", [("django.template.loaders.filesystem.Loader", [str(tmp_path)])])]
    return Engine(loaders=loaders, libraries={"i18n": "django.templatetags.i18n"})


def rendered(engine, name, **context):
    from django.template import Context

    return engine.get_template(name).render(Context(context))


@pytest.mark.parametrize(
    ("laid_out", "sent"),
    [
        ("<p>\n    Two\n    words\n</p>", "<p> Two words </p>"),
        ('<input\n  type="text"\n  required\n>', '<input type="text" required>'),
        ("<br\n/>", "<br/>"),
        ("grade\u00a07", "grade\u00a07"),
        ("no change", "no change"),
    ],
)
def test_a_run_of_white_space_becomes_one_space(laid_out, sent):
    assert squeeze(laid_out) == sent


def test_text_in_every_branch_is_squeezed_and_a_value_is_not(engine, tmp_path):
    (tmp_path / "a.html").write_text(
        "{% if yes %}\n  <b\n  >\n    {{ value }}\n  </b>\n{% else %}\n\n  no\n{% endif %}{% for x in 'ab' %}\n\n{{ x }}{% endfor %}"
    )
    assert rendered(engine, "a.html", yes=True, value="1\n  2") == " <b> 1\n  2 </b>  a b"
    assert rendered(engine, "a.html", yes=False) == " no  a b"


def test_a_second_look_gives_the_kept_template(engine, tmp_path):
    (tmp_path / "a.html").write_text("a\n\nb")
    assert engine.get_template("a.html") is engine.get_template("a.html")


def test_other_files_stay_as_they_are(engine, tmp_path):
    (tmp_path / "a.css").write_text("a {\n  color: red;\n}")
    assert rendered(engine, "a.css") == "a {\n  color: red;\n}"


def test_an_error_names_its_line(engine, tmp_path):
    (tmp_path / "a.html").write_text("<p>\n\n{% nothing %}")
    with pytest.raises(TemplateSyntaxError, match="line 3"):
        engine.get_template("a.html")
