"""The PDF: real text in embedded fonts, whole steps on a page, Korean too."""

import io
import re
from pathlib import Path

import pytest
from click.testing import CliRunner
from pypdf import PdfReader

from handsfree.checklist.loader import load_checklist
from handsfree.cli import main
from handsfree.language.loader import load_language
from handsfree.paper.conditions import one_rig
from handsfree.paper.pdf import missing_letters, render
from handsfree.paper.sheet import Sheet, make_sheet
from handsfree.paper.words import load_paper_words

KOREAN = """\
title: 도착
language: ko
defers: 설명서가 우선합니다.
facts:
  chocked: {says: 바퀴가 고정되어 있다, otherwise: 바퀴가 고정되지 않았다}
steps:
  - {id: chock, do: 바퀴를 고정하세요., respond: 바퀴 고정, gives: chocked, place: 바퀴}
  - {id: volts, do: 전압을 읽으세요., reading: {of: volts, between: [207, 253]}, needs: chocked}
"""


def pages(pdf: bytes) -> list[str]:
    return [page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages]


def korean_sheet(folder: Path) -> Sheet:
    path = folder / "ko.yaml"
    path.write_text(KOREAN, encoding="utf-8")
    checklist = load_checklist(path)
    return make_sheet(checklist, "작은 트레일러", one_rig(frozenset(), [checklist]),
                      load_language("ko"), load_paper_words("ko"))


@pytest.fixture(scope="module")
def printed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("print")
    path = folder / "glove-box.pdf"
    done = CliRunner().invoke(main, ["print", str(path), "depart", "--rig", "tandem-slide"])
    assert done.exit_code == 0, done.output
    assert f"Written: {path}" in done.output and "Tandem trailer" in done.output
    assert "left blank" not in done.output
    return path


def test_it_has_holds_limits_cautions_rules_and_gear(printed: Path) -> None:
    text = "\n".join(pages(printed.read_bytes()))
    for words in ("Pack up and depart", "HOLD", "chocks are out", "CAUTION:",
                  "65 to 68 psi", "Never, in any order", "What is out and has to come back",
                  "owner's manual"):
        assert words in text, words


def test_pages_are_counted_and_dated(printed: Path) -> None:
    found = pages(printed.read_bytes())
    rules = [text for text in found if text.startswith("Never, in any order ·")]
    assert 0 < len(rules) < len(found)
    for part in (found[:-len(rules)], rules):  # the rules stand apart, once for all lists
        for place, text in enumerate(part, 1):
            assert f"page {place} of {len(part)}" in text
    for text in found:
        assert re.search(r"printed \d{4}-\d\d-\d\d", text)


def test_fonts_are_embedded(printed: Path) -> None:
    fonts = {}
    for page in PdfReader(printed).pages:
        for font in page["/Resources"]["/Font"].values():  # type: ignore[index]
            about = font.get_object()
            fonts[about["/BaseFont"]] = "/FontFile2" in about.get("/FontDescriptor", {})
    assert any("Vera" in name for name in fonts)
    # The library names Helvetica on each page without using it.
    assert all(inside for name, inside in fonts.items() if name != "/Helvetica"), fonts


def test_korean_is_printed_in_its_own_letters(tmp_path: Path) -> None:
    sheet = korean_sheet(tmp_path)
    assert missing_letters([sheet]) == ""
    text = "\n".join(pages(render([sheet], size="a4")))
    for words in ("바퀴를 고정하세요", "멈춤", "207–253 볼트", "1쪽 중 1쪽"):
        assert words in text, words


def test_letters_that_the_font_lacks_are_told(tmp_path: Path) -> None:
    sheet = korean_sheet(tmp_path)
    words = load_paper_words("en")
    from dataclasses import replace

    assert "고" in missing_letters([replace(sheet, words=words)])


def test_same_sheets_same_bytes(tmp_path: Path) -> None:
    sheet = korean_sheet(tmp_path)
    assert render([sheet]) == render([sheet])
    assert render([sheet]) != render([sheet], size="a4")


@pytest.mark.parametrize(("arguments", "said"), [
    (["arrive.yaml", "depart"], "does not end in .pdf"),
    (["x.pdf", "depart", "--rig", "no-such-rig"], "there is no rig 'no-such-rig'"),
    (["x.pdf", "departure-lounge", "--rig", "small-single"], "there is no checklist"),
    (["no/such/folder/x.pdf", "evening", "--rig", "small-single"], "there is no folder"),
])
def test_what_cannot_be_printed_is_one_sentence(
    arguments: list[str], said: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("HANDSFREE_DATA", str(tmp_path / "data"))
    done = CliRunner().invoke(main, ["print", *arguments])
    assert done.exit_code == 2
    assert said in done.output and "Traceback" not in done.output
    assert len(done.output.strip().splitlines()) == 1
