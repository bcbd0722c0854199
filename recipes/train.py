"""Train the network on spoken clips, with a stop after so many seconds of wall time.

    python train.py FOLDER... --out MODEL.pt --seconds 540 [--held FOLDER] [--from MODEL.pt]

FOLDER holds NAME.pcm with NAME.jsonl as `speak.py` writes them.  Works on a GPU if there is one.
Clips that appear in the folders while training runs are taken up every minute.
"""

from __future__ import annotations

import argparse
import json
import math
import random
import time
from pathlib import Path

import noises
import numpy as np
import second
import third
import torch
from augment import HOP, RATE, Augment, LogMel
from net import STRIDE, Net
from phones import CLASS
from torch import nn
from torch.nn import functional as F

SHARES = {"kokoro": 0.52, "espeak": 0.20, "piper": 0.12, "flite": 0.08, "festival": 0.08}
"""How often each synthesiser is heard, as far as it is there."""


class Clips:
    """All clips of some folders: samples end to end on the device, and where each one lies."""

    def __init__(self, folders: list[Path], device: str) -> None:
        waves, self.family, self.at, self.length, self.label, start = [], [], [], [], [], 0
        self.text: list[str] = []
        for folder in folders:
            for index in sorted(folder.glob("*.jsonl")):
                wave = np.fromfile(index.with_suffix(".pcm"), dtype=np.int16)
                family = index.stem.split("-")[0]
                for line in index.read_text(encoding="utf-8").splitlines():
                    try:
                        clip = json.loads(line)
                    except ValueError:
                        continue  # the last line of a file that is being written
                    if clip["at"] + clip["n"] > len(wave):
                        continue
                    self.family.append(family)
                    self.at.append(start + clip["at"])
                    self.length.append(clip["n"])
                    self.label.append([CLASS[p] for p in clip["phones"]])
                    self.text.append(clip["text"])
                waves.append(wave)
                start += len(wave)
        joined = np.concatenate(waves)
        self.hours = len(joined) / RATE / 3600
        self.speech = torch.from_numpy(joined).to(device)
        self.by_family = {
            family: [i for i, f in enumerate(self.family) if f == family]
            for family in sorted(set(self.family))
        }
        self.waves = joined

    def some(self, rng: random.Random, count: int) -> list[int]:
        """Numbers of clips, the synthesisers in their shares."""
        names = list(self.by_family)
        # Few clips of a synthesiser are not to be learnt by heart.
        shares = [SHARES.get(n, 0.1) * min(1.0, len(self.by_family[n]) / 2000) for n in names]
        return [
            rng.choice(self.by_family[name]) for name in rng.choices(names, shares, k=count)
        ]


def batches(clips: Clips, rng: random.Random, seconds: float) -> list[list[int]]:
    """4,096 clips in batches of like length and at most so many seconds of sound."""
    drawn = sorted(clips.some(rng, 4096), key=lambda i: clips.length[i])
    out: list[list[int]] = [[]]
    for clip in drawn:
        longest = clips.length[clip] / RATE / 0.9 + 1.0
        if longest * (len(out[-1]) + 1) > seconds:
            out.append([])
        out[-1].append(clip)
    rng.shuffle(out)
    return [b for b in out if len(b) > 8]


def loss_of(
    net: nn.Module, mel: torch.Tensor, frames: torch.Tensor, labels: list[list[int]]
) -> torch.Tensor:
    """CTC of the end and, with a third of the weight, of the middle of the network."""
    device = mel.device
    late, early, _ = net(mel, net.fresh(len(mel), device), frames)
    flat = torch.tensor([c for label in labels for c in label], device=device)
    sizes = torch.tensor([len(label) for label in labels], device=device)
    scored = [
        F.ctc_loss(
            scores.transpose(0, 1), flat, frames, sizes, blank=0, reduction="none",
            zero_infinity=True,
        )
        for scores in (late, early)
    ]  # fmt: skip
    return ((scored[0] + 0.3 * scored[1]) / 1.3 / sizes).mean()


def frames_of(samples: torch.Tensor, net: nn.Module) -> torch.Tensor:
    """Output frames of so many samples."""
    if isinstance(net, third.WhisperHead):
        return samples // HOP // third.STRIDE
    window, stride = (512, 4) if isinstance(net, second.EmbeddingHead) else (400, 3)
    return ((samples - window) // HOP + 1) // stride


def distance(left: list[int], right: list[int]) -> int:
    """Edits from one list of classes to the other."""
    row = list(range(len(right) + 1))
    for i, one in enumerate(left, 1):
        previous, row[0] = row[0], i
        for j, two in enumerate(right, 1):
            previous, row[j] = row[j], min(row[j] + 1, row[j - 1] + 1, previous + (one != two))
    return row[-1]


@torch.no_grad()
def errors(
    net: nn.Module, clips: Clips, augment: Augment | None,
    mel_of: LogMel | second.LogMel | third.LogMel,
) -> dict[str, float]:
    """Share of wrong phones by family, greedy; clean, or in noise if `augment` is given."""
    net.eval()
    out: dict[str, float] = {}
    for family, members in clips.by_family.items():
        wrong = total = 0
        for start in range(0, min(len(members), 256), 64):
            some = members[start : start + 64]
            at = torch.tensor([clips.at[i] for i in some], device=clips.speech.device)
            length = torch.tensor([clips.length[i] for i in some], device=clips.speech.device)
            if augment is None:
                size = int(length.max()) + 9600
                wave = torch.zeros(len(some), size, device=clips.speech.device)
                for row, i in enumerate(some):
                    clip = clips.speech[clips.at[i] : clips.at[i] + clips.length[i]]
                    wave[row, 3200 : 3200 + len(clip)] = clip.float() / 32768
                samples = length + 9600
            else:
                wave, samples = augment(at, length)
            mel = mel_of(wave)
            mel = mel[:, : mel.shape[1] // 12 * 12]
            frames = frames_of(samples, net)
            best = net(mel, net.fresh(len(mel), mel.device), frames)[0].argmax(-1).cpu().numpy()
            for row, i in enumerate(some):
                path = best[row, : max(int(frames[row]), 0)]
                said = [int(c) for k, c in enumerate(path) if c and (k == 0 or path[k - 1] != c)]
                wrong += distance(said, clips.label[i])
                total += len(clips.label[i])
        out[family] = round(wrong / max(total, 1), 3)
    net.train()
    return out


def main() -> None:
    """Train."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folders", type=Path, nargs="+")
    parser.add_argument("--held", type=Path)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--start", type=Path, help="go on from this model")
    parser.add_argument("--seconds", type=float, default=540)
    parser.add_argument("--batch", type=float, default=900, help="seconds of sound a batch")
    parser.add_argument("--rate", type=float, default=2e-3)
    parser.add_argument("--seed", type=int, default=7)
    parser.add_argument("--noises", type=int, default=132)
    parser.add_argument("--width", type=int, default=240)
    parser.add_argument("--embedding", type=Path, help="train the second network, on this one")
    parser.add_argument("--encoder", type=Path, help="train the third network, on this one")
    parser.add_argument("--part", type=float, nargs=2, default=(0.0, 1.0),
                        help="where in the schedule this run starts and ends")  # fmt: skip
    asked = parser.parse_args()

    device = "cuda" if torch.cuda.is_available() else "cpu"
    torch.manual_seed(asked.seed)
    rng = random.Random(asked.seed)
    began = time.monotonic()
    clips = Clips(asked.folders, device)
    speech = [
        clips.waves[clips.at[i] : clips.at[i] + clips.length[i]].astype(np.float32) / 32768
        for i in clips.some(rng, 300)
    ]
    noise = torch.from_numpy(noises.bank(asked.seed, asked.noises, 20 * RATE, speech))
    noise = noise.to(device=device, dtype=torch.float16)
    augment = Augment(clips.speech, noise, asked.seed)
    mel_of: LogMel | second.LogMel | third.LogMel = LogMel(device)
    net: nn.Module = Net(width=asked.width)
    stride, blank = STRIDE, 0.0
    if asked.embedding:
        mel_of = second.LogMel(asked.embedding, device)
        net, stride, blank = second.EmbeddingHead(asked.embedding), second.STRIDE, 4.0
    if asked.encoder:
        mel_of = third.LogMel(device)
        net, stride, blank = third.WhisperHead(asked.encoder), third.STRIDE, third.SILENT
    net = net.to(device)
    held = Clips([asked.held], device) if asked.held else None

    if asked.start:
        net.load_state_dict(torch.load(asked.start, map_location=device)["average"])
    size = sum(p.numel() for p in net.parameters()) / 1e6
    print(f"{clips.hours:.2f} h, {size:.2f} M parameters", flush=True)
    average = {k: v.detach().clone() for k, v in net.state_dict().items()}
    optimiser = torch.optim.AdamW(net.parameters(), lr=asked.rate, weight_decay=0.02,
                                  betas=(0.9, 0.98))  # fmt: skip
    step, mean, began, looked, taken = 0, 3.0, time.monotonic(), 0.0, 0.0
    queue: list[list[int]] = []
    while (spent := time.monotonic() - began) < asked.seconds:
        if not queue:
            if spent - taken > 60 and spent < 0.9 * asked.seconds:
                taken = spent
                fresh = Clips(asked.folders, device)
                if fresh.hours > clips.hours + 0.05:
                    clips = fresh
                    augment.speech = clips.speech
                    print(f"now {clips.hours:.2f} h", flush=True)
            queue = batches(clips, rng, asked.batch)
        some = queue.pop()
        part = asked.part[0] + (asked.part[1] - asked.part[0]) * spent / asked.seconds
        warm = min(1.0, (step + 1) / 200)
        for group in optimiser.param_groups:
            group["lr"] = asked.rate * warm * (0.02 + 0.98 * 0.5 * (1 + math.cos(math.pi * part)))
        at = torch.tensor([clips.at[i] for i in some], device=device)
        length = torch.tensor([clips.length[i] for i in some], device=device)
        with torch.no_grad():
            # The loudest noises come in as the network gets to know the phones.
            wave, samples = augment(at, length, snr_low=10.0 - 15.0 * min(1.0, part / 0.25))
            tract = torch.randn(len(some), generator=augment.rng, device=device) * 4.5 + 10
            mel = mel_of(wave, tract.round().long().clamp(0, 20))
            mel = mel[:, : mel.shape[1] // 12 * 12]
            bands = mel.shape[2]
            for part_of in range(4):  # bands and moments that are missing
                low, start = rng.randrange(bands - 4), rng.randrange(max(mel.shape[1] - 12, 1))
                mel[part_of::4, :, low : low + rng.randint(0, bands // 5)] = blank
                mel[part_of::4, start : start + rng.randint(0, 12)] = blank
        with torch.autocast(device, dtype=torch.bfloat16, enabled=device == "cuda"):
            frames = torch.clamp(frames_of(samples, net), max=mel.shape[1] // stride)
            loss = loss_of(net, mel, frames, [clips.label[i] for i in some])
        optimiser.zero_grad(set_to_none=True)
        loss.backward()
        torch.nn.utils.clip_grad_norm_(net.parameters(), 2.0)
        optimiser.step()
        step += 1
        keep = min(0.9985, step / (step + 20))
        for name, value in net.state_dict().items():
            average[name].lerp_(value.detach(), 1 - keep)
        if step % 20 == 0:
            mean = 0.8 * mean + 0.2 * float(loss.detach())
        if spent - looked > 45 or step == 1:
            looked = spent
            print(f"{spent:4.0f} s, step {step}, loss {mean:.3f}", flush=True)
            torch.save({"average": average, "width": asked.width}, asked.out)
    net.load_state_dict(average)
    torch.save({"average": average, "width": asked.width, "steps": step}, asked.out)
    for name, some_clips in (("training voices", clips), ("voices held out", held)):
        if some_clips is not None:
            dirty = Augment(some_clips.speech, noise, 99)
            print(name, "clean", errors(net, some_clips, None, mel_of), "noisy",
                  errors(net, some_clips, dirty, mel_of), flush=True)  # fmt: skip


if __name__ == "__main__":
    main()
