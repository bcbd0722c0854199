"""The small checklist of the session's tests, and a shipped one."""

import pytest

from handsfree.checklist.loader import load_checklist
from handsfree.checklist.model import Checklist
from handsfree.checklist.rig_file import load_rig
from handsfree.storage.paths import checklists_folder, find_rig
from tests.session.conftest import english, small, small_path  # noqa: F401


@pytest.fixture(scope="session")
def arrive() -> Checklist:
    rig = load_rig(find_rig("survey-trailer"))
    return load_checklist(checklists_folder() / "arrive.yaml", rig=rig, library=checklists_folder())
