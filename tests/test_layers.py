"""Who may import whom: the pure rooms never reach an adapter, and only commands do the wiring."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

PACKAGE = Path(__file__).resolve().parent.parent / "handsfree"
OUTSIDE = {"sounddevice", "vosk", "pyttsx3", "pocketsphinx", "espeakng_loader", "onnxruntime",
           "soundfile", "click", "rich", "matplotlib", "socket", "requests", "urllib"}
ALLOWED = {
    "engine": {"checklist", "engine"},
    "checklist": {"checklist", "errors"},
    "proof": {"checklist", "engine", "proof", "errors", "language", "library", "session.expecting",
              "session.wording", "bench.memory"},
    "language": {"language", "hearing.types", "errors"},
    "sound": {"sound", "audio", "errors"},
    "speaking": {"speaking", "sound", "audio", "errors"},
    "hearing": {"hearing", "audio", "errors", "keeping", "language", "library", "sound"},
    "devices": {"devices", "audio", "errors"},
    "session": {"session", "checklist", "engine", "language", "hearing", "sound", "speaking.voice", "work",
                "audio", "errors", "keeping"},
    "standby": {"standby", "session", "checklist", "engine", "language", "hearing", "work", "audio",
                "errors", "keeping"},
    "work": {"work", "errors"},
    "screen": {"screen", "checklist", "engine", "language", "hearing.types", "session.live",
               "session.expecting", "session.wording", "audio", "errors"},
    "doctor": {"doctor", "session.record", "checklist.rig_file", "language", "hearing.types",
               "speaking.voice", "audio", "errors"},
    "paper": {"paper", "checklist", "engine.state", "language", "session.wording", "errors"},
}
PURE_OF_EVERYTHING = ("engine", "checklist/model.py", "checklist/conditions.py",
                      "checklist/schema.py", "session/expecting.py", "session/understanding.py",
                      "session/wording.py")
WIRING = {"wiring.py", "posts.py", "walking.py", "stages.py", "standby_times.py", "cli.py", "cli_run.py", "cli_rig.py", "cli_bench.py", "cli_check.py",
          "cli_review.py", "cli_work.py", "cli_print.py", "cli_say.py", "cli_new.py",
          "cli_doctor.py", "cli_schema.py", "cli_standby.py", "cli_service.py"}


def imports(path: Path) -> set[str]:
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            found.add(node.module)
    return found


def files(part: str) -> list[Path]:
    path = PACKAGE / part
    return [path] if path.suffix else sorted(path.rglob("*.py"))


@pytest.mark.parametrize("room", sorted(ALLOWED))
def test_a_room_imports_only_what_it_may(room: str) -> None:
    assert files(room), f"no room {room}"
    for path in files(room):
        for name in imports(path):
            if not name.startswith("handsfree."):
                continue
            inner = name.removeprefix("handsfree.")
            assert any(inner == ok or inner.startswith(f"{ok}.") for ok in ALLOWED[room]), (
                f"{path.relative_to(PACKAGE)} imports {name}")


@pytest.mark.parametrize("part", PURE_OF_EVERYTHING)
def test_the_core_makes_no_sound_and_opens_no_file(part: str) -> None:
    for path in files(part):
        outside = {name.split(".")[0] for name in imports(path)}
        assert not outside & (OUTSIDE | {"os", "time", "datetime", "random", "pathlib", "yaml",
                                         "threading", "subprocess", "io"}), path


def test_only_commands_import_the_wiring() -> None:
    for path in sorted(PACKAGE.rglob("*.py")):
        if path.name not in WIRING:
            assert "handsfree.wiring" not in imports(path), path


@pytest.mark.parametrize("module", [
    "handsfree.engine.advance", "handsfree.checklist.loader", "handsfree.session.wording",
    "handsfree.session.conversation", "handsfree.session.journal", "handsfree.language.matcher"])
def test_the_core_works_where_no_audio_library_is_installed(module: str) -> None:
    code = (
        "import sys, importlib\n"
        "class Refuse:\n"
        "    def find_spec(self, name, path=None, target=None):\n"
        f"        if name.split('.')[0] in {sorted(OUTSIDE - {'socket', 'urllib'})!r}:\n"
        "            raise ImportError('refused ' + name)\n"
        "sys.meta_path.insert(0, Refuse())\n"
        f"importlib.import_module({module!r})\n")
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr


def test_help_is_instant_because_nothing_heavy_is_imported() -> None:
    code = ("import sys\nfrom click.testing import CliRunner\nfrom handsfree.cli import main\n"
            "result = CliRunner().invoke(main, ['--help'])\nassert result.exit_code == 0\n"
            "heavy = {'numpy', 'scipy', 'rich', 'vosk', 'dd'} & set(sys.modules)\n"
            "assert not heavy, heavy\n")
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
