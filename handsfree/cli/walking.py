"""One checklist, or one interview, on devices that are open: the same for `run` and `stand-by`.

May import everything, as `wiring`; only the command modules import it.  Whoever calls `walk` holds
the rig's lock and has settled how it stands.
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from importlib.util import find_spec
from pathlib import Path
from typing import Any, Protocol

from handsfree.audio import Samples
from handsfree.checklist.model import SIDES
from handsfree.checklist.rig_questions import Answers, Question
from handsfree.cli import wiring
from handsfree.cli.stations import Station
from handsfree.cli.wiring import Plan
from handsfree.crew.crew import Crew, Signed
from handsfree.crew.shared_microphone import SharedMicrophone
from handsfree.engine.state import Mode
from handsfree.errors import InputError
from handsfree.hearing.listening import Listener
from handsfree.hearing.noise_monitor import Surroundings
from handsfree.hearing.types import Grammar
from handsfree.hearing.while_speaking import WhileSpeaking
from handsfree.language.model import Language
from handsfree.review.planned_forecast import Whose
from handsfree.review.time_left import TimeLeft
from handsfree.screen.screen import shown
from handsfree.session.by_heart import Practised
from handsfree.session.conversation import Conversation, Log
from handsfree.session.deferred_journal import DeferredJournal
from handsfree.session.interview import GO_ON, Brief, Interviewing, answers, interview
from handsfree.session.loop import Session, run_together
from handsfree.session.manner import Manner
from handsfree.session.ports import Policy, Ports, Sounds, Talk, Watch
from handsfree.session.push_to_talk import PushToTalk
from handsfree.session.reminders import Reminders
from handsfree.session.rig_interview import RigInterview
from handsfree.session.shared_loudspeaker import SharedLoudspeaker
from handsfree.session.tuning import kept
from handsfree.session.which_place import WhichPlace, which_place
from handsfree.speaking.loudness import amplified, gain_db
from handsfree.storage import lines
from handsfree.storage.half_answered import HalfAnswered
from handsfree.storage.lines import Line
from handsfree.storage.mastery import known_by_heart
from handsfree.storage.rig_draft import Draft, Given


class Voiced(Sounds, Protocol):
    """Prompts of a voice that can speak at several rates."""

    def use(self, rate: int) -> None: ...


@dataclass(frozen=True)
class Stage:
    """What operators stand on: devices, voice, keys and clock; kept from one list to the next."""

    stations: Mapping[str, Station]
    """By side, '' for one operator."""
    sounds: Voiced
    steady: Sounds
    """The same voice, which may fail."""
    clock: Callable[[], float]
    """Seconds since the stage was opened."""
    keys: Callable[[], list[str]] | None = None
    ended: Callable[[], bool] = lambda: False
    """Whether the program is asked to end."""
    typing: Callable[[], str | None] = lambda: None
    talk: PushToTalk | None = None
    one_loudspeaker: bool = True
    frame: Callable[[Samples, float], None] = lambda frame, t: None
    """Told of each frame that was dealt with."""
    light: Callable[[str], None] = lambda state: None
    """Shows "asleep" or "awake" to whoever looks at the box."""

    def ports(
        self, side: str, log: Log, watch: Watch, listener: Listener | None = None,
        clock: Callable[[], float] | None = None,
    ) -> Ports:
        """What the session of one side is connected to; the keys are the lead's."""
        station, lead = self.stations[side], side == next(iter(self.stations))
        return Ports(
            log, listener or Listener(station.recogniser), station.ear, station.out, self.steady,
            clock or self.clock, watch, self.keys if lead else None, self.talk if lead else None,
            troubles=station.troubles, dictate=station.recogniser.dictate,
            ended=self.ended if lead else lambda: False, under=self._under(station))

    def _under(self, station: Station) -> Callable[[Grammar], WhileSpeaking] | None:
        """Only where the sound of a loudspeaker is one operator's, and its echo can be cancelled."""
        alone = sum(one.out is station.out for one in self.stations.values()) == 1
        if not (station.on_cards and alone and find_spec("pywebrtc_audio")):
            return None
        return lambda grammar: WhileSpeaking(
            station.recogniser, grammar, lambda: station.out.reference(station.ear.came_at))


FORGIVING = Policy(forgiving=True)
"""Live, a session goes on whatever happens."""


@dataclass(frozen=True)
class Wishes:
    """What the operator wants of a session; see the options of `handsfree run`."""

    place: str = ""
    who: Mapping[str, str] = field(default_factory=dict)
    two: bool = False
    barge_in: bool = False
    keep_audio: bool = False
    screen: bool | None = False
    night: bool = False
    reminders: Reminders | None = None
    """Those that outlive the session."""
    by_heart: bool | None = None
    """Whether what is known by heart is asked together; None as the operator last said."""
    believes_clock: bool = True
    """Whether the time of day may be told and reckoned with."""


def walk(
    made: Plan, stage: Stage, wishes: Wishes, data: Path, manner: Manner, *, resume: bool,
    asked: bool, declined: bool = False,
) -> Conversation:
    """Run the session to its end, by voice and keys; the conversation as it ended.

    Args:
        asked: it was just settled anew how the rig stands.
        declined: the operator did not want to go on with an unfinished session.

    Raises:
        InputError: nothing to resume, another checklist, a folder that cannot be written.
        StorageError: the record could not be written to its end.
    """
    sides = tuple(stage.stations)
    lead = stage.stations[sides[0]]
    language, who = made.language, wishes.who
    began = stage.clock()

    def clock() -> float:
        return stage.clock() - began

    record = wiring.on_record(made)
    remembered = wiring.memory_of(made, data, wishes.place)
    last_time = wiring.last_time(made, remembered)
    journal, begin, last = wiring.open_journal(
        made, resume=resume, place=wishes.place, engine=lead.recogniser.name, rehearsal=False,
        operators=2 if wishes.two else 1, asked=asked, believes_clock=wishes.believes_clock, who=who)
    log = DeferredJournal(journal, lead.troubles)
    try:
        left = TimeLeft(made.checklist, record, data,
                        Whose(" & ".join(sorted(set(who.values()))), made.rig.name, wishes.place,
                              2 if wishes.two else 1), lambda: journal.path)
        for problem in wiring.problems(journal, last):
            wiring.tell(problem)
        if last and not last.ended and not resume and not declined:
            wiring.tell(f"An unfinished session of '{last.checklist}' is on record;"
                        " --resume goes on with it.")
        options: dict[str, Any] = {
            "elapsed": clock, "manner": manner, "last_time": last_time,
            "on_manner": wiring.manner_keeper(data, manner, stage.sounds)}
        if wishes.believes_clock:
            options |= {"left": left, "now": lambda: datetime.now().astimezone()}
        crew = Crew(made.checklist, language, log, dict.fromkeys(SIDES, options),
                    calls=len(sides) < 2) if wishes.two else None
        mine = None if crew else kept(data)  # of one voice; the other of two has another
        if mine and mine.engine == lead.recogniser.name:
            options["bands"] = mine.bands
        one = crew.lead if crew else Practised(
            remembered, made.checklist, language, log, **options,
            on_the_way=wiring.on_the_way(made), known=known_by_heart(
                made.folder, made.checklist, who.get("", ""), datetime.now().astimezone()))
        if wishes.reminders is not None:
            one.reminders = wishes.reminders

        floor = SharedLoudspeaker({side: crew.call(side) for side in SIDES}) if (
            crew and stage.one_loudspeaker) else None

        def loudness(sound: Samples, floor_dbfs: float) -> Samples:
            return amplified(sound, gain_db(floor_dbfs, one.manner.louder))

        def session(side: str, watch: Watch) -> Session:
            talk: Talk = one if not crew else crew.partners[side] if side else SharedMicrophone(crew)
            ports = stage.ports(side, Signed(log, side) if side else log, watch, clock=clock)
            return Session(talk, replace(
                ports, loudness=loudness, floor=(floor, side) if floor and side else None,
                keep_note=wiring.sound_keeper(log.path, "note"),
                keep_utterance=wiring.sound_keeper(log.path, "said") if wishes.keep_audio else None,
                surroundings=Surroundings(mine.voice_dbfs) if mine else Surroundings()),
                replace(FORGIVING, barge_in=wishes.barge_in))

        with shown(wishes.screen, wishes.night, made.checklist, made.rig, language,
                   watched(stage, sides[0]), stage.typing) as watch:
            sessions = [session(side, watched(stage, side) if place else watch)
                        for place, side in enumerate(sides)]
            openings = [begin(one, clock(), log), *([] for _ in sides[1:])]
            for side, name in who.items() if resume else ():
                log.write(lines.Operator(name, who=side), clock())
            run_together(sessions, openings)
    finally:
        log.close([Path.home(), Path(tempfile.gettempdir())])
    return one


def watched(stage: Stage, side: str = "") -> Watch:
    """A session in plain lines, each frame told to the stage."""
    def frame(sound: Samples, t: float) -> None:
        stage.frame(sound, t)
        stage.light("awake")

    watch = wiring.plain_lines(side)
    watch.frame = frame
    return watch


class Lines:
    """A log that is only kept until the answers are read out of it."""

    def __init__(self) -> None:
        self.lines: list[Line] = []

    def write(self, line: Line, t: float, who: str = "") -> None:
        """See `conversation.Log`."""
        self.lines += [line, *line.led_to()]


def place_aloud(stage: Stage, places: Sequence[str], language: Language) -> str:
    """Where the one operator is, by voice and keys; '' where that has no name.

    Args:
        places: the names that are known, the latest first.
    """
    checklist, log, began = which_place(places, language), Lines(), stage.clock()

    def clock() -> float:
        return stage.clock() - began

    conversation = WhichPlace(places, checklist, language, log)
    ports = replace(stage.ports("", log, watched(stage), clock=clock), button=None)
    Session(conversation, ports, FORGIVING).run(conversation.begin(frozenset(), clock()))
    return conversation.place


def rig_aloud(stage: Stage, draft: Draft, language: Language) -> Given:
    """What a newcomer's rig is, asked of the one operator by voice and keys.

    Raises:
        InputError: the questions were not answered to their end; what was answered is kept.
    """
    log, began = Lines(), stage.clock()
    conversation = RigInterview(draft, language, log)
    ports = replace(stage.ports("", log, watched(stage), clock=lambda: stage.clock() - began), button=None)
    Session(conversation, ports, FORGIVING).run(conversation.opening())
    if not conversation.complete:
        raise InputError("you did not answer all the questions, so there is no rig file yet; what you"
                         " did answer is saved.")
    return conversation.given


def asked_aloud(
    stage: Stage, questions: Sequence[Question], known: frozenset[str], language: Language,
    why: str = "", kept: HalfAnswered | None = None,
) -> Answers:
    """The answers of the one operator, by voice and keys.

    Args:
        known: traits that the rig has, as far as that was answered before.
        why: said first.
        kept: where each answer is written down at once, with those that were given before.

    Raises:
        InputError: the questions were not answered to their end.
    """
    checklist, log, began = interview(questions, known, language, why), Lines(), stage.clock()

    def clock() -> float:
        return stage.clock() - began

    asking = Interviewing
    if [question.id for question in questions] == [GO_ON]:
        checklist, asking = replace(checklist, title=why.rstrip("."), says=""), Brief
    conversation = asking(questions, checklist, language, log)
    ports = replace(stage.ports("", log, watched(stage), clock=clock), button=None)
    opening = conversation.begin(known, clock())
    if kept:
        opening = conversation.go_on_with(kept.answers, clock()) or opening
        conversation.keep = kept.keep
    Session(conversation, ports, FORGIVING).run(opening)
    if conversation.state.mode is not Mode.CLOSED:
        raise InputError("you did not answer all the questions, so nothing is on record yet; what you"
                         " did answer is saved." if kept else
                         "you did not answer all the questions, so nothing was written; start again.")
    given = answers(questions, conversation.state.facts, log.lines)
    return Answers(given.yes - known, given.numbers)
