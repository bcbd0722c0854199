"""The loop: frames in, prompts out, one utterance at a time; the same live and in rehearsal.

May import the ports, mouth and ear, fault reports and wording.  What fails is told once
(`failover` and `deferred_journal` keep the loop going meanwhile).
Half duplex: deaf while speaking and for a short tail after it, but for "stop" and the like, unless
barge-in is asked for.
"""

from __future__ import annotations

import traceback
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import replace

from handsfree.audio import SAMPLE_RATE, Samples
from handsfree.engine.state import Ask, Finish
from handsfree.errors import HandsfreeError, StorageError
from handsfree.hearing.noise_monitor import News as NoiseNews
from handsfree.hearing.types import Heard, Hypothesis
from handsfree.session.ear import Ear
from handsfree.session.fault_reports import FaultReports, News
from handsfree.session.mouth import Mouth
from handsfree.session.ports import PLAIN, Policy, Ports, Talk
from handsfree.session.reprompts import FAILED, TONE, WANTED, reprompt
from handsfree.session.wording import Prompt
from handsfree.storage import lines

OVERFLOWS_APART = 10.0
"""Seconds between two journal lines about lost sound."""


def run_together(sessions: Sequence[Session], openings: Sequence[list[Prompt]]) -> None:
    """Several sessions of one crew at once, until each has spoken its last word."""
    for session, opening in zip(sessions, openings, strict=True):
        session.open(opening)
    while going := [session for session in sessions if not session.over]:
        for session in going:
            session.turn()


class Session:
    """Runs a conversation over a microphone and a loudspeaker."""

    def __init__(self, talk: Talk, ports: Ports, policy: Policy = PLAIN) -> None:
        self.conversation = talk
        self.listener = ports.listener
        self._ports = ports
        self._policy = policy
        self._mouth = Mouth(ports)
        self._ear = Ear(talk, ports)
        self._troubles = ports.troubles or FaultReports(ports.clock)
        self._not_understood = 0
        self._overflow_told = float("-inf")
        self._ready_for: object = None

    def run(self, opening: list[Prompt]) -> None:
        """Until the checklist is closed or finished for now, and the last word is spoken."""
        self.open(opening)
        while not self.over:
            self.turn()

    def open(self, opening: list[Prompt]) -> None:
        """Begin; `turn` goes on."""
        self._ports.watch.began(self)
        self._mouth.say(prompt for prompt in opening if prompt.key == "alarm")  # before any news
        self._say([prompt for prompt in opening if prompt.key != "alarm"])

    @property
    def over(self) -> bool:
        """Whether the last word is spoken."""
        return self.conversation.over and self._mouth.idle

    def turn(self) -> None:
        """One frame."""
        ports, ear = self._ports, self._ear
        frame = ports.microphone.read()
        ear.keep(frame)
        self._mind()
        self._speak()
        self._take_keys()
        if ports.ended() and not self.conversation.over:
            self._finish()
        covered = not self._policy.barge_in and self._mouth.to_be_heard
        heard = ear.listen(frame, covered)
        if covered and (stop := ear.stopped(frame)) and not self._mouth.alarming:
            self._stop(stop)
        if ear.open_and_quiet and heard is None:
            self._mind_noise(ports.surroundings.listened(frame, self.listener.floor_dbfs))
        if heard is not None:
            self._take(heard)
            self._speak()  # at once, not with the next frame
        elif self._mouth.idle and not self.listener.in_speech:
            self._say(self.conversation.remind(ports.clock()))
        ports.watch.frame(frame, ports.clock())

    def _finish(self) -> None:
        """Whatever is being asked, the place is kept and good-bye is said."""
        self._mouth.hush()
        self.conversation.drop_note()
        self._say(self.conversation.take(Finish(), self._ports.clock()))

    def _say(self, prompts: list[Prompt]) -> None:
        for news in self._troubles.news():  # first: it may be why what follows is not written
            self._tell(news, self._ports.clock())
        for prompt in prompts:
            if "record" in self._troubles and prompt.hold:
                self._mouth.say([self.conversation.wording.say("not stored")])
            self._mouth.say([prompt])

    def _speak(self) -> None:
        """Go on speaking; while a prompt sounds there is time to make the next ones ready."""
        if self._mouth.go_on(self._ear.measured) and (
                self.conversation.moment is not self._ready_for):
            self._ready_for = self.conversation.moment
            with suppress(*((Exception,) if self._policy.forgiving else ())):  # a convenience
                self._ports.sounds.ahead(self.conversation.replies())

    # --- what is out of order ----------------------------------------------------------------

    def _mind(self) -> None:
        """Tell what has failed or works again, and write down where sound was lost."""
        now = self._ports.clock()
        if getattr(self._ports.microphone, "overflowed", False) and (
                now - self._overflow_told > OVERFLOWS_APART):
            self._ports.microphone.overflowed = False  # type: ignore[attr-defined]
            self._overflow_told = now
            self._ports.log.write(lines.Overflow(), now)
        self._troubles.mend()
        self._say([])

    def _mind_noise(self, news: NoiseNews) -> None:
        """Say it aloud, but not into a note; while it is too loud everything is asked about."""
        surroundings = self._ports.surroundings
        self.conversation.wary = surroundings.noisy
        if not news or self.conversation.over:
            return
        self._ports.log.write(lines.Noise(
            news, round(self.listener.floor_dbfs, 1), round(surroundings.voice_dbfs, 1)),
            self._ports.clock())
        if not self.conversation.noting:
            key = "too loud" if news == "loud" else news
            self._say([self.conversation.wording.say(key, tone="attention")])

    def _tell(self, news: News, now: float) -> None:
        self._ports.log.write(lines.Trouble(news.part, news.over, news.why), now)
        lost, back = f"lost.{news.part}", f"back.{news.part}"
        self._mouth.forget((lost, back))  # what has changed again is no news
        reasons = self.conversation.language.templates
        self._say([self.conversation.wording.say(
            back if news.over else lost, news.part, tone="attention",
            reason=reasons.get(f"because.{news.why}", reasons["because.gone"]))])
        if news.over and news.part in ("speaker", "voice") and not self.conversation.over:
            self._say(self.conversation.take(Ask("repeat"), now))

    # --- what was heard ----------------------------------------------------------------------

    def _take(self, heard: Heard) -> None:
        ports, now = self._ports, self._ports.clock()
        if ports.button:
            ports.button.heard()
        sound = self._ear.cut(heard)
        ahead = now - self.listener.now  # from the listener's count of samples to our clock
        heard = replace(heard, start=heard.start + ahead, end=heard.end + ahead)
        ports.watch.heard(heard, now)
        since, after = (round((now - t) * SAMPLE_RATE) for t in (heard.start, heard.end))
        spoken = sound[max(0, len(sound) - since):max(0, len(sound) - after)]
        nobody = getattr(heard, "reason", "") == "noise"
        if len(spoken):
            floor = self.listener.floor_dbfs
            self._mind_noise(
                ports.surroundings.nobody(spoken, floor) if nobody else
                ports.surroundings.spoken(spoken, floor, isinstance(heard, Hypothesis)))
        if self._policy.barge_in and self._mouth.speaking and not nobody:
            self._mouth.hush()
        if self.conversation.noting:
            if not nobody:
                self._note(sound, now)
            return
        if ports.keep_utterance is not None:
            with suppress(StorageError):  # a convenience; the record has its own warning
                ports.log.write(lines.Audio(ports.keep_utterance(sound)), now)
        self._say(self._patiently(self._answer(heard, now)))

    def _stop(self, heard: Hypothesis) -> None:
        """Somebody said so in the middle of a prompt."""
        now = self._ports.clock()
        ahead = now - self.listener.now
        heard = replace(heard, start=heard.start + ahead, end=heard.end + ahead)
        self._ports.watch.heard(heard, now)
        self._mouth.hush()
        if not self.conversation.over:
            self._say(self.conversation.stopped(heard, now))

    def _note(self, sound: Samples, now: float) -> None:
        try:
            name = self._ports.keep_note(sound)
        except StorageError:
            held = self.conversation.drop_note()
            self._say([self.conversation.wording.say("note lost", tone="attention"), *held])
        else:
            self._say(self.conversation.noted(now, name, self._ports.dictate(sound)))

    def _answer(self, heard: Heard, now: float) -> list[Prompt]:
        """A mistake of the program must not end a session in the middle of the job."""
        try:
            return self.conversation.hear(heard, now)
        except HandsfreeError:
            raise
        except Exception:
            if not self._policy.forgiving:
                raise
            self._ports.log.write(lines.Mistake(traceback.format_exc()[-2000:]), now)
            return [self.conversation.wording.say("not here")]

    def _patiently(self, prompts: list[Prompt], typed: bool = False) -> list[Prompt]:
        """What was not understood again is answered in another way (see `reprompt`)."""
        if not prompts:
            return prompts
        if any(prompt.key not in FAILED for prompt in prompts):
            self._not_understood = 0
            return prompts
        self._not_understood += 1
        conversation = self.conversation
        key = reprompt(self._not_understood, reading=conversation.reads,
                          keys=self._ports.keys is not None, typed=typed)
        if key == "unclear":
            return prompts
        text = ("" if key == TONE else conversation.wanted().text if key == WANTED
                else conversation.wording.say(
                    key, help=conversation.language.commands["help"][0]).text)
        return [Prompt("unclear", text, tone="attention")]

    def _take_keys(self) -> None:
        for said in self._ports.keys() if self._ports.keys else ():
            now = self._ports.clock()
            self._mouth.hush()
            if said:
                heard = Hypothesis(said, 1.0, now, now, engine="keyboard")
                self._ports.watch.heard(heard, now)
                self._say(self.conversation.typed(said, now) or self._patiently(
                    self._answer(heard, now), typed=True))
        if self._ports.button and self._ports.button.news() and not self.conversation.over:
            self._mouth.hush()
