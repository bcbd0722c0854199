"""Damaged, hostile and nonsensical files: one sentence, no traceback, no path out of its folder."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from handsfree.checklist.loader import load_checklist
from handsfree.checklist.rig_file import Rig, load_rig
from handsfree.errors import AuthorError, HandsfreeError
from handsfree.language.loader import load_language
from handsfree.language.matcher import Matcher
from handsfree.rehearsal.script import Script, check_script, load_script
from handsfree.review.importing import import_journals
from handsfree.review.timings import read_session
from handsfree.session.conversation import Conversation
from handsfree.session.opening import go_on, start_new
from handsfree.storage import journal
from handsfree.storage.lines import to_plain
from handsfree.storage.paths import checklists_folder
from handsfree.storage.record import latest, next_path, rig_folder, summary
from handsfree.testing import talk
from tests.session.conftest import SMALL

QUICK = settings(max_examples=120, deadline=None, suppress_health_check=[
    HealthCheck.function_scoped_fixture, HealthCheck.too_slow])


# --- journals -------------------------------------------------------------------------------------

@pytest.fixture(scope="module")
def told(small, english) -> bytes:  # type: ignore[no-untyped-def]
    """A journal of a real conversation."""
    log = talk(small, english, Script(readings={"volts": ("ninety volts",)},
                                      answers={"water here": True}), turns=9).log
    return "".join(json.dumps({"n": line.n, "at": line.at, "t": line.t, **to_plain(line)}) + "\n"
                   for line in log.lines if line.what in ("begun", "event", "heard")).encode()


JUNK = st.one_of(
    st.binary(max_size=60), st.text(max_size=40).map(lambda text: text.encode("utf-8", "replace")),
    st.recursive(st.one_of(st.none(), st.booleans(), st.integers(), st.floats(),
                           st.text(max_size=8)),
                 lambda inner: st.lists(inner, max_size=3) | st.dictionaries(
                     st.sampled_from(["what", "n", "t", "at", "then", "event", "type", "on", "off",
                                      "step", "reading", "record", "known", "x"]), inner,
                     max_size=5), max_leaves=12).map(lambda data: json.dumps(data).encode()))


def values_of(what: str) -> st.SearchStrategy[bytes]:
    """A line of a known kind whose values are of any type."""
    wild = st.one_of(st.none(), st.booleans(), st.integers(-5, 5), st.text(max_size=5),
                     st.lists(st.one_of(st.integers(), st.text(max_size=5)), max_size=3),
                     st.dictionaries(st.sampled_from(["type", "event", "value", "unit", "what"]),
                                     st.one_of(st.text(max_size=5), st.integers()), max_size=3))
    keys = ["on", "off", "step", "kind", "band", "try", "event", "then", "record", "known", "plan",
            "open", "reading", "n", "t", "at", "session", "rig", "checklist", "digest"]
    return st.dictionaries(st.sampled_from(keys), wild, max_size=8).map(
        lambda values: json.dumps({"what": what, **values}).encode())


LINES = st.one_of(JUNK, st.sampled_from(
    ["begun", "event", "changed", "reported", "offered", "skipped", "failed", "closed", "heard",
     "spoke", "note", "restarted", "paused", "zzz"]).flatmap(values_of))


@settings(QUICK, max_examples=40)
@given(data=st.data())
def test_any_journal_is_read_summed_up_reviewed_and_gone_on_with(
    tmp_path_factory: pytest.TempPathFactory, small: Any, told: bytes, data: st.DataObject
) -> None:
    folder = tmp_path_factory.mktemp("rig")
    lines = told.splitlines()
    for _ in range(data.draw(st.integers(1, 4))):
        place = data.draw(st.integers(0, len(lines)))
        lines[place:place + data.draw(st.integers(0, 1))] = [data.draw(LINES)]
    raw = b"\n".join(lines) + data.draw(st.sampled_from([b"\n", b"", b"\n\n", b"\n{", b"\0\0"]))
    path = next_path(folder, "small")
    path.parent.mkdir(parents=True)
    path.write_bytes(raw)
    found = journal.read(path)
    assert all(isinstance(line.what, str) for line in found.lines)
    summary(path)
    assert len(found.lines) == len(found.raw)
    for call in (lambda: read_session(path), lambda: latest(folder),
                 lambda: _gone_on(folder, small), lambda: _begun(folder, small),
                 lambda: import_journals(folder, folder.parent / "data")):
        try:
            call()
        except HandsfreeError as problem:
            assert "\n" not in str(problem)


def _gone_on(folder: Path, small: Any) -> None:
    started = go_on(small, folder)
    conversation = Conversation(small, load_language("en"), started.log)
    started.begin(conversation, 0.0, started.log)
    started.log.close()


def _begun(folder: Path, small: Any) -> None:
    started = start_new(small, Rig("trailer"), folder, {})
    started.begin(Conversation(small, load_language("en"), started.log), 0.0, started.log)
    started.log.close()


@pytest.mark.parametrize("hostile", [
    b"[" * 100_000, b'{"what":' * 50_000, b'{"what": "begun", "record": ' + b"[" * 5000,
    b'{"what": "event", "event": ' + b'{"type": "Unsure", "event": ' * 400 + b"1" + b"}" * 401,
    b'{"what": "begun", "n": 1e999, "t": NaN, "at": "9999-99-99"}', b"\xff\xfe" * 100,
    b'{"what": "event", "event": {"type": "__class__"}}', b'{"n": ' + b"9" * 6000 + b"}"])
def test_hostile_lines(tmp_path: Path, hostile: bytes) -> None:
    path = tmp_path / "000001-a.jsonl"
    path.write_bytes(b'{"what": "begun", "record": []}\n' + hostile + b'\n{"what": "closed"}\n')
    found = journal.read(path)
    assert found.lines[0].what == "begun" and found.lines[-1].what == "closed"
    summary(path)
    journal.Journal(path).close()


@pytest.mark.parametrize("name", ["../../etc/passwd", "..", "/etc/passwd", "a/b", "\0", "C:\\x",
                                  ""])
def test_no_name_leads_out_of_its_folder(tmp_path: Path, name: str) -> None:
    inside = tmp_path.resolve() / "rigs"
    assert inside in rig_folder(tmp_path, name).resolve().parents
    assert inside in next_path(rig_folder(tmp_path, name), name).resolve().parents
    source = tmp_path / "from"
    source.mkdir()
    (source / "a.jsonl").write_text(json.dumps(
        {"what": "begun", "session": f"{name}s", "rig": name, "checklist": name, "n": 1, "t": 0,
         "at": "2026-05-01T10:00:00+00:00", "record": [], "known": [], "plan": []}) + "\n")
    done = import_journals(source, tmp_path / "data")
    assert all((tmp_path / "data").resolve() in path.resolve().parents for path in done.new)


# --- files that people write ----------------------------------------------------------------------

RIG_TEXT = """\
name: Survey trailer
has: [slide-out, gas]
limits:
  water psi high: 50
notes: Two axles.
"""
SCRIPT_TEXT = """\
title: A day
checklist: small
variant: m3
pace: 150
work: 1.5
snr: 20
answers: {water here: yes}
readings: {volts: [ninety volts, one eighteen]}
at: {chock: [go to pull away, say again]}
then: [yes]
"""


def _load(kind: str, path: Path, small: Any) -> Any:
    if kind == "rig":
        return load_rig(path)
    if kind == "script":
        loaded = load_script(path)
        check_script(loaded, small, Matcher(load_language("en")))
        return loaded
    return load_checklist(path, library=checklists_folder())


TEXTS = {"rig": RIG_TEXT, "script": SCRIPT_TEXT, "checklist": SMALL}
PIECES = ["", "- ", ": ", "{", "}", "[", "]", "&a ", "*a", "!!python/object:os.system ", "!x ", "'",
          '"', "\t", "#", "|\n", "? ", "null", "~", "1e999", "-1", ".nan", "yes", "\0", "\ufeff",
          "include: ../../etc/passwd", "id: ../x", "\n\n", "<<: ", "é" * 20, "of: volts",
          "x" * 300]


@QUICK
@given(kind=st.sampled_from(sorted(TEXTS)), data=st.data())
@example(kind="rig", data=None)
def test_a_mistake_in_a_file_is_one_sentence_with_file_and_mend(
    tmp_path_factory: pytest.TempPathFactory, small: Any, kind: str, data: st.DataObject | None
) -> None:
    lines = TEXTS[kind].splitlines()
    if data is not None:
        for _ in range(data.draw(st.integers(1, 3))):
            number = data.draw(st.integers(0, len(lines) - 1))
            line, piece = lines[number], data.draw(st.sampled_from(PIECES))
            at = data.draw(st.integers(0, len(line)))
            to = data.draw(st.sampled_from([at, at + 1, at + 4, len(line)]))
            lines[number] = data.draw(st.sampled_from(
                [line[:at] + piece + line[to:], "  " + line, line.strip(), line + "\n" + line]))
    path = tmp_path_factory.mktemp("own") / f"{kind}.yaml"
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    try:
        _load(kind, path, small)
    except AuthorError as problem:
        said = str(problem)
        assert said.startswith(str(path)) and said.endswith(".") and "\n" not in said
        assert problem.mend


@pytest.mark.parametrize("kind", sorted(TEXTS))
def test_yaml_runs_nothing_and_grows_no_billion_laughs(
    tmp_path: Path, small: Any, kind: str
) -> None:
    mark = tmp_path / "ran"
    laughs = "a: &a [x, x, x, x, x, x, x, x, x]\n" + "".join(
        f"{name}: &{name} [{', '.join(f'*{before}' for _ in range(9))}]\n"
        for before, name in zip("abcdefgh", "bcdefghi", strict=True))
    for text in (f"title: !!python/object/apply:os.system ['touch {mark}']\n", laughs,
                 "title: " + "[" * 20_000, "title: x\n" * 400_000, "? " * 5000, "{" * 3000):
        path = tmp_path / f"{kind}.yaml"
        path.write_text(text, encoding="utf-8")
        with pytest.raises(AuthorError) as caught:
            _load(kind, path, small)
        assert str(path) in str(caught.value)
    assert not mark.exists()


@pytest.mark.parametrize("make", [
    lambda path: path.mkdir(), lambda path: path.symlink_to("nowhere"),
    lambda path: path.write_bytes(b"\xff\xfe\x00title"), lambda path: path.write_bytes(b""),
    lambda path: path.write_bytes(b"\0"), lambda path: path.write_bytes(b"- a\n- b\n")])
@pytest.mark.parametrize("kind", sorted(TEXTS))
def test_what_is_no_text_file(
    tmp_path: Path, small: Any, kind: str, make: Callable[[Path], object]
) -> None:
    path = tmp_path / f"{kind}.yaml"
    make(path)
    with pytest.raises(AuthorError):
        _load(kind, path, small)


@pytest.mark.parametrize("include", ["../secret.yaml", "/etc/passwd", "a/../../secret.yaml",
                                     "link.yaml", "."])
def test_an_include_stays_in_its_folder(tmp_path: Path, include: str) -> None:
    (tmp_path / "secret.yaml").write_text("facts:\n  secret: the secret is out\n")
    folder = tmp_path / "deep" / "lists"
    folder.mkdir(parents=True)
    (folder / "link.yaml").symlink_to(tmp_path / "secret.yaml")
    path = folder / "own.yaml"
    path.write_text(f"title: Own\ninclude: {include}\nsteps:\n  - {{id: a, do: Do it.}}\n")
    with pytest.raises(AuthorError):
        load_checklist(path)
