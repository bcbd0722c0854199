"""The own recogniser on real synthesised speech, and its parts against plain reckonings."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from benchmarks.spoken_phrases import READINGS
from handsfree.audio import SAMPLE_RATE, Samples, silence, to_int16
from handsfree.errors import InputError
from handsfree.hearing.own import OwnRecogniser
from handsfree.hearing.own.confidence import MEASURES
from handsfree.hearing.own.decoder import ENDINGS, Decoder
from handsfree.hearing.own.features import LogMel
from handsfree.hearing.own.layers import layer_norm
from handsfree.hearing.own.network import EmbeddingHead, Network
from handsfree.hearing.own.reading_grammar import english, joins, meaning
from handsfree.hearing.own.readings import Readings
from handsfree.hearing.own.recogniser import FILES, default_model
from handsfree.hearing.own.scoring import Forward
from handsfree.hearing.own.whisper import Encoder, log_mel
from handsfree.hearing.types import Grammar, Hypothesis, Rejection, normal
from handsfree.language.loader import load_language
from handsfree.language.number_words import number_words
from handsfree.sound.mixing import mix_at_snr
from handsfree.sound.noise import noise
from handsfree.speaking.pyttsx3_voice import Pyttsx3Voice
from handsfree.speaking.voice import VoiceOptions

COMMANDS = frozenset({
    "done", "all done", "skip", "repeat", "say again", "tell me more", "there is a problem",
    "take it back", "what is left", "hold on", "carry on", "make a note", "how much time",
    "help me", "finish for now", "that is right", "no change it", "chocks set", "breaker is off",
})  # fmt: skip
NUMBERS = frozenset(
    [
        "zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten",
        "eleven", "twelve", "thirteen", "fifteen", "eighteen", "twenty", "fifty", "hundred",
        "thousand", "point", "and", "a", "half",
    ])


@pytest.fixture(scope="module")
def own() -> Iterator[OwnRecogniser]:
    recogniser = OwnRecogniser(pronunciations={"chocks": ["CH AA K S"], "amps": ["AE M P S"]})
    yield recogniser
    recogniser.close()


@pytest.fixture(scope="module")
def voice() -> Iterator[Pyttsx3Voice]:
    """A speaker of espeak-ng that trained nothing."""
    with Pyttsx3Voice(VoiceOptions(language="en-us", variant="m3", rate=155)) as made:
        yield made


def framed(speech: Samples) -> Samples:
    joined = np.concatenate((silence(0.25), speech, silence(0.4))).astype(float)
    return to_int16(joined + np.random.default_rng(1).normal(0, 3, len(joined)))


def hear(own: OwnRecogniser, sound: Samples, piece: int = 640) -> Hypothesis | Rejection:
    own.begin()
    for at in range(0, len(sound), piece):
        early = own.feed(sound[at : at + piece])
        if early is not None:
            return early
    return own.finish()


@pytest.mark.parametrize("name", ["awning", "inlet", "extension", "outlet", "regulator"])
def test_a_step_is_gone_to_whatever_its_name_begins_with(voice: Pyttsx3Voice, name: str) -> None:
    """Before a vowel "to" is neither "too" nor "tuh"; "awning" is not always "ah-ning"."""
    recogniser = OwnRecogniser(pronunciations=load_language("en").pronunciations)
    recogniser.expect(Grammar(COMMANDS | {
        f"{going} {step}" for going in ("go to", "take back", "take me to")
        for step in ("awning", "inlet", "extension", "outlet", "regulator", "hose")}))
    heard = hear(recogniser, framed(voice.render(f"go to {name}")))
    assert isinstance(heard, Hypothesis) and heard.text == f"go to {name}"
    assert heard.confidence > 0.95


def test_commands_are_heard_in_quiet_and_in_wind(own: OwnRecogniser, voice: Pyttsx3Voice) -> None:
    own.expect(Grammar(COMMANDS))
    quiet = windy = 0
    for number, text in enumerate(sorted(COMMANDS)):
        sound = framed(voice.render(text))
        heard = hear(own, sound)
        quiet += isinstance(heard, Hypothesis) and heard.text == text
        under = noise("wind", len(sound) / SAMPLE_RATE + 0.1, number)
        heard = hear(own, mix_at_snr(sound, under, 5.0))
        windy += isinstance(heard, Hypothesis) and heard.text == text
    assert quiet >= len(COMMANDS) - 1
    assert windy >= len(COMMANDS) - 2


def test_a_phrase_of_nobodys_vocabulary_is_heard(own: OwnRecogniser, voice: Pyttsx3Voice) -> None:
    """Open vocabulary: words from the dictionary, and one that only espeak-ng can say."""
    strange = "the quokka grommet is fastened"
    own.expect(Grammar(COMMANDS | {strange, "the quartz hatch is lowered"}))
    heard = hear(own, framed(voice.render(strange)))
    assert isinstance(heard, Hypothesis) and heard.text == strange


@pytest.mark.parametrize("text", [
    "one hundred and eighteen volts", "fifteen amps", "two and a half degrees", "one point five",
])  # fmt: skip
def test_readings(own: OwnRecogniser, voice: Pyttsx3Voice, text: str) -> None:
    own.expect(Grammar(COMMANDS, NUMBERS, frozenset({"volts", "amps", "degrees"})))
    heard = hear(own, framed(voice.render(text)))
    assert isinstance(heard, Hypothesis) and heard.text == text


def test_two_spellings_of_one_sound_do_not_share_its_confidence(
    own: OwnRecogniser, voice: Pyttsx3Voice
) -> None:
    """ "per cent" beside "percent": neither was certain, so no percentage was ever taken."""
    own.expect(Grammar(COMMANDS, NUMBERS, frozenset({"percent", "per cent"})))
    heard = hear(own, framed(voice.render("fifty percent")))
    assert isinstance(heard, Hypothesis) and heard.text == "fifty percent"
    assert heard.confidence > 0.8


@pytest.mark.parametrize("kind", ["wind", "rain", "engine", "pink"])
def test_noise_alone_is_never_taken(own: OwnRecogniser, kind: str) -> None:
    own.expect(Grammar(COMMANDS))
    long = noise(kind, 24.0, 3)
    for at in range(0, len(long), 2 * SAMPLE_RATE):
        heard = hear(own, long[at : at + 2 * SAMPLE_RATE])
        assert isinstance(heard, Rejection) or heard.confidence < 0.6, heard


def test_other_speech_is_not_taken_for_a_hold_point(
    own: OwnRecogniser, voice: Pyttsx3Voice
) -> None:
    own.expect(Grammar(COMMANDS))
    for text in ("could you bring the children some breakfast", "the weather turns on sunday",
                 "I think the river is rising again tonight"):
        heard = hear(own, framed(voice.render(text)))
        assert isinstance(heard, Rejection) or heard.confidence < 0.6, (text, heard)


def test_what_is_heard_does_not_hang_on_how_it_is_cut(
    own: OwnRecogniser, voice: Pyttsx3Voice
) -> None:
    own.expect(Grammar(COMMANDS))
    sound = framed(voice.render("finish for now"))[: SAMPLE_RATE * 3]
    answers = []
    for piece in (len(sound), 160, 1111):
        own.begin()
        for at in range(0, len(sound), piece):
            own.feed(sound[at : at + piece])
        answers.append(own.finish())
    assert {a.text for a in answers if isinstance(a, Hypothesis)} == {"finish for now"}
    sure = [a.confidence for a in answers if isinstance(a, Hypothesis)]
    assert max(sure) - min(sure) < 1e-3


def test_forward_sums_equal_the_sum_over_all_paths() -> None:
    """Every path through 5 frames that collapses to the string, added up one by one."""
    rng = np.random.default_rng(2)
    scores = np.log(rng.dirichlet(np.ones(4), 5))
    for string in ((1,), (2, 3), (2, 2), (1, 2, 1)):
        total = 0.0
        for path in itertools.product(range(4), repeat=5):
            merged = [c for at, c in enumerate(path) if at == 0 or path[at - 1] != c]
            if tuple(c for c in merged if c) == string:
                total += float(np.exp(sum(scores[t, c] for t, c in enumerate(path))))
        forward = Forward([string])
        forward.feed(scores[:2])
        forward.feed(scores[2:])
        assert forward.scores()[0] == pytest.approx(np.log(total))


def test_readings_find_the_words_that_were_written() -> None:
    """Frames that spell three words, the same word twice among them, with blanks between."""
    words = {"one": [(1, 2)], "two": [(3,)], "three": [(2, 4)]}
    spelled = [0, 1, 2, 0, 3, 0, 3, 2, 4, 4, 0, 5, 0]
    scores = np.full((len(spelled), 6), -6.0)
    scores[np.arange(len(spelled)), spelled] = -0.05
    readings = Readings(words, {"volts": [(5,)]})
    readings.feed(scores)
    assert readings.best()[0] == ("one two two three volts", (1, 2, 3, 3, 2, 4, 5))


def spelling(own: OwnRecogniser, words: str) -> np.ndarray:
    """Frames of the first network that spell these words, nothing else being likely."""
    spelled = [0]
    for phone in own._lexicon.say(words)[0]:
        spelled += [phone, 0]
    scores = np.full((len(spelled), 40), -9.0)
    scores[np.arange(len(spelled)), spelled] = -0.05
    return scores


@pytest.mark.parametrize("text", [
    "three quarters of and inch", "half an an", "two hundred half inches", "volt a one two one",
    "two and oh half inches"])
def test_what_is_no_number_is_no_reading(own: OwnRecogniser, text: str) -> None:
    """In rain these were the best guesses, instead of what means something."""
    numbers = number_words(english())
    own.expect(Grammar(frozenset(), numbers, frozenset({"inch", "inches", "volt"}), unit="inches"))
    readings = own._compiled.readings
    readings.begin()
    readings.feed(spelling(own, text))
    found = [words for words, _ in readings.best()]
    assert found and text not in found
    own.begin()
    own._hear_third()
    own._compiled.readings.feed(spelling(own, text))
    assert all(meaning(c.text, "inches") is not None for c in own.candidates())


def test_another_wording_of_the_same_is_no_rival(own: OwnRecogniser, voice: Pyttsx3Voice) -> None:
    """ "it's three" beside "it is three": which of them was said does not matter."""
    wordings = frozenset({"it is three", "it's three"})
    numbers = frozenset({"ninety", "seven", "nine"})
    sound = framed(voice.render("it is three"))
    rivals = []
    for alike in (frozenset[frozenset[str]](), frozenset({wordings})):
        own.expect(Grammar(COMMANDS | wordings, alike=alike))
        assert isinstance(heard := hear(own, sound), Hypothesis) and heard.text in wordings
        rivals.append(np.expm1(own.measured(own.candidates())[MEASURES.index("rivals")]))
    assert rivals == pytest.approx([len(COMMANDS) + 1, len(COMMANDS)])
    own.expect(Grammar(COMMANDS, numbers, frozenset({"volt", "volts"}), unit="volts"))
    heard = hear(own, framed(voice.render("ninety seven volts")))
    assert isinstance(heard, Hypothesis) and heard.confidence > 0.8
    ranked = own.candidates()
    assert "volts" not in own._compiled.known and "ninety seven volt" in {c.text for c in ranked}
    assert np.expm1(own.measured(ranked)[MEASURES.index("rivals")]) < len(ranked) - 1.5


def test_every_number_can_be_strung_together() -> None:
    """Whole numbers as num2words writes them, and the readings of the benchmarks."""
    num2words = pytest.importorskip("num2words", reason="num2words is a test extra").num2words
    may = joins(number_words(english()))
    for text in (*READINGS, *(normal(num2words(n)) for n in (*range(1000), *range(1000, 9999, 37)))):
        words = [word for word in text.split() if word in number_words(english())]
        assert words[0] in may.starts and words[-1] in may.ends, text
        assert all(pair in may.follows for pair in itertools.pairwise(words)), text
    assert ("three", "quarters") in may.follows and ("oh", "half") not in may.follows
    assert "quarters" not in may.starts and "quarter" in may.starts
    assert ("an", "an") not in may.follows and ("hundred", "half") not in may.follows


def test_the_network_keeps_its_state_between_pieces() -> None:
    sound = noise("pink", 2.0, 4)
    mel, network = LogMel(), Network(default_model() / "phones.npz")
    whole = network.feed(mel.feed(sound))
    mel.reset()
    network.reset()
    pieces = [network.feed(mel.feed(sound[at : at + 777])) for at in range(0, len(sound), 777)]
    assert np.allclose(np.concatenate(pieces), whole, atol=1e-3)


def test_the_second_network_and_its_embedding_keep_their_state_between_pieces() -> None:
    sound = noise("pink", 2.0, 4)
    network = EmbeddingHead(default_model() / "second.npz", default_model() / "speech.npz")
    whole = network.feed(sound)
    assert whole.shape == ((len(sound) - 512) // 160 // 4, 40)
    network.reset()
    pieces = [network.feed(sound[at : at + 777]) for at in range(0, len(sound), 777)]
    assert np.allclose(np.concatenate(pieces), whole, atol=1e-3)


def chirp() -> Samples:
    """A sound for 3 s and 27 s of silence."""
    time = np.arange(3 * SAMPLE_RATE) / SAMPLE_RATE
    sound = 9000 * np.sin(2 * np.pi * (150 + 250 * time) * time)
    sound = sound * (1 + np.sin(2 * np.pi * 3 * time)) / 2
    sound += 3000 * np.sin(2 * np.pi * 1900 * time) * (np.sin(2 * np.pi * 2 * time) > 0)
    return np.round(np.pad(sound, (0, 27 * SAMPLE_RATE))).astype(np.int16)


def test_the_encoder_equals_another_implementation_of_it() -> None:
    """Mel frames and encoder against faster-whisper 1.2 with CTranslate2 4.8, which ran the same
    weights in 16 bits; computed once (`encoder_reference.npz`), since both are large."""
    reference = np.load(Path(__file__).with_name("encoder_reference.npz"))
    sound = chirp()
    assert np.abs(log_mel(sound)[40:60] - reference["mel"]).max() < 0.01
    last = Encoder(default_model() / "whisper.npz")(sound)[-1][20:30]
    normed = layer_norm(last, reference["gain"].astype("f4"), reference["shift"].astype("f4"))
    confusability = np.corrcoef(normed.ravel(), reference["encoded"].ravel().astype("f4"))[0, 1]
    assert confusability > 0.999


def test_the_decoder_equals_another_implementation_of_it() -> None:
    """What is likely behind a beginning, against CTranslate2 4.8 with the same weights in 16 bits,
    computed once (`decoder_reference.npz`): its logits of 400 tokens."""
    reference = np.load(Path(__file__).with_name("decoder_reference.npz"))
    decoder = Decoder(default_model() / "decoder.npz")
    heard = Encoder(default_model() / "whisper.npz")(chirp())[-1]
    tokens = [str(token) for token in reference["tokens"]]
    for text, theirs in zip(reference["texts"], reference["logits"], strict=True):
        ours = decoder.next_scores(heard, str(text), tokens)
        assert np.corrcoef(ours, theirs)[0, 1] > 0.99
        assert tokens[int(ours.argmax())] == tokens[int(theirs.argmax())]


def test_a_texts_probability_is_the_product_of_its_tokens() -> None:
    """Asked alone or among others, whose beginnings it shares or not."""
    decoder = Decoder(default_model() / "decoder.npz")
    heard = Encoder(default_model() / "whisper.npz")(noise("pink", 1.0, 2))[-1]
    texts = ["Hold", "Hold on", "118 volts", "Unhitch the quokka"]
    together = decoder(heard, texts).told
    alone = [decoder(heard, [text]).told[0] for text in texts]
    assert together == pytest.approx(alone, abs=0.7)  # rare tokens of the others share, too
    word = decoder.next_scores(heard, "", ["ĠHold"])[0]
    ends = decoder.next_scores(heard, "Hold", ENDINGS)
    assert alone[0] == pytest.approx(word + np.logaddexp.reduce(ends), abs=0.05)
    assert decoder(heard[:0], texts).told.tolist() == [-np.inf] * 4


@pytest.mark.parametrize(("text", "ways"), [
    ("that's right", ["That's right", "that's right"]),
    ("one hundred and eighteen volts",
     ["One hundred and eighteen volts", "one hundred and eighteen volts", "118 volts"]),
    ("two and a half degrees", ["Two and a half degrees", "two and a half degrees", "2.5 degrees"]),
    ("make a note", ["Make a note", "make a note"]),
    ("p s i", ["P S I"]),
])  # fmt: skip
def test_a_text_is_written_as_people_write(own: OwnRecogniser, text: str, ways: list[str]) -> None:
    assert own._opinions.written(text) == ways


def test_a_word_whose_end_was_cut_off_is_still_heard(
    own: OwnRecogniser, voice: Pyttsx3Voice
) -> None:
    """A threshold of loudness took the "s" of "six" and put digital silence in its place."""
    spoken = voice.render("six")
    loud = np.flatnonzero(np.abs(spoken) > 3000)
    cut = spoken[loud[0] : loud[-1]]
    own.expect(Grammar(frozenset({
        "zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine"})))
    heard = hear(own, np.concatenate((silence(0.25), cut, silence(0.4))))
    assert (heard.text if isinstance(heard, Hypothesis) else heard.best) == "six"


def test_what_is_cut_off_one_word_is_not_another(own: OwnRecogniser, voice: Pyttsx3Voice) -> None:
    """ "note" without its end would be "no"."""
    own.expect(Grammar(frozenset({"note", "no", "skip", "done"})))
    assert own.candidates() is not None
    heard = hear(own, framed(voice.render("no")))
    assert isinstance(heard, Hypothesis) and heard.text == "no" and heard.confidence > 0.9


def test_the_encoder_takes_the_shortest_and_the_longest_utterance() -> None:
    encoder = Encoder(default_model() / "whisper.npz")
    assert [layer.shape for layer in encoder(noise("pink", 0.02, 1)[:319])] == [(0, 384)] * 4
    assert encoder(noise("pink", 0.02, 1))[0].shape == (1, 384)
    assert encoder(noise("pink", 32.0, 1))[0].shape == (1500, 384)


def test_a_folder_without_a_model_is_said_in_one_sentence(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"phones\.npz"):
        OwnRecogniser(tmp_path)
    for file in FILES:
        (tmp_path / file).write_bytes(b"no model")
    with pytest.raises(InputError, match="not a model"):
        OwnRecogniser(tmp_path)


@pytest.mark.parametrize(("said", "part"), [
    ("I want to make a note", "make a note"), ("wait a moment please", "wait a moment")])
def test_what_is_no_phrase_is_written_down(
    own: OwnRecogniser, voice: Pyttsx3Voice, said: str, part: str
) -> None:
    own.expect(Grammar(frozenset({"done", "chocks set"})))
    heard = hear(own, framed(voice.render(said)))
    assert isinstance(heard, Rejection) and part in heard.written


def test_what_is_written_down_is_not_repeated(own: OwnRecogniser, voice: Pyttsx3Voice) -> None:
    """The decoder goes round in circles on a short word: the first round is kept."""
    own.expect(Grammar(frozenset({"chocks set"})))
    heard = hear(own, framed(voice.render("problem")))
    assert isinstance(heard, Rejection) and heard.written in ("problem", "")
