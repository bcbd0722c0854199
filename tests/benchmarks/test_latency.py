"""The stop watch of `bench latency`: every reply is timed, from the true end of the speech."""

import json
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from benchmarks.latency import Reply, latency, speech_end, summary, timed
from handsfree.audio import silence
from handsfree.hearing.engines import open_recogniser
from handsfree.language.loader import load_language

LIST = """\
title: Small stay
facts: {chocked: the wheels are chocked}
steps:
  - {id: walk, do: Walk round.}
  - {id: volts, do: Look at the meter., reading: {of: volts, between: [100, 130]}}
  - {id: chock, do: Chock both wheels., respond: chocks set, gives: chocked}
  - {id: mat, do: Lay out the mat.}
"""


@pytest.fixture(scope="module")
def replies(tmp_path_factory: pytest.TempPathFactory) -> dict[bool, list[Reply]]:
    folder = tmp_path_factory.mktemp("latency")
    (folder / "small.yaml").write_text(LIST, encoding="utf-8")
    ear = open_recogniser("own", "en", None, load_language("en").pronunciations)
    return {early: timed(str(folder / "small.yaml"), ear, folder / str(early), early=early,
                         plain=early) for early in (True, False)}


def test_every_utterance_of_every_kind_is_timed(replies: dict[bool, list[Reply]]) -> None:
    # "say again" and "tell me more" are slipped in at the first and the fourth step.
    assert [reply.kind for reply in replies[True]] == [
        "command", "command", "reading", "confirmation", "hold response", "confirmation",
        "command", "command"]
    assert all(reply.said == reply.heard for reply in replies[True])


def test_what_is_waited_is_audio_time_and_early_is_earlier(
    replies: dict[bool, list[Reply]]
) -> None:
    """Audio time does not depend on the machine."""
    early, fixed = replies[True], replies[False]
    assert all(reply.waited > 0.05 for reply in early)
    assert all(0.45 < reply.waited < 0.75 for reply in fixed)
    assert all(e.waited <= f.waited for e, f in zip(early, fixed, strict=True))
    sooner = [e.waited < f.waited for e, f in zip(early, fixed, strict=True)]
    assert sum(sooner) > len(sooner) / 2, "what is not surely heard waits the whole silence"
    by_kind = summary(early)
    assert by_kind["command"]["waited"] < by_kind["confirmation"]["waited"] < 0.5
    assert by_kind["all"]["replies"] == len(early)


def test_the_work_is_measured_on_top(replies: dict[bool, list[Reply]]) -> None:
    for reply in replies[True]:
        assert reply.worked > 0 and reply.seconds == reply.waited + reply.worked


def test_the_other_endpointer_is_timed_from_the_same_end(
    replies: dict[bool, list[Reply]]
) -> None:
    told = [reply.plainly for reply in replies[True] if reply.plainly is not None]
    assert len(told) >= 6 and all(0.1 < seconds < 1.5 for seconds in told)


def test_the_end_of_speech_is_the_last_loud_sample() -> None:
    loud = (8000 * np.sin(np.arange(8000) / 5)).astype(np.int16)
    faint = (loud / 60).astype(np.int16)
    sound = np.concatenate((silence(0.25), loud, faint, silence(0.5)))
    assert speech_end(sound) == pytest.approx(0.75, abs=0.002)


def test_a_file_that_cannot_be_written_is_told_before_the_work(tmp_path: Path) -> None:
    done = CliRunner().invoke(latency, ["--json", str(tmp_path / "none" / "out.json")])
    assert done.exit_code != 0 and "no folder" in str(done.exception)
    assert json.dumps(summary([])) == "{}"
