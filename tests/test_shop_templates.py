"""A shop's own templates are hostile until shown otherwise: they reach and break nothing."""

from __future__ import annotations

import os
import shutil
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from conftest import Run
from jinja2 import Environment, FileSystemLoader, StrictUndefined

from pincorner.cli.main import main
from pincorner.errors import BadInput
from pincorner.render.templating import shop_templates, templates
from pincorner.render.templating.sandbox import LONGEST_TEXT, MOST_ITEMS, _short, printed
from pincorner.render.templating.shop_templates import Limits
from pincorner.render.templating.templates import has_own, plain, render_page
from pincorner.shipped import shipped_folder
from pincorner.work.runs import planning

VALUES: dict[str, Any] = {"station": "left", "steps": ["one", "two"], "pin": {"hole": "A1"}}
PAGE = "map.html.j2"


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """A folder for templates whose child process serves all tests of this module."""
    made = tmp_path_factory.mktemp("own") / "templates"
    made.mkdir()
    yield made
    shop_templates.stop_child()


@pytest.fixture
def short(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """A time that a test can wait for."""
    monkeypatch.setattr(shop_templates, "LIMITS", Limits(0.4, 512, 20))
    yield
    shop_templates.stop_child()


@pytest.fixture
def small(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Memory and output that a test fills soon."""
    monkeypatch.setattr(shop_templates, "LIMITS", Limits(60.0, 200, 1))
    yield
    shop_templates.stop_child()


def page(folder: Path, text: str, **more: object) -> str:
    """What a shop's own template makes of VALUES."""
    (folder / PAGE).write_text(text, encoding="utf-8")
    return render_page(PAGE, folder, **VALUES, **more)


def fault(folder: Path, text: str) -> str:
    """The one line that tells what is wrong with a shop's own template."""
    with pytest.raises(BadInput) as raised:
        page(folder, text)
    said = str(raised.value)
    assert said.startswith("template ") and len(said.splitlines()) == 1
    return said


REACHING = [
    "{{ cycler.__init__.__globals__.os.popen('id').read() }}",
    "{{ namespace.__init__.__globals__ }}",
    "{{ joiner.__init__.__globals__['os'] }}",
    "{{ range.__class__ }}",
    "{{ lipsum.__globals__ }}",
    "{{ lipsum(n=1000000000) }}",
    "{{ ''.__class__.__mro__[1].__subclasses__() }}",
    "{{ ''['__class__'] }}",
    "{{ station|attr('__class__') }}",
    "{{ [station]|map(attribute='__class__')|first }}",
    "{{ [station]|map('attr', '__class__')|first }}",
    "{{ [station]|groupby('__class__') }}",
    "{{ [station, station]|sort(attribute='__class__')|first }}",
    "{{ [station]|selectattr('__class__')|list|first }}",
    "{{ [station]|join(', ', attribute='__class__') }}",
    "{{ [station, station]|max(attribute='__class__') }}",
    "{{ '{0.__class__.__mro__}'.format(station) }}",
    "{{ '{a.__class__}'.format_map({'a': station}) }}",
    "{% set f = ''.format %}{{ f() }}",
    "{{ ['{0.__class__}'.format]|first }}",
    "{{ ('{0.__class__}'|safe).format(station) }}",
    "{{ self.__class__ }}",
    "{{ self._TemplateReference__context }}",
    "{{ self.__init__.__globals__ }}",
    "{% macro m() %}{{ caller.__class__ }}{% endmacro %}{% call m() %}x{% endcall %}",
    "{% macro m() %}{% endmacro %}{{ m._func.__globals__ }}",
    "{% macro m() %}{% endmacro %}{{ m._environment }}",
    "{% for s in steps %}{{ loop.__class__ }}{% endfor %}",
    "{% for s in steps %}{{ loop._iterator }}{% endfor %}",
    "{{ pin.__class__ }}",
    "{{ pin.pop('hole') }}",
    "{{ pin.update({'hole': 'B2'}) }}",
    "{{ steps.append('three') }}",
    "{{ steps.clear() }}",
    "{% set ns = namespace() %}{{ ns.__class__ }}",
    "{% set ns = namespace() %}{{ ns._Namespace__attrs }}",
    "{{ (1).to_bytes(1000000000, 'big') }}",
    "{{ 'a'.center(1000000000) }}",
    "{{ 'a'.ljust(1000000000) }}",
    "{{ 'a'.zfill(1000000000) }}",
    "{{ '\t'.expandtabs(1000000000) }}",
    "{{ 'a'.encode() }}",
    "{{ ('a' * 1000000).replace('', 'a' * 1000000) }}",
    "{{ 'a'.join('a' * 1000000) }}",
    "{{ url_for.__globals__ }}",
    "{{ [1, 2]|random }}",
]


@pytest.mark.parametrize("text", REACHING)
def test_nothing_of_the_program_is_reached(folder: Path, text: str) -> None:
    """A template that reaches for the program behind its values ends in one line, at once."""
    said = fault(folder, text)
    assert PAGE in said and "process ended" not in said and "stopped after" not in said


HUGE = [
    "{{ 'a' * 10**10 }}",
    "{{ 10**10 * 'a' }}",
    "{{ station * 10**10 }}",
    "{{ [0] * 10**10 }}",
    "{{ (0, 1) * 10**10 }}",
    "{{ 2 ** (10**10) }}",
    "{{ (10 ** 200) ** 200 }}",
    "{% set ns = namespace(n=9) %}{% for i in range(99) %}{% set ns.n = ns.n * ns.n %}{% endfor %}",
    "{% for i in range(10**9) %}{{ i }}{% endfor %}",
    "{{ range(10**30)|list }}",
    "{{ '%1000000000s' % 'a' }}",
    "{{ '%.1000000000f' % 1.5 }}",
    "{{ '%*s' % (1000000000, 'a') }}",
    "{{ '%(a)1000000000s' % {'a': 1} }}",
    "{{ '%1000000000s'|format('a') }}",
    "{{ '%(a)1000000000s'|format(a=1) }}",
    "{{ ('%s' * 100000) % (('a' * 1000000,) * 100000) }}",
    "{{ 'a'|center(1000000000) }}",
    "{{ ['a']|map('center', 1000000000)|first }}",
    "{{ 'a'|indent(1000000000) }}",
    "{{ ('\n' * 1000000)|indent('a' * 1000000) }}",
    "{{ 'a b c'|wordwrap(1, wrapstring='a' * 4000000) }}",
    "{{ 'a b c'|wordwrap(1, true, 'a' * 4000000) }}",
    "{{ ('a' * 4000000)|replace('', 'a' * 4000000) }}",
    "{{ ('a' * 4000000)|replace('a', 'aaaa') }}",
    "{{ range(100000)|join('a' * 4000000) }}",
    "{{ (['a' * 4000000] * 1000)|join }}",
    "{{ ([['a' * 4000000] * 1000])|join }}",
    "{{ [pin]|map(attribute='hole')|batch(1000000000, 'x')|list }}",
    "{{ steps|slice(1000000000)|list }}",
    "{{ 1.5|round(1000000000) }}",
    "{{ 15|round(-1000000000, 'floor') }}",
    "{{ (('a' * 4000000) ~ ('a' * 4000000))|length }}",
    "{{ (('a' * 4000000) + ('a' * 4000000))|length }}",
    "{{ ('<' * 4000000)|e|length }}",
    "{{ (['a'] * 100000) + ['a'] }}",
    "{% set ns = namespace(t='a') %}{% for i in range(60) %}{% set ns.t = ns.t ~ ns.t %}"
    "{% endfor %}",
    "{% set ns = namespace(t='a') %}{% for i in range(60) %}{% set ns.t = ns.t + ns.t %}"
    "{% endfor %}",
    "{% macro d(t) %}{{ t }}{{ t }}{% endmacro %}{% set ns = namespace(t='a') %}"
    "{% for i in range(60) %}{% set ns.t = d(ns.t) %}{% endfor %}",
    "{{ ['a' * 4000000] * 1000 }}",
    "{{ (['a' * 4000000] * 1000)|string }}",
    "{{ (['a' * 4000000] * 1000)|upper }}",
    "{{ '%s' % (['a' * 4000000] * 1000) }}",
    "{{ '%s' % ((['a' * 4000000] * 1000),) }}",
    "{{ (['a' * 4000000] * 1000) ~ 'a' }}",
]


@pytest.mark.parametrize("text", HUGE)
def test_no_step_makes_huge_things(folder: Path, text: str) -> None:
    """What would make a huge text, list or number of little is refused before it is made."""
    said = fault(folder, text)
    assert said.endswith("; a template may not") and PAGE in said  # not stopped, nor out of memory


def test_bounds_leave_room() -> None:
    """A drawing or a table of 10,000 stations is far below the bounds."""
    assert LONGEST_TEXT >= 1_000_000 and MOST_ITEMS >= 50_000
    drawing = "<circle/>" * 1_000_000  # some 8 MB, as measured
    assert printed(drawing) is drawing


ENDLESS = {
    "loops in loops": "{% for a in range(99999) %}" * 4 + "{% set b = a %}" + "{% endfor %}" * 4,
    "comparing nested lists": "{% set ns = namespace(a=[1], b=[1]) %}{% for i in range(60) %}"
    "{% set ns.a = [ns.a, ns.a] %}{% set ns.b = [ns.b, ns.b] %}{% endfor %}{{ ns.a == ns.b }}",
}


def test_an_endless_loop_is_stopped(
    short: None, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A page that is not done in time is stopped, and one line names the template."""
    began = time.monotonic()
    for name, text in ENDLESS.items():
        said = fault(tmp_path, text)
        told = f"template {PAGE}: stopped after 0.4 s; look for a loop that does not end"
        assert said == told, name
    assert time.monotonic() - began < 60  # the machine may be busy
    monkeypatch.setattr(shop_templates, "LIMITS", Limits(60.0, 512, 20))
    assert page(tmp_path, "{{ station }}") == "left", "the next page has a process of its own"


def test_endless_output_is_stopped(small: None, tmp_path: Path) -> None:
    """A page longer than a page may be is stopped, and one line names the template."""
    said = fault(tmp_path, "{% for a in range(99999) %}{{ 'a' * 1000 }}{% endfor %}")
    assert said == f"template {PAGE}: it makes a page of more than 1 MB"


def test_a_macro_that_calls_itself(folder: Path) -> None:
    """A macro without an end is told as that."""
    said = fault(folder, "{% macro m() %}{{ m() }}{% endmacro %}{{ m() }}")
    assert said == f"template {PAGE}: it calls itself without an end"


@pytest.mark.skipif(sys.platform != "linux", reason="other systems may not limit memory")
def test_memory_is_limited(small: None, tmp_path: Path) -> None:
    """A page that needs more memory than it may have is one line with the template's name."""
    hoard = "{% set ns = namespace(a=[]) %}{% for i in range(9999) %}{% set ns.a = [ns.a, "
    said = fault(tmp_path, hoard + "'a' * (1000000 + i)] %}{% endfor %}")
    assert said.startswith(f"template {PAGE}: it") and "memory" in said
    assert page(tmp_path, "{{ station }}") == "left"


def test_the_limits() -> None:
    """A page of a shop's own has 20 s, 512 MB of memory and 20 MB of output."""
    assert Limits(20.0, 512, 20) == shop_templates.LIMITS


@pytest.mark.parametrize(
    "name",
    ["/etc/passwd", "../secret.txt", "..", "../templates/../secret.txt", "sub/../../secret.txt",
     "..\\\\secret.txt", "C:/secret.txt", "./map.html.j2", "//secret.txt", "sub//x"],
)  # fmt: skip
@pytest.mark.parametrize(
    "how", ["{{% include '{}' %}}", "{{% import '{}' as x %}}", "{{% extends '{}' %}}",
            "{{% include '{}' ignore missing %}}", "{{% from '{}' import x %}}"],
)  # fmt: skip
def test_templates_lie_in_the_folder(folder: Path, how: str, name: str) -> None:
    """No name leads out of the templates folder, by whatever word it is asked for."""
    (folder.parent / "secret.txt").write_text("secret", encoding="utf-8")
    assert "leads out of the templates folder" in fault(folder, how.format(name))


@pytest.mark.skipif(sys.platform == "win32", reason="links need rights there")
class TestLinks:
    """Links in the templates folder."""

    def test_to_a_file_outside(self, tmp_path: Path) -> None:
        """A template that is a link out of the folder is refused."""
        own = tmp_path / "shop" / "templates"
        own.mkdir(parents=True)
        (tmp_path / "elsewhere.j2").write_text("elsewhere", encoding="utf-8")
        (own / PAGE).symlink_to(tmp_path / "elsewhere.j2")
        with pytest.raises(BadInput, match=f"template {PAGE}: {PAGE} leads out .* as a link"):
            render_page(PAGE, own, **VALUES)

    def test_to_a_folder_outside(self, tmp_path: Path) -> None:
        """A folder in the templates folder that is a link out of it is refused."""
        own = tmp_path / "shop" / "templates"
        own.mkdir(parents=True)
        (own / "all").symlink_to(tmp_path)
        (tmp_path / "elsewhere.j2").write_text("elsewhere", encoding="utf-8")
        assert "as a link" in fault(own, "{% include 'all/elsewhere.j2' %}")

    def test_of_the_whole_folder(self, tmp_path: Path) -> None:
        """A templates folder that is itself a link is refused: it could be any folder."""
        (tmp_path / "shop").mkdir()
        (tmp_path / "all").mkdir()
        own = tmp_path / "shop" / "templates"
        own.symlink_to(tmp_path / "all")
        assert "as a link" in fault(own, "{{ station }}")

    def test_that_leads_nowhere(self, tmp_path: Path) -> None:
        """A link that leads nowhere, or to itself, is refused too: ours is not taken silently."""
        for target in (tmp_path / "gone", PAGE):
            own = tmp_path / "templates"
            own.mkdir(exist_ok=True)
            (own / PAGE).unlink(missing_ok=True)
            (own / PAGE).symlink_to(target)
            assert has_own(own)
            with pytest.raises(BadInput, match=f"^template {PAGE}: "):
                render_page(PAGE, own, **VALUES)

    def test_within_the_folder(self, tmp_path: Path) -> None:
        """A link to another template of the folder is followed."""
        own = tmp_path / "templates"
        own.mkdir()
        (own / "other.j2").write_text("other", encoding="utf-8")
        (own / PAGE).symlink_to("other.j2")
        assert render_page(PAGE, own, **VALUES) == "other"

    def test_a_fifo_is_no_template(self, tmp_path: Path) -> None:
        """What is no file is refused and not waited for."""
        own = tmp_path / "templates"
        own.mkdir()
        os.mkfifo(own / PAGE)
        with pytest.raises(BadInput, match="is not a file"):
            render_page(PAGE, own, **VALUES)


def test_no_folder_above(tmp_path: Path) -> None:
    """A templates folder above the shop's is not looked into."""
    (tmp_path / "templates").mkdir()
    (tmp_path / "templates" / PAGE).write_text("above", encoding="utf-8")
    (tmp_path / "shop" / "templates").mkdir(parents=True)
    assert not has_own(tmp_path / "shop" / "templates")


def test_the_shop_folder_holds_no_modules(
    shop: Path, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A jinja2.py or json.py that lies in the shop folder is not run for its templates."""
    for name in ("jinja2", "markupsafe", "json", "resource", "pincorner", "sitecustomize"):
        (shop / f"{name}.py").write_text(
            f"open({str(shop / 'ran')!r}, 'w').close()\nraise SystemExit", encoding="utf-8"
        )
    (shop / "templates" / "sheet.html.j2").write_text("{{ station }}", encoding="utf-8")
    assert run("sheet", "left", "-o", "new").code == 0
    assert not (shop / "ran").exists()


def test_an_attack_from_the_command_line(shop: Path, run: Run) -> None:
    """An attack is one line and exit code 2, nothing is run and nothing is written."""
    attack = "{{ cycler.__init__.__globals__.os.popen('echo > ran').read() }}"
    (shop / "templates" / "sheet.html.j2").write_text(attack, encoding="utf-8")
    ran = run("sheet", "left", "-o", "new")
    assert (ran.code, ran.out) == (2, "") and ran.err.count("\n") == 1
    assert ran.err.startswith("template sheet.html.j2:1: ") and "unsafe" in ran.err
    assert not (shop / "ran").exists() and not list((shop / "new").glob("*"))


def test_a_style_of_its_own_in_our_sheet(shop: Path, run: Run) -> None:
    """A template that the shipped page includes is the shop's own too, and as narrowly held."""
    (shop / "templates" / "sheet.css.j2").write_text("{{ ''.__class__ }}", encoding="utf-8")
    ran = run("sheet", "left", "-o", "new")
    assert ran.code == 2 and ran.err.startswith("template sheet.css.j2:1: ")
    (shop / "templates" / "sheet.css.j2").write_text("of our own", encoding="utf-8")
    assert run("sheet", "left", "-o", "new").code == 0
    assert "<style>\nof our own" in (shop / "new" / "left.html").read_text(encoding="utf-8")


def test_a_shop_without_templates_starts_no_process(
    shop: Path, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Only a shop that has a template of its own pays for a process; one serves all its pages."""
    started: list[object] = []

    class Counted(shop_templates._Child):
        def __init__(self, *given: Any) -> None:
            started.append(given)
            super().__init__(*given)

    monkeypatch.setattr(shop_templates, "_Child", Counted)
    assert run("sheet", "left", "right", "-o", "ours").code == 0 and started == []
    (shop / "templates" / "sheet.html.j2").write_text("{{ station }}", encoding="utf-8")
    assert run("sheet", "left", "right", "-o", "own").code == 0 and len(started) == 1
    assert len(list((shop / "own").glob("*.html"))) == 2


ALLOWED = {
    "{{ station|upper }} {{ 'a' ~ station ~ 1 }}": "LEFT aleft1",
    "{{ steps|join(' and ') }}": "one and two",
    "{{ steps|map('upper')|join('') }}": "ONETWO",
    "{{ [pin, pin]|map(attribute='hole')|join('+') }}": "A1+A1",
    "{{ [pin, pin]|join('+', attribute='hole') }}": "A1+A1",
    "{{ '%-6s|' % station }}{{ '%s of %s'|format(1, 2) }}": "left  |1 of 2",
    "{{ '<' ~ mark }}{{ mark ~ '<' }}{{ mark }}": "&lt;<i><i>&lt;<i>",
    "{{ '=' * 3 }}{{ 2 ** 3 }}{{ 7 % 4 }}{{ 1 + 2 }}{{ station|center(8) }}.": "===833  left  .",
    "{% for s in steps %}{{ loop.index }}{{ s }}{{ '' if loop.last else ';' }}{% endfor %}":
        "1one;2two",
    "{% macro m(a) %}<b>{{ a }}{{ caller() }}</b>{% endmacro %}{% call m('&') %}x{% endcall %}":
        "<b>&amp;x</b>",
    "{% set ns = namespace(n=0) %}{% for i in range(4) %}{% set ns.n = ns.n + i %}{% endfor %}"
    "{{ ns.n }}": "6",
    "{% for key, value in pin.items() %}{{ key }}={{ value }}{% endfor %}": "hole=A1",
    "{% block b %}x{% endblock %}{{ self.b() }}": "xx",
    "{% import 'parts/m.j2' as m %}{{ m.bold(station) }}{{ m.word }}": "<b>left</b>w",
    "{% set c = cycler('a', 'b') %}{{ c.next() }}{{ c.next() }}": "ab",
    "{{ own.items }} {{ own.keys }}": "1 2",
}  # fmt: skip


@pytest.mark.parametrize("text", ALLOWED)
def test_what_templates_do_works(folder: Path, text: str) -> None:
    """Loops, macros, blocks, imports, filters and a little arithmetic work as in plain Jinja."""
    (folder / "parts").mkdir(exist_ok=True)
    macro = "{% macro bold(t) %}<b>{{ t }}</b>{% endmacro %}{% set word = 'w' %}"
    (folder / "parts" / "m.j2").write_text(macro, encoding="utf-8")
    mark = templates.Markup("<i>")
    assert page(folder, text, mark=mark, own={"items": 1, "keys": 2}) == ALLOWED[text]


@pytest.fixture(scope="module")
def rendered(
    demo_once: Path, tmp_path_factory: pytest.TempPathFactory
) -> list[tuple[str, dict[str, object]]]:
    """Every text and page that commands make in the demo: template, values."""
    found: list[tuple[str, dict[str, object]]] = []
    shop = tmp_path_factory.mktemp("rendered") / "shop"
    with pytest.MonkeyPatch.context() as patch:
        kept = templates.plain

        def watched(value: Any) -> object:
            caller = sys._getframe(1)
            if caller.f_code.co_name in ("render_text", "render_page"):
                found.append((caller.f_locals.get("template") or caller.f_locals["name"], value))
            return kept(value)

        patch.setattr(templates, "plain", watched)
        patch.setattr(planning, "_helps", lambda *_: ())  # most of the time of a run
        shutil.copytree(demo_once, shop)
        patch.chdir(shop)
        for line in COMMANDS:
            assert main(line.split()) in (0, 1), line
    return found


COMMANDS = [
    "block left",
    "sheet left -o new",
    "map long-bench -o map.html",
    "explain left",
    "check hand-hold --station left -o check.html",
    "run three-sides -o run.html",
    "history left -o history.html",
    "survey long-bench long-bench-survey.csv -o survey.html",
    "place end-bar-cradle --bed long-bench -o place.html",
]


def test_pages_are_the_bytes_of_plain_jinja(
    rendered: list[tuple[str, dict[str, object]]], tmp_path: Path
) -> None:
    """Shipped templates give the same bytes in the sandbox, in a child, and in plain Jinja."""
    names = {path.name for path in shipped_folder("templates").glob("*.j2")} - {
        "sheet.css.j2",
        "screen.css.j2",
    }
    assert {name for name, _ in rendered} == names
    loader = FileSystemLoader(shipped_folder("templates"), encoding="utf-8")
    common = {"loader": loader, "undefined": StrictUndefined, "trim_blocks": True,
              "lstrip_blocks": True, "keep_trailing_newline": True}  # fmt: skip
    pages = Environment(autoescape=True, **common)
    texts = Environment(
        autoescape=False,
        finalize=lambda value: " ".join(value.splitlines()) if isinstance(value, str) else value,
        **common,
    )
    own = tmp_path / "templates"
    own.mkdir()
    for path in shipped_folder("templates").glob("*.j2"):
        (own / path.name).write_bytes(path.read_bytes())
    for name, values in rendered:
        if name.endswith((".html.j2", ".css.j2")):
            expected = pages.get_template(name).render(values)
            assert render_page(name, None, **values) == expected
            assert render_page(name, own, **values) == expected
        else:
            assert templates.render_text(name, **values) == texts.get_template(name).render(values)


def test_only_plain_data_is_handed_over() -> None:
    """A value that leads on to the program cannot be given to a template by mistake."""
    for value in (Path(), test_the_limits, object(), {"a": [Limits]}, b"bytes"):
        with pytest.raises(TypeError, match="cannot be given"):
            plain({"value": value})
    assert plain(Limits(1.0, 2, 3)) == {"seconds": 1.0, "memory_mb": 2, "output_mb": 3}


def test_a_number_is_told_where_it_can_be_read() -> None:
    """What a template asks for is told as a figure, but for integers of hundreds of digits."""
    assert (_short(2_000_001), _short(1e30), _short(10**400)) == ("2000001", "1e+30", "so much")
