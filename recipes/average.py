"""Weighted mean of trained networks of one lineage.

    python average.py MODEL.pt SHARE [MODEL.pt SHARE ...] OUT.pt
"""

from __future__ import annotations

import sys

import torch


def main() -> None:
    """Average."""
    *pairs, out = sys.argv[1:]
    models = [torch.load(path, map_location="cpu") for path in pairs[::2]]
    shares = [float(share) for share in pairs[1::2]]
    mean = {
        name: sum(s * m["average"][name].float() for s, m in zip(shares, models, strict=True))
        for name in models[0]["average"]
    }
    torch.save({"average": mean, "width": models[0]["width"]}, out)


if __name__ == "__main__":
    main()
