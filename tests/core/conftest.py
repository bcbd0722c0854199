"""The small stay of `parts`."""


import pytest

from handsfree.checklist.loader import load_checklist
from handsfree.checklist.model import Checklist
from tests.core.parts import SMALL


@pytest.fixture(scope="session")
def stay(tmp_path_factory: pytest.TempPathFactory) -> Checklist:
    path = tmp_path_factory.mktemp("lists") / "stay.yaml"
    path.write_text(SMALL, encoding="utf-8")
    return load_checklist(path)
