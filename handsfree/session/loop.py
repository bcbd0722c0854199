"""The loop: frames in, prompts out, one utterance at a time; the same live and in rehearsal.

May import the conversation, trouble, hearing's listener and the device ports.  What fails is told
once (`steady` and `storing` keep the loop going meanwhile).
Half duplex: deaf while speaking and for a short tail after it, unless barge-in is asked for.
"""

from __future__ import annotations

import traceback
from collections import deque
from collections.abc import Callable, Iterable, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Protocol

import numpy as np

from handsfree.audio import SAMPLE_RATE, Samples, seconds, silence
from handsfree.engine.state import Ask, Finish
from handsfree.errors import HandsfreeError, StorageError
from handsfree.hearing.listening import Listener
from handsfree.hearing.noise_monitor import News as NoiseNews
from handsfree.hearing.noise_monitor import Surroundings
from handsfree.hearing.types import Heard, Hypothesis, normal
from handsfree.session.conversation import Conversation, Log
from handsfree.session.expecting import expected
from handsfree.session.fault_reports import FaultReports, News
from handsfree.session.push_to_talk import PushToTalk
from handsfree.session.reprompts import FAILED, TONE, WANTED, reprompt
from handsfree.session.shared_loudspeaker import SharedLoudspeaker
from handsfree.session.wording import Prompt

if TYPE_CHECKING:
    from handsfree.crew.shared_microphone import SharedMicrophone

TAIL = 0.25
"""Seconds of deafness after the last prompt, while the room still rings."""

KEPT = 20.0
"""Seconds of sound kept in memory, from which a note can be cut."""


MEASURED = 0.6
"""Seconds of listening before the first word: how loud it is, for the voice and for hearing."""

OVERFLOWS_APART = 10.0
"""Seconds between two journal lines about lost sound."""


class Microphone(Protocol):
    """Where sound comes from; `read` waits for the next frame."""

    def read(self) -> Samples: ...


class Speaker(Protocol):
    """Where prompts go; `play` returns at once."""

    @property
    def playing(self) -> bool: ...

    def play(self, samples: Samples) -> None: ...

    def stop(self) -> None: ...


class Sounds(Protocol):
    """Texts and tones as samples, ready ahead of time where possible."""

    def get(self, text: str) -> Samples: ...

    def ahead(self, texts: Iterable[str]) -> object: ...

    def tone(self, kind: str) -> Samples: ...


@dataclass
class Watch:
    """What somebody who watches is told of: each prompt as it starts, each utterance heard, the
    session before its first frame, and each frame after it was dealt with."""

    prompt: Callable[[Prompt, float], None] = lambda prompt, t: None
    heard: Callable[[Heard, float], None] = lambda heard, t: None
    began: Callable[[Session], None] = lambda session: None
    frame: Callable[[Samples, float], None] = lambda frame, t: None


def run_together(sessions: Sequence[Session], openings: Sequence[list[Prompt]]) -> None:
    """Several sessions of one crew at once, until each has spoken its last word."""
    for session, opening in zip(sessions, openings, strict=True):
        session.open(opening)
    while going := [session for session in sessions if not session.over]:
        for session in going:
            session.turn()


class Session:
    """Runs a conversation over a microphone and a loudspeaker."""

    def __init__(
        self,
        conversation: Conversation | SharedMicrophone,
        log: Log,
        listener: Listener,
        microphone: Microphone,
        speaker: Speaker,
        sounds: Sounds,
        clock: Callable[[], float],
        *,
        watch: Watch | None = None,
        barge_in: bool = False,
        keep_note: Callable[[Samples], str] = lambda samples: "",
        keep_utterance: Callable[[Samples], str] | None = None,
        dictate: Callable[[Samples], str] = lambda samples: "",
        keys: Callable[[], list[str]] = list,
        troubles: FaultReports | None = None,
        surroundings: Surroundings | None = None,
        loudness: Callable[[Samples, float], Samples] = lambda sound, floor_dbfs: sound,
        floor: tuple[SharedLoudspeaker, str] | None = None,
        talk: PushToTalk | None = None,
        ended: Callable[[], bool] = lambda: False,
    ) -> None:
        """`keep_note` stores a note's sound and gives its name, `keep_utterance` the sound of
        everything that is heard; `dictate` writes a note down where the engine can; `keys`
        polls the keyboard for utterances, an empty one of which stops the program's
        talking; `troubles` are told and tried to be mended, and with them even a mistake
        of the program is written down and gone on from; `loudness` fits a prompt to the
        noise floor around; `floor` is shared with the session of a second operator who
        hears the same loudspeaker, with this one's side; with `talk` the microphone counts
        only while that button says so; `ended` tells that the session is to finish for now, as
        when the machine is shut down."""
        self.conversation = conversation
        self.listener = listener
        self._log = log
        self._microphone = microphone
        self._speaker = speaker
        self._sounds = sounds
        self._clock = clock
        self._watch = watch or Watch()
        self._barge_in = barge_in
        self._keep_note = keep_note
        self._keep_utterance = keep_utterance
        self._dictate = dictate
        self._keys = keys
        self._troubles = troubles or FaultReports(clock)
        self._forgiving = troubles is not None
        self._loudness = loudness
        self._floor = floor
        self._button = talk
        self._ended = ended
        self._surroundings = surroundings or Surroundings()
        self._measuring = MEASURED
        self._not_understood = 0
        self._has_keys = keys is not list
        self._overflow_told = float("-inf")
        self._queue: deque[Prompt] = deque()
        self._speaking: tuple[Prompt, float] | None = None
        self._deaf_until = 0.0
        self._ready_for: object = None
        self._expecting: object = None
        self._expecting_in: object = None
        self._kept: deque[Samples] = deque()
        self._kept_seconds = 0.0

    def run(self, opening: list[Prompt]) -> None:
        """Until the checklist is closed or finished for now, and the last word is spoken."""
        self.open(opening)
        while not self.over:
            self.turn()

    def open(self, opening: list[Prompt]) -> None:
        """Begin; `turn` goes on."""
        self._watch.began(self)
        self._queue.extend(prompt for prompt in opening if prompt.key == "alarm")  # before any news
        self._say([prompt for prompt in opening if prompt.key != "alarm"])

    @property
    def over(self) -> bool:
        """Whether the last word is spoken."""
        return self.conversation.over and not self._queue and self._speaking is None

    def turn(self) -> None:
        """One frame."""
        frame = self._microphone.read()
        self._keep(frame)
        self._mind()
        self._talk()
        self._take_keys()
        if self._ended() and not self.conversation.over:
            self._finish()
        heard = self._listen(frame)
        if not self.listener.deaf and not self.listener.in_speech and heard is None:
            self._mind_noise(self._surroundings.listened(frame, self.listener.floor_dbfs))
        if heard is not None:
            self._take(heard)
            self._talk()  # at once, not with the next frame
        elif not self._queue and self._speaking is None and not self.listener.in_speech:
            self._say(self.conversation.remind(self._clock()))
        self._watch.frame(frame, self._clock())

    def _finish(self) -> None:
        """Whatever is being asked, the place is kept and good-bye is said."""
        self._speaker.stop()
        self._queue.clear()
        self.conversation.noting = False
        self._say(self.conversation.take(Finish(), self._clock()))

    def _say(self, prompts: list[Prompt]) -> None:
        for news in self._troubles.news():  # first: it may be why what follows is not written
            self._tell(news, self._clock())
        if not prompts:
            return
        for prompt in prompts:
            if "record" in self._troubles and prompt.hold:
                self._queue.append(self.conversation.wording.say("not stored"))
            self._queue.append(prompt)

    def _mind(self) -> None:
        """Tell what has failed or works again, and write down where sound was lost."""
        now = self._clock()
        if getattr(self._microphone, "overflowed", False) and (
                now - self._overflow_told > OVERFLOWS_APART):
            self._microphone.overflowed = False  # type: ignore[attr-defined]
            self._overflow_told = now
            self._log.write("overflow", now, sync=False)
        self._troubles.mend()
        self._say([])

    def _mind_noise(self, news: NoiseNews) -> None:
        """Say it aloud, but not into a note; while it is too loud everything is asked about."""
        self.conversation.wary = self._surroundings.noisy
        if not news or self.conversation.over:
            return
        self._log.write("noise", self._clock(), sync=False, state=news,
                        floor=round(self.listener.floor_dbfs, 1),
                        voice=round(self._surroundings.voice_dbfs, 1))
        if not self.conversation.noting:
            key = "too loud" if news == "loud" else news
            self._say([self.conversation.wording.say(key, tone="attention")])

    def _tell(self, news: News, now: float) -> None:
        self._log.write("trouble", now, sync=False, part=news.part, over=news.over, why=news.why)
        self._queue = deque(p for p in self._queue if p.key not in (
            f"lost.{news.part}", f"back.{news.part}"))  # what has changed again is no news
        reasons = self.conversation.language.templates
        self._say([self.conversation.wording.say(
            f"{'back' if news.over else 'lost'}.{news.part}", news.part, tone="attention",
            reason=reasons.get(f"because.{news.why}", reasons["because.gone"]))])
        if news.over and news.part in ("speaker", "voice") and not self.conversation.over:
            self._say(self.conversation.take(Ask("repeat"), now))

    def _talk(self) -> None:
        """Start the next prompt when the last one has ended."""
        if self._speaker.playing:
            return
        now = self._clock()
        if self._speaking is not None:
            prompt, began = self._speaking
            self._log.write("spoke", now, sync=False, key=prompt.key, step=prompt.about,
                            text=prompt.text, seconds=round(now - began, 2),
                            **{"from": round(began, 3), "to": round(now, 3)})
            self._speaking = None
            self._deaf_until = now + TAIL
            if self._floor and not self._queue:
                self._floor[0].leave(self._floor[1])
        if self._queue and self._measuring <= 0 and self._may_talk():
            prompt = self._queue.popleft()
            parts = [self._sounds.tone(prompt.tone), silence(0.1)] if prompt.tone else []
            if prompt.text:
                parts.append(self._sounds.get(prompt.text))
            sound = np.concatenate(parts)
            self._speaker.play(self._loudness(sound, self.listener.floor_dbfs))
            self._speaking = (prompt, now)
            self._watch.prompt(prompt, now)
            self._prepare()

    def _may_talk(self) -> bool:
        """Take the floor that is shared with another session, if there is one."""
        if self._floor is None:
            return True
        floor, side = self._floor
        if not floor.free(side):
            return False
        self._queue.extendleft(reversed(floor.take(side)))
        return True

    def _prepare(self) -> None:
        """Make ready what will have to be said next, now that there is time for it."""
        if self.conversation.moment is not self._ready_for:
            self._ready_for = self.conversation.moment
            with suppress(*((Exception,) if self._forgiving else ())):  # it is a convenience
                self._sounds.ahead(self.conversation.replies())

    def _listen(self, frame: Samples) -> Heard | None:
        talking = self._speaking is not None or bool(self._queue) or self._speaker.playing
        deaf = not self._barge_in and self._measuring <= 0 and (
            talking or self._clock() < self._deaf_until)
        if self._button and self._measuring <= 0:
            deaf = deaf or not self._button.counts(self.listener.in_speech)
        self._measuring -= seconds(frame)
        if deaf and not self.listener.deaf:
            self.listener.mute()
        elif not deaf and self.listener.deaf:
            self.listener.unmute()
        if not deaf and self.conversation.moment is not self._expecting_in:
            self._expecting_in = self.conversation.moment  # each frame would be half a core's work
            grammar = self.conversation.grammar()
            if grammar != self._expecting:
                self.listener.expect(grammar, self.conversation.finalisation_delay)
                self._expecting = grammar
        return self.listener.feed(frame)

    def _take(self, heard: Heard) -> None:
        now = self._clock()
        if self._button:
            self._button.heard()
        sound = self._cut(heard)
        ahead = now - self.listener.now  # from the listener's count of samples to our clock
        heard = replace(heard, start=heard.start + ahead, end=heard.end + ahead)
        self._watch.heard(heard, now)
        since, after = (round((now - t) * SAMPLE_RATE) for t in (heard.start, heard.end))
        spoken = sound[max(0, len(sound) - since):max(0, len(sound) - after)]
        if len(spoken) and getattr(heard, "reason", "") != "noise":
            self._mind_noise(self._surroundings.spoken(
                spoken, self.listener.floor_dbfs, isinstance(heard, Hypothesis)))
        if self._barge_in and self._speaking is not None:
            self._speaker.stop()
            self._queue.clear()
        if self.conversation.noting:
            try:
                name = self._keep_note(sound)
            except StorageError:
                self.conversation.noting = False
                self._say([self.conversation.wording.say("note lost", tone="attention")])
            else:
                self._say(self.conversation.noted(now, name, self._dictate(sound)))
            return
        if self._keep_utterance is not None:
            with suppress(StorageError):  # a convenience; the record has its own warning
                self._log.write("audio", now, sync=False, file=self._keep_utterance(sound))
        self._say(self._patiently(self._answer(heard, now)))

    def _answer(self, heard: Heard, now: float) -> list[Prompt]:
        """A mistake of the program must not end a session in the middle of the job."""
        try:
            return self.conversation.hear(heard, now)
        except HandsfreeError:
            raise
        except Exception:
            if not self._forgiving:
                raise
            self._log.write("mistake", now, trace=traceback.format_exc()[-2000:])
            return [self.conversation.wording.say("not here")]

    def _patiently(self, prompts: list[Prompt]) -> list[Prompt]:
        """What was not understood again is answered in another way (see `reprompt`)."""
        if not prompts:
            return prompts
        if any(prompt.key not in FAILED for prompt in prompts):
            self._not_understood = 0
            return prompts
        self._not_understood += 1
        conversation = self.conversation
        key = reprompt(self._not_understood, reading=conversation.reads, keys=self._has_keys)
        if key == "unclear":
            return prompts
        text = ("" if key == TONE else conversation.wanted().text if key == WANTED
                else conversation.wording.say(key).text)
        return [Prompt("unclear", text, tone="attention")]

    def _take_keys(self) -> None:
        self._take_words()
        if self._button and self._button.news() and not self.conversation.over:
            self._speaker.stop()
            self._queue.clear()

    def _take_words(self) -> None:
        for said in self._keys():
            now = self._clock()
            self._speaker.stop()
            self._queue.clear()
            if said:
                heard = Hypothesis(said, 1.0, now, now, engine="keyboard")
                self._watch.heard(heard, now)
                self._say(self._typed_note(said, now) or self._answer(heard, now))

    def _typed_note(self, said: str, now: float) -> list[Prompt]:
        """While a note is awaited: words are the note, a command's key goes on without one."""
        conversation = self.conversation
        if not conversation.noting:
            return []
        conversation.noting = False
        expects = expected(conversation.checklist, conversation.state)
        if normal(said) not in conversation.matcher.phrases(expects):
            return conversation.noted(now, "", said)
        return []

    def _keep(self, frame: Samples) -> None:
        self._kept.append(frame)
        self._kept_seconds += seconds(frame)
        while self._kept_seconds > KEPT:
            self._kept_seconds -= seconds(self._kept.popleft())

    def _cut(self, heard: Heard) -> Samples:
        """The sound of the utterance that has just ended."""
        sound = np.concatenate(list(self._kept))
        back = round((self.listener.now - heard.start + 0.3) * SAMPLE_RATE)
        return sound[-min(back, len(sound)):]
