"""Who did not hear a step did not hear its caution either."""

from pathlib import Path

import pytest

from handsfree.checklist.loader import load_checklist
from handsfree.hearing.types import Hypothesis
from handsfree.language.loader import language_names, load_language
from handsfree.session.conversation import Conversation
from handsfree.testing import MemoryLog

LIST = """\
title: Tiny
steps:
  - {id: jack, do: Lower the jack., caution: Feet clear.}
  - {id: mat, do: Lay the mat out.}
"""


@pytest.mark.parametrize("code", language_names())
@pytest.mark.parametrize("form", ("brief", "usual"))
def test_say_again_keeps_the_caution(code: str, form: str, tmp_path: Path) -> None:
    path = tmp_path / "tiny.yaml"
    path.write_text(LIST)
    language = load_language(code)
    conversation = Conversation(load_checklist(path), language, MemoryLog())
    conversation.wording.form = form
    first = " ".join(prompt.text for prompt in conversation.begin(frozenset(), 0.0))
    assert "Feet clear" in first
    for at in (1.0, 2.0):
        said = conversation.hear(
            Hypothesis(language.commands["repeat"][0], 1.0, at, at, engine="keyboard"), at)
        assert "Feet clear. Lower the jack." in " ".join(prompt.text for prompt in said)
