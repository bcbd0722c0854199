"""Any sequence of events, and any sequence of words, in the checklists that come with it.

What holds after each: a broken never rule is an alarm and only taking back or correcting can break
one; facts change only as the effects say; no report is lost or doubled; everything is answered in
whole sentences; replaying the journal comes to the same state.
"""

import json
from functools import cache

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, precondition, rule

from handsfree.checklist.loader import load_checklist
from handsfree.checklist.model import Checklist
from handsfree.checklist.rig_file import load_rig
from handsfree.engine import changes
from handsfree.engine.advance import advance, begin
from handsfree.engine.changes import Kind
from handsfree.engine.choosing import broken_rule, status
from handsfree.engine.state import (
    Alarm,
    Answer,
    Ask,
    Changed,
    Confirm,
    Correct,
    Deny,
    Done,
    Due,
    Event,
    Finish,
    GoTo,
    Mode,
    Pause,
    Problem,
    Read,
    Reported,
    Respond,
    Resume,
    Skip,
    Status,
    TakeBack,
    Unclear,
    Unsure,
)
from handsfree.hearing.types import Heard, Hypothesis, Rejection
from handsfree.language.loader import load_language
from handsfree.session.conversation import Conversation
from handsfree.session.expecting import expected
from handsfree.storage.lines import from_plain, to_plain
from handsfree.storage.paths import checklist_names, checklists_folder
from handsfree.testing import MemoryLog

FEW = {"deadline": None,
       "suppress_health_check": [HealthCheck.too_slow, HealthCheck.data_too_large]}


@cache
def checklist(name: str, rig: str) -> Checklist:
    loaded = load_rig(checklists_folder() / "rigs" / f"{rig}.yaml")
    return load_checklist(checklists_folder() / f"{name}.yaml", rig=loaded, library=checklists_folder())


NAMES = st.tuples(
    st.sampled_from(checklist_names()),
    st.sampled_from(sorted(path.stem for path in (checklists_folder() / "rigs").glob("*.yaml"))))


def any_event(of: Checklist) -> st.SearchStrategy[Event]:
    """Every event there is, with every step and fact, and each of them half understood."""
    steps, facts = st.sampled_from(sorted(of.steps)), st.sampled_from(sorted(of.facts))
    certain = st.one_of(
        st.sampled_from([Done(), Respond(), Confirm(), Confirm(), Deny(), Skip(), Problem(),
                         Pause(), Resume(), Resume(), Finish(), Unclear(), TakeBack(),
                         Answer(True), Answer(False), Read("low"), Read("within"), Read("high")]),
        st.sampled_from(["repeat", "why", "detail", "remaining", "help", "status"]).map(Ask),
        steps.map(GoTo), steps.map(TakeBack), st.builds(Correct, facts, st.booleans()))
    due = st.sampled_from([name for name, step in of.steps.items() if step.wait] or [""]).map(Due)
    return st.one_of(certain, certain, certain.map(Unsure), due)


class Engine(RuleBasedStateMachine):
    """The pure core, event by event, from any record."""

    @initialize(named=NAMES, data=st.data())
    def start(self, named: tuple[str, str], data: st.DataObject) -> None:
        self.of = checklist(*named)
        rig = load_rig(checklists_folder() / "rigs" / f"{named[1]}.yaml")
        extra = data.draw(st.sets(st.sampled_from(sorted(changes.correctable(self.of))),
                                  max_size=4))
        self.state, _ = begin(self.of, self.of.start_facts | rig.has | extra)
        self.events = any_event(self.of)

    @rule(data=st.data())
    def happens(self, data: st.DataObject) -> None:
        # The likely answer more often than not, so that sessions get somewhere.
        step = self.of.steps.get(self.state.at)
        likely: Event = Done()
        if self.state.mode is Mode.CONFIRM:
            likely = Confirm()
        elif self.state.mode in (Mode.PAUSED, Mode.SUSPENDED):
            likely = Resume()
        elif self.state.mode is Mode.WAITING:
            likely = Due(min(self.state.waits))
        elif step is not None:
            likely = (Answer(True) if step.question else Read("within") if step.reading
                      else Respond() if step.hold else Done())
        event = likely if data.draw(st.integers(0, 2)) else data.draw(self.events)
        before = self.state
        self.state, effects = advance(self.of, before, event)
        after = self.state
        hash(after)
        assert effects or isinstance(event, Due), event
        if isinstance(event, Due):  # time changes no fact, and says nothing at a hold point
            assert after.facts == before.facts and after.statuses == before.statuses
            at = self.of.steps.get(before.at)
            if before.mode in (Mode.CONFIRM, Mode.ALARM) or before.mode is Mode.STEP and at and (
                    at.hold):
                assert not effects
        assert not after.waits & {name for name in after.waits
                                  if status(self.of, after, name) is Status.DONE}
        facts = before.facts
        for effect in effects:
            if isinstance(effect, Changed):
                assert not effect.on & facts and effect.off <= facts
                facts = facts - effect.off | effect.on
        assert facts == after.facts
        broken = broken_rule(self.of, after.facts)
        assert bool(after.broken) is bool(broken)
        if broken and not broken_rule(self.of, before.facts):
            cause = before.pending if before.mode is Mode.CONFIRM else event
            assert isinstance(cause, (TakeBack, Correct)), cause
            assert any(isinstance(effect, Alarm) for effect in effects)
        if isinstance(event, (Ask, Unclear)):
            assert after == before
        if isinstance(event, Unsure):
            assert after.facts == before.facts and after.statuses == before.statuses
        for effect in effects:
            if isinstance(effect, Reported) and effect.kind in (Kind.REPORT, Kind.YES, Kind.NO):
                assert before.mode is not Mode.CONFIRM or isinstance(event, Confirm)
                assert status(self.of, after, effect.subject) is Status.DONE
                assert after.reports.count(effect.subject) == 1
                hold = self.of.steps[effect.subject]
                if hold.hold and hold.readback or hold.reading:
                    assert isinstance(before.pending, (Respond, Read))
                elif hold.hold:
                    assert isinstance(event, Respond) or isinstance(before.pending, Respond)
        if after.mode is Mode.STEP:
            here = self.of.steps[after.at]
            assert here.applicable.holds(after.facts) and here.needs.holds(after.facts)
        assert (after.pending is not None) is (after.mode is Mode.CONFIRM)


Engine.TestCase.settings = settings(max_examples=60, stateful_step_count=60, **FEW)
TestEngine = Engine.TestCase


GARBAGE = ["", "x" * 400, "done done", "go to", "take back", "go to go to chock", "yes no",
           "one two three four", "minus", "point", "ninety ninety volts", "\x00", "네", "🦊",
           "{respond}", "../../etc/passwd", "done\nskip"]


class Words(RuleBasedStateMachine):
    """Through the front door: words with any confidence, phrases that may be said and others."""

    @initialize(named=NAMES)
    def start(self, named: tuple[str, str]) -> None:
        self.of = checklist(*named)
        rig = load_rig(checklists_folder() / "rigs" / f"{named[1]}.yaml")
        self.log = MemoryLog()
        self.language = load_language("en")
        self.conversation = Conversation(self.of, self.language, self.log)
        self.said(self.conversation.begin(self.of.start_facts | rig.has, 0.0, known=frozenset()))

    def said(self, prompts: list) -> None:
        for prompt in prompts:
            assert prompt.text or prompt.tone
            assert "{" not in prompt.text.replace("{respond}", "") and "  " not in prompt.text
            if prompt.text:
                assert prompt.text[-1] in ".?!:", prompt

    @rule(data=st.data(), confidence=st.sampled_from([1.0, 1.0, 1.0, 0.7, 0.3, 0.0]))
    def speaks(self, data: st.DataObject, confidence: float) -> None:
        expects = expected(self.of, self.conversation.state)
        phrases = sorted(self.conversation.matcher.phrases(expects))
        words = data.draw(st.one_of(
            st.sampled_from(phrases) if phrases else st.just("done"), st.sampled_from(GARBAGE),
            st.sampled_from(["that is right", "done", "yes", "one hundred eighteen volts"])))
        self.hears(Hypothesis(words, confidence, 0.0, 1.0), certain=confidence == 1.0)

    @precondition(lambda self: self.conversation.state.mode is not Mode.CLOSED)
    @rule(reason=st.sampled_from(["unclear", "noise", "too short", "too long", "too loud"]))
    def mumbles(self, reason: str) -> None:
        self.hears(Rejection(reason, 0.0, 1.0), certain=False)  # type: ignore[arg-type]

    def hears(self, heard: Heard, certain: bool) -> None:
        before = self.conversation.state
        noting = self.conversation.noting
        prompts = self.conversation.hear(heard, 1.0)
        self.said(prompts)
        after = self.conversation.state
        quiet = isinstance(heard, Rejection) and heard.reason in ("noise", "too short")
        assert prompts or noting or quiet, heard
        if not certain:
            assert after.facts == before.facts and after.statuses == before.statuses
            assert after.reports == before.reports
        if self.conversation.noting and noting:
            self.conversation.noted(1.0, "note.wav")

    def teardown(self) -> None:
        if not hasattr(self, "log"):
            return
        lines = tuple(from_plain(json.loads(json.dumps(to_plain(line)))) for line in self.log.lines)
        again = Conversation(self.of, self.language, MemoryLog())
        again.replay(lines[0].record, lines)
        assert again.state == self.conversation.state


def test_why_is_answered_in_an_alarm() -> None:
    of = checklist("arrive", "survey-trailer")
    conversation = Conversation(of, load_language("en"), MemoryLog())
    rig = load_rig(checklists_folder() / "rigs" / "survey-trailer.yaml")
    conversation.begin((of.start_facts | rig.has) - {"hitched"}, 0.0, known=frozenset())
    assert conversation.state.mode is Mode.ALARM
    assert conversation.hear(Hypothesis("why", 1.0, 0.0, 1.0), 1.0)


Words.TestCase.settings = settings(max_examples=12, stateful_step_count=25, **FEW)
TestWords = Words.TestCase
