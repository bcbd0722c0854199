"""The synthesisers that speak the training data, each behind one call: text in, samples out.

Every voice takes a seeded generator and varies what its synthesiser lets it vary: pace, pitch,
timbre, expression.  All of them come from package registries; `README.md` says which packages.
Imports numpy, scipy; each synthesiser only where its voice is made.
"""

from __future__ import annotations

import ctypes
import json
import random
import subprocess
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import phones
from scipy.signal import resample_poly

RATE = 16_000
Wave = npt.NDArray[np.int16]

ESPEAK_HELD_OUT = ("f2", "m3", "klatt2", "Michael", "linda", "steph")
"""Variants of espeak-ng that never speak training data."""

KOKORO_HELD_OUT = ("af_heart", "am_michael", "bf_emma", "bm_lewis", "jf_nezumi")
"""Styles of Kokoro that never speak training data, alone or in a mixture."""


def to_rate(wave: npt.NDArray[Any], rate: int) -> Wave:
    """Resample to 16 kHz and bring the peak to half of full scale."""
    wave = np.asarray(wave, dtype=np.float32).ravel()
    if not np.all(np.isfinite(wave)):
        return np.zeros(0, np.int16)
    if rate != RATE:
        step = int(np.gcd(rate, RATE))
        wave = resample_poly(wave, RATE // step, rate // step).astype(np.float32)
    peak = float(np.max(np.abs(wave), initial=1e-9))
    loud = np.flatnonzero(np.abs(wave) > 0.02 * peak)
    if len(loud):  # what is silent before and after the speech is left off
        wave = wave[max(0, loud[0] - 400) : loud[-1] + 800]
    return np.round(wave * (16384.0 / peak)).astype(np.int16)


class Espeak:
    """espeak-ng through its library, with the data that `espeakng-loader` carries."""

    name = "espeak"

    def __init__(self, library: str, data: str, variants: list[str] | None = None) -> None:
        self._lib = ctypes.CDLL(library)
        self._rate = self._lib.espeak_Initialize(2, 0, str(Path(data).parent).encode(), 0)
        if self._rate <= 0:
            self._rate = self._lib.espeak_Initialize(2, 0, str(data).encode(), 0)
        here = Path(data) / "voices" / "!v"
        unfit = ("whisper", "Demonic", "robo", "UniRobot", "anikaRobot", "Tweaky", "Storm", "croak")
        self._variants = variants or [
            f.name
            for f in sorted(here.iterdir())
            if f.name not in ESPEAK_HELD_OUT and not f.name.startswith(unfit)
        ]
        self._pieces: list[bytes] = []
        kind = ctypes.CFUNCTYPE(
            ctypes.c_int, ctypes.POINTER(ctypes.c_short), ctypes.c_int, ctypes.c_void_p
        )

        def take(wave: Any, count: int, _events: Any) -> int:
            if wave and count:
                self._pieces.append(ctypes.string_at(wave, 2 * count))
            return 0

        self._callback = kind(take)  # kept, or the library would call freed memory
        self._lib.espeak_SetSynthCallback(self._callback)

    def say(self, text: str, rng: random.Random, spoken: str, language: str = "",
            ) -> tuple[Wave, str]:  # fmt: skip
        accent = language or rng.choices(
            ["en-us", "en-gb", "en-gb-scotland", "en-gb-x-rp", "en-029", "en-us-nyc"],
            [60, 12, 4, 8, 4, 12],
        )[0]
        voice = f"{accent}+{rng.choice(self._variants)}"
        self._lib.espeak_SetVoiceByName(voice.encode())
        self._lib.espeak_SetParameter(1, rng.randint(115, 215), 0)  # words a minute
        self._lib.espeak_SetParameter(3, rng.randint(25, 75), 0)  # pitch
        self._lib.espeak_SetParameter(4, rng.randint(20, 90), 0)  # pitch range
        self._pieces.clear()
        raw = text.encode()
        self._lib.espeak_Synth(
            ctypes.c_char_p(raw), ctypes.c_size_t(len(raw) + 1), 0, 0, 0, 1, None, None
        )
        self._lib.espeak_Synchronize()
        wave = np.frombuffer(b"".join(self._pieces), dtype=np.int16)
        return to_rate(wave, self._rate), voice


class Kokoro:
    """Kokoro-82M, int8, with its own styles and mixtures of them; phones in, no text.

    A style of another language, given English phones, is a speaker with a trace of an accent.
    """

    name = "kokoro"

    def __init__(self, model: str, vocabulary: str, styles: Path, held: bool = False) -> None:
        import onnxruntime

        options = onnxruntime.SessionOptions()
        options.intra_op_num_threads = options.inter_op_num_threads = 1
        options.log_severity_level = 3
        self._session = onnxruntime.InferenceSession(
            model, options, providers=["CPUExecutionProvider"]
        )
        self._vocabulary = json.loads(Path(vocabulary).read_text(encoding="utf-8"))["vocab"]
        self._styles = {
            file.stem: np.fromfile(file, dtype=np.float32).reshape(-1, 256)
            for file in sorted(styles.glob("*.bin"))
            if (file.stem in KOKORO_HELD_OUT) == held
        }
        self._held = held
        self._english = [key for key in self._styles if key[0] in "ab"]
        self._other = [key for key in self._styles if key[0] not in "ab"]

    def say(self, text: str, rng: random.Random, spoken: str) -> tuple[Wave, str]:
        kind = 0.0 if self._held else rng.random()
        if self._held:
            keys = [rng.choice(sorted(self._styles))]
        elif kind < 0.5:
            keys = [rng.choice(self._english)]
        elif kind < 0.75:
            keys = rng.sample(self._english, 2)
        elif kind < 0.87:
            keys = [rng.choice(self._english), rng.choice(self._other)]
        else:
            keys = [rng.choice(self._other)]
        said = spoken
        if rng.random() < (0.85 if keys[0][0] == "b" else 0.08):
            said = phones.without_r(spoken).replace("O", "Q").replace("æ", "a")
        tokens = [self._vocabulary[c] for c in said if c in self._vocabulary]
        at = min(max(len(tokens) + rng.randint(-5, 60), 0), 509)
        share = np.array([rng.uniform(0.3, 1.0) for _ in keys])
        style = sum(s * self._styles[k][at] for s, k in zip(share / share.sum(), keys, strict=True))
        if not self._held:  # lean away from the middle, or towards it
            centre = sum(self._styles[k][at] for k in self._english) / len(self._english)
            style = centre + (style - centre) * rng.uniform(0.85, 1.15)
        (wave,) = self._session.run(
            None,
            {
                "tokens": np.array([[0, *tokens, 0]], dtype=np.int64),
                "style": np.asarray(style, dtype=np.float32).reshape(1, 256),
                "speed": np.array([rng.uniform(0.75, 1.35)], dtype=np.float32),
            },
        )
        return to_rate(wave, 24_000), "+".join(keys)


class Piper:
    """One Piper voice run directly: phones in IPA, with random pace and expression."""

    name = "piper"

    def __init__(self, model: str) -> None:
        import onnxruntime

        options = onnxruntime.SessionOptions()
        options.intra_op_num_threads = options.inter_op_num_threads = 1
        options.log_severity_level = 3
        self._session = onnxruntime.InferenceSession(
            model, options, providers=["CPUExecutionProvider"]
        )
        self._map = json.loads(Path(model + ".json").read_text(encoding="utf-8"))["phoneme_id_map"]

    def say(self, text: str, rng: random.Random, spoken: str) -> tuple[Wave, str]:
        ids = [1, 0]
        for sign in phones.to_ipa(spoken):
            if sign in self._map:
                ids += [*self._map[sign], 0]
        ids.append(2)
        scales = [rng.uniform(0.4, 1.0), rng.uniform(0.8, 1.35), rng.uniform(0.5, 1.1)]
        (wave,) = self._session.run(
            None,
            {
                "input": np.array([ids], dtype=np.int64),
                "input_lengths": np.array([len(ids)], dtype=np.int64),
                "scales": np.array(scales, dtype=np.float32),
            },
        )
        return to_rate(wave, 22_050), "joe"


class Flite:
    """Debian's flite; its voices share one lexicon."""

    name = "flite"

    def __init__(self, voices: list[str]) -> None:
        self._voices = voices

    def say(self, text: str, rng: random.Random, spoken: str) -> tuple[Wave, str]:
        voice = rng.choice(self._voices)
        pace, pitch = rng.uniform(0.8, 1.3), rng.uniform(80, 220)
        order = ["flite", "-voice", voice, "--setf", f"duration_stretch={pace:.2f}"]
        if voice.startswith("kal"):
            order += ["--setf", f"int_f0_target_mean={pitch:.0f}"]
        # /dev/stdout is a pipe: flite cannot write the length, so the header's is not believed.
        ran = subprocess.run([*order, "-t", text, "/dev/stdout"], check=False, capture_output=True)
        raw = ran.stdout
        rate = int.from_bytes(raw[24:28], "little")
        return to_rate(np.frombuffer(raw[44 : len(raw) // 2 * 2], dtype=np.int16), rate), voice


class Festival:
    """Debian's festival, one server process a voice batch: many texts in one run."""

    name = "festival"

    def __init__(self, voices: list[str]) -> None:
        self._voices = voices

    def say_all(self, texts: list[str], rng: random.Random, folder: Path) -> list[tuple[Wave, str]]:
        """Speak all texts; slower one by one, so this voice takes a list."""
        import wave as wavefile

        lines, names = [], []
        for number, text in enumerate(texts):
            voice = rng.choice(self._voices)
            names.append(voice)
            safe = text.replace('"', "")
            lines.append(f"(voice_{voice})")
            lines.append(f"(Parameter.set 'Duration_Stretch {rng.uniform(0.85, 1.3):.2f})")
            lines.append(
                f'(utt.save.wave (utt.synth (Utterance Text "{safe}")) "{folder}/{number}.wav" '
                "'riff)"
            )
        script = folder / "say.scm"
        script.write_text("\n".join(lines))
        subprocess.run(["festival", "-b", str(script)], capture_output=True, check=False)
        out: list[tuple[Wave, str]] = []
        for number, voice in enumerate(names):
            path = folder / f"{number}.wav"
            if not path.exists():
                out.append((np.zeros(0, np.int16), voice))
                continue
            with wavefile.open(str(path)) as sound:
                raw = np.frombuffer(sound.readframes(sound.getnframes()), dtype=np.int16)
                out.append((to_rate(raw, sound.getframerate()), voice))
            path.unlink()
        return out


class Hibari:
    """hibari-tts: kept wholly out of training, it only speaks what is measured."""

    name = "hibari"

    def __init__(self) -> None:
        from hibari import Hibari as Engine

        self._engine = Engine()

    def say(self, text: str, rng: random.Random, spoken: str) -> tuple[Wave, str]:
        wave = self._engine.from_phonemes(
            spoken, speed=rng.uniform(0.8, 1.25), seed=rng.getrandbits(31)
        )
        return to_rate(wave, 24_000), "heart"
