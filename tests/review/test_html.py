"""The page as a browser shows it: laptop, telephone, paper; nothing fetched, nothing run."""

from __future__ import annotations

import itertools
import re
import shutil
import subprocess
from datetime import timedelta
from html.parser import HTMLParser
from importlib.resources import files
from pathlib import Path

import axe_core_python
import numpy as np
import pytest

from benchmarks.simulated_journal import Mishaps, session_lines, write_journal
from handsfree.cli import wiring
from handsfree.review import history
from handsfree.review.comparing import compare
from handsfree.review.departure import sentences
from handsfree.review.html import More, forecast_page, page
from handsfree.review.minutes import minutes
from handsfree.review.planned_forecast import Whose, kept_promises, outlook
from handsfree.review.records import PlanStep
from handsfree.review.summary import summarise
from tests.review.book import START, Book

pytest.importorskip("matplotlib", reason="the extra 'plots' is not installed")

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
browser = pytest.mark.skipif(not CHROMIUM, reason="there is no Chromium here (Debian: chromium)")
NAMES = ("ask site power", "chock wheels", "level $across$", "unhitch", "stabilisers", "hose & tap",
         "sewer <valves>", "plug in", "slide-out", "mat")


@pytest.fixture(scope="module")
def text(tmp_path_factory: pytest.TempPathFactory) -> str:
    data = tmp_path_factory.mktemp("data")
    rng = np.random.default_rng(4)
    plan = tuple(PlanStep(name, 0.5, 1.0, 2.5) for name in NAMES)
    for number in range(1, 16):
        lines = session_lines(
            plan, rng.lognormal(4, 0.4, len(plan)), checklist="arrive", pause=90.0, rng=rng,
            began=START + timedelta(days=number), place="<script>alert(1)</script> Loop",
            mishaps=Mishaps(refusal=0.1, rejection=0.1, skip=0.1, left=0.05))
        lines[0]["operator"] = {"": "two" if number % 3 else "one & only"}
        write_journal(data / "rigs" / "r", number, lines)
    return whole_page(data)


@pytest.fixture(scope="module")
def ahead() -> str:
    """The page of a forecast for two people, with what would change it."""
    arrive = wiring.plan("arrive", "tandem-slide", Path("/nonexistent"))
    found = outlook(arrive.checklist, wiring.on_record(arrive),
                    history.load(Path("/nonexistent")).columns, Whose(people=2))
    what_if = found.what_if(("chock", "back-in"), ("chairs-out",))
    by = START + timedelta(hours=3)
    return forecast_page(sentences("arrive", found, what_if, by, START), found, what_if)


def whole_page(data: Path) -> str:
    found = history.load(data)
    names = found.checklists()
    return page(found.columns, [summarise(found.columns, name) for name in names],
                found.session(-1), about="15 sessions & more", more={
                    name: More(minutes(found.columns, name), kept_promises(found.columns, name),
                               compare(found.columns, name)) for name in names})


def test_no_id_comes_twice_even_where_two_plots_say_the_same(tmp_path: Path) -> None:
    """Two checklists that went the same way; an accessibility checker objected to their plots."""
    for number, name in enumerate(("arrive", "depart"), start=1):
        book = Book(session=name, checklist=name)
        book.offer(0, "chock").done(60, "chock").offer(60, "hose").done(90, "hose").close(95)
        book.lines[0]["title"] = "The same"
        book.save(tmp_path, number)
    ids = re.findall(r'\bid="([^"]*)"', whole_page(tmp_path))
    assert len(ids) > 20 and len(ids) == len(set(ids))


class Outline(HTMLParser):
    """Every tag with its attributes, and whether each is closed in turn."""

    EMPTY = frozenset({"meta", "br", "img", "link"})

    def __init__(self) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str]]] = []
        self.open: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, {k: v or "" for k, v in attrs}))
        if tag not in self.EMPTY:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, {k: v or "" for k, v in attrs}))

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag


def outline(text: str) -> Outline:
    found = Outline()
    found.feed(text)
    assert not found.open
    return found


def test_the_page_needs_nothing_but_itself_and_runs_nothing(text: str) -> None:
    found = outline(text)
    names = {tag for tag, _ in found.tags}
    assert not names & {"script", "link", "img", "iframe", "object", "embed", "image"}
    for tag, attributes in found.tags:
        for key in ("href", "src", "xlink:href", "style", "action"):
            value = attributes.get(key, "")
            assert "//" not in value and "javascript:" not in value, (tag, value)
            if key.endswith("href") and value:
                assert value.startswith("#")
        assert not any(key.startswith("on") for key in attributes)
    policy = next(a["content"] for t, a in found.tags if a.get("http-equiv"))
    assert policy.startswith("default-src 'none'")
    assert not re.search(r"url\((?!#)", text) and "@import" not in text


def test_names_from_journals_stay_text(text: str) -> None:
    assert "<script" not in text and "&lt;script&gt;" in text
    assert "hose &amp; tap" in text and "sewer &lt;valves&gt;" in text
    assert "level $across$" in text, "a dollar is no formula"


def test_every_plot_has_words_that_say_the_same_and_ids_are_unique(text: str) -> None:
    found = outline(text)
    figures = [a for t, a in found.tags if a.get("role") == "img"]
    assert len(figures) == 18, "nine plots, each wide and narrow"
    assert all(len(a["aria-label"]) > 60 for a in figures)
    ids = [a["id"] for _, a in found.tags if "id" in a]
    assert len(ids) == len(set(ids))
    targets = set(re.findall(r'href="#([^"]+)"', text)) | set(re.findall(r"url\(#([^)]+)\)", text))
    assert targets <= set(ids)


def _luminance(colour: str) -> float:
    """Relative luminance of sRGB: WCAG 2.2, section 'relative luminance'."""
    parts = [int(colour[i:i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_colours_are_told_apart_by_colour_blind_eyes() -> None:
    """Deuteranopia and protanopia after Viénot, Brettel and Mollon (1999), matrices from memory.

    The colours that share a plot must stay apart in CIELAB by far more than a just noticeable
    difference (about 2.3).
    """
    from handsfree.review.charts import BLUE, DARK, GREY, ORANGE, RED

    together = ((BLUE, ORANGE, GREY, DARK), (BLUE, RED, GREY))

    def linear(colour: str) -> np.ndarray:
        rgb = np.array([int(colour[i:i + 2], 16) / 255 for i in (1, 3, 5)])
        return np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)

    to_lms = np.array([[17.8824, 43.5161, 4.11935], [3.45565, 27.1554, 3.86714],
                       [0.0299566, 0.184309, 1.46709]])
    seen = {
        "normal": np.eye(3),
        "protanopia": np.array([[0, 2.02344, -2.52581], [0, 1, 0], [0, 0, 1]]),
        "deuteranopia": np.array([[1, 0, 0], [0.494207, 0, 1.24827], [0, 0, 1]])}
    to_xyz = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722],
                       [0.0193, 0.1192, 0.9505]])

    def lab(rgb: np.ndarray) -> np.ndarray:
        x, y, z = (to_xyz @ rgb.clip(0, 1)) / (0.9505, 1.0, 1.089)
        f = [c ** (1 / 3) if c > 0.008856 else 7.787 * c + 16 / 116 for c in (x, y, z)]
        return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])

    for name, loss in seen.items():
        change = np.linalg.inv(to_lms) @ loss @ to_lms
        for colours in together:
            for first, second in itertools.combinations(colours, 2):
                apart = np.linalg.norm(lab(change @ linear(first)) - lab(change @ linear(second)))
                assert apart > 20, (name, first, second, apart)


def test_what_is_read_has_contrast_enough() -> None:
    """WCAG 2.2: 4.5 : 1 for text on white, 3 : 1 for graphical objects with meaning."""
    from handsfree.review.charts import BLUE, GREY, RED

    for paper, tones in (("#ffffff", ("#1a1a1a", "#444444", "#00527f")),
                         ("#14181c", ("#f0f0f0", "#c4c8cc", "#8cc8f0"))):
        for colour, least in (*((tone, 4.5) for tone in tones), (BLUE, 3.0), (RED, 3.0),
                              (GREY, 3.0)):
            bright, dim = sorted((_luminance(colour), _luminance(paper)), reverse=True)
            assert (bright + 0.05) / (dim + 0.05) >= least, (colour, paper)


def test_the_page_s_tones_are_those_that_were_judged(text: str) -> None:
    for name, light, dark in (("paper", "#fff", "#14181c"), ("ink", "#1a1a1a", "#f0f0f0"),
                              ("soft", "#444", "#c4c8cc"), ("link", "#00527f", "#8cc8f0")):
        assert re.findall(rf"--{name}: (#\w+)", text) == [light, dark]


def test_a_timeline_shows_both_people(tmp_path: Path) -> None:
    from tests.review.test_wanting import two_people

    two_people().save(tmp_path)
    made = page(history.load(tmp_path).columns, [], history.load(tmp_path).session(0))
    assert "outside, upper lane" in made and "inside, lower lane" in made
    assert "At hand: outside 2 steps, 1:40; inside 2 steps, 1:40." in made


def test_refusals_are_drawn_by_reason_and_stay(text: str) -> None:
    told = re.search(r"<h3>What was refused, by what was missing</h3>\s*<figure>(.*?)</figure>",
                     text, re.S)
    assert told and "because of &#x27;chocked&#x27;" in told[1]
    seen = re.findall(r"<text[^>]*>([^<]*)</text>", told[1])
    assert {"chocked", "stay number", "refused, and how often if more than once"} <= set(seen)


def test_what_is_compared_is_drawn_with_intervals_and_numbers(text: str) -> None:
    """Five stays are too few to rank (book of the binomial: five never reach 95 %)."""
    told = re.search(r"<h3>Compared</h3>\s*<p>([^<]*)</p>\s*<figure>(.*?)</figure>", text, re.S)
    assert told and "only two" in told[1] and "Too few stays to rank by operator" in told[1]
    seen = re.findall(r"<text[^>]*>([^<]*)</text>", told[2])
    assert {"two (10)", "one &amp; only (5)", "too few stays to rank", "its 95 % interval"} <= set(seen)


def test_a_forecast_says_it_first_and_draws_it_then(ahead: str) -> None:
    """Two people's longest chain, a step less and another order: a sentence and a plot each."""
    heads = re.findall(r"<h2[^>]*>([^<]*)</h2>", ahead)
    assert heads == ["How sure that is", "When which step comes", "What would change it"]
    said, drawn = ahead.split("<section", 1)
    assert "What sets the time of two, the longest first: back-in (outside" in said
    assert "Without chock: 2 min less." in said and "With chairs-out first" in said
    seen = set(re.findall(r"<text[^>]*>([^<]*)</text>", drawn))
    assert {"without chock", "chairs-out first", "as planned", "hatched: sets the time",
            "inside, lower lane"} <= seen
    assert outline(ahead)


def test_one_unfinished_session_and_none_give_pages_too(tmp_path: Path) -> None:
    Book().offer(0, "chock").write(3, "spoke").save(tmp_path)
    found = history.load(tmp_path)
    one = page(found.columns, [summarise(found.columns, "depart")], found.session(0))
    assert "two closed sessions" in one and outline(one)
    nothing = history.load(tmp_path / "nowhere").columns
    assert outline(page(nothing, [], None))


# --- in a real browser ---------------------------------------------------------------------------

def chromium(folder: Path, *arguments: str) -> str:
    done = subprocess.run(
        [str(CHROMIUM), "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic",
         "--no-first-run", "--disable-background-networking", "--disable-component-update",
         "--disable-sync", "--hide-scrollbars", f"--user-data-dir={folder / 'profile'}",
         *arguments],
        capture_output=True, text=True, timeout=120, check=True)
    return done.stdout


MEASURE = """<script>
addEventListener('load', () => {
  const shown = s => [...document.querySelectorAll(s)].filter(e => e.offsetParent !== null);
  const svg = shown('figure div').map(d => d.querySelector('svg'));
  const sizes = svg.flatMap(s => [...s.querySelectorAll('text')].map(
    t => parseFloat(getComputedStyle(t).fontSize) * s.getScreenCTM().a));
  const right = svg.flatMap(s => [...s.querySelectorAll('text')].map(
    t => t.getBoundingClientRect().right - s.getBoundingClientRect().right));
  parent.postMessage([innerWidth, document.documentElement.scrollWidth, shown('.wide').length,
    shown('.narrow').length, Math.min(...sizes), Math.max(...right),
    Math.min(...svg.map(s => s.getBoundingClientRect().height))].map(
      v => Math.round(v * 10) / 10).join(' '), '*');
});</script>"""


@browser
@pytest.mark.parametrize(("width", "wide", "narrow"), [(1400, 9, 0), (390, 0, 9), (360, 0, 9)])
def test_on_a_screen_everything_fits_and_letters_can_be_read(
    text: str, tmp_path: Path, width: int, wide: int, narrow: int
) -> None:
    measured = re.sub(r"<meta http-equiv[^>]*>", "", text).replace("</body>", MEASURE + "</body>")
    (tmp_path / "page.html").write_text(measured, encoding="utf-8")
    (tmp_path / "frame.html").write_text(
        f'<!DOCTYPE html><body style="margin:0"><iframe src="page.html" width="{width}"'
        ' height="900" style="border:0"></iframe><script>addEventListener("message",'
        ' e => document.title = e.data)</script>')
    seen = chromium(tmp_path, f"--window-size={max(width, 500)},900", "--virtual-time-budget=4000",
                    "--dump-dom", (tmp_path / "frame.html").as_uri())
    found = [float(n) for n in re.search(r"<title>([^<]+)", seen).group(1).split()]  # type: ignore[union-attr]
    inner, scroll, wides, narrows, letters, beyond, height = found
    assert inner == width and scroll <= width, "no sideways scrolling of the page"
    assert (wides, narrows) == (wide, narrow)
    assert letters >= 11, "pixels of the smallest letters in plots"
    assert beyond <= 3, "no label is cut off at the right"
    assert height > 100


AXE = """<script>
addEventListener('load', () => axe.run(document, {resultTypes: ['violations']}).then(found =>
  parent.postMessage([innerWidth, matchMedia('(prefers-color-scheme: dark)').matches,
    document.documentElement.scrollWidth, found.passes.length, ...found.violations.map(
      v => v.id + ' ' + v.nodes[0].html)].join('|'), '*')));
</script>"""


@browser
@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
@pytest.mark.parametrize("width", [390, 1400])
@pytest.mark.parametrize("which", ["text", "ahead"])
def test_an_accessibility_checker_finds_nothing(
    request: pytest.FixtureRequest, tmp_path: Path, which: str, width: int, dark: bool
) -> None:
    """axe-core 4.4, which comes with the test extra's axe-core-python."""
    text = request.getfixturevalue(which)
    axe = (files(axe_core_python) / "axe.min.js").read_text(encoding="utf-8")
    checked = re.sub(r"<meta http-equiv[^>]*>", "", text).replace(
        "</body>", f"<script>{axe}</script>{AXE}</body>")
    (tmp_path / "page.html").write_text(checked, encoding="utf-8")
    (tmp_path / "frame.html").write_text(
        f'<!DOCTYPE html><body style="margin:0"><iframe src="page.html" width="{width}"'
        ' height="900" style="border:0"></iframe><script>addEventListener("message",'
        ' e => document.title = e.data)</script>')
    seen = chromium(
        tmp_path, f"--window-size={max(width, 500)},900", "--virtual-time-budget=60000",
        f"--blink-settings=preferredColorScheme={0 if dark else 1}", "--dump-dom",
        (tmp_path / "frame.html").as_uri())
    told = re.search(r"<title>([^<]+)", seen)
    assert told, "the checker came to no end"
    inner, is_dark, scroll, passes, *violations = told[1].split("|")
    assert (int(inner), is_dark) == (width, str(dark).lower()) and int(scroll) <= width
    assert int(passes) > 20 and violations == []


@browser
def test_where_it_is_dark_the_page_is_dark_and_its_letters_light(
    text: str, tmp_path: Path
) -> None:
    from PIL import Image

    (tmp_path / "page.html").write_text(text, encoding="utf-8")
    chromium(tmp_path, "--window-size=1280,4200", "--blink-settings=preferredColorScheme=0",
             f"--screenshot={tmp_path / 'shot.png'}", (tmp_path / "page.html").as_uri())
    pixels = np.asarray(Image.open(tmp_path / "shot.png").convert("L"))
    assert (pixels < 40).mean() > 0.5 and (pixels > 200).mean() < 0.2
    assert (pixels > 225).sum() > 5000, "letters"


@browser
def test_a_screenshot_shows_the_plots_in_their_colours(text: str, tmp_path: Path) -> None:
    from PIL import Image

    from handsfree.review.charts import BLUE, ORANGE, RED

    (tmp_path / "page.html").write_text(text, encoding="utf-8")
    chromium(tmp_path, "--window-size=1280,7000", f"--screenshot={tmp_path / 'shot.png'}",
             (tmp_path / "page.html").as_uri())
    pixels = np.asarray(Image.open(tmp_path / "shot.png").convert("RGB")).reshape(-1, 3)
    assert (pixels == 255).all(axis=1).mean() > 0.5, "a light page"
    for colour in (BLUE, ORANGE, RED):
        wanted = [int(colour[i:i + 2], 16) for i in (1, 3, 5)]
        assert (np.abs(pixels.astype(int) - wanted).max(axis=1) <= 2).sum() > 300, colour


@browser
def test_on_paper_no_plot_is_cut_in_two(text: str, tmp_path: Path) -> None:
    """Each plot's last line, its axis label, is on the page of its heading."""
    (tmp_path / "page.html").write_text(text, encoding="utf-8")
    chromium(tmp_path, "--no-pdf-header-footer", f"--print-to-pdf={tmp_path / 'page.pdf'}",
             (tmp_path / "page.html").as_uri())
    made = (tmp_path / "page.pdf").read_bytes()
    assert made.startswith(b"%PDF")
    pages = len(re.findall(rb"/Type\s*/Page\b", made))
    assert 3 <= pages <= 8
    if not shutil.which("pdftotext"):
        return
    sheets = subprocess.run(["pdftotext", "-layout", str(tmp_path / "page.pdf"), "-"], text=True,
                            capture_output=True, check=True).stdout.split("\f")
    for heading, label in (("From stay to stay", "stay number"),
                           ("How long each step takes", "active minutes"),
                           ("Timeline", "minutes since the start")):
        sheet = next(s for s in sheets if re.search(rf"(^|  )\s*{heading}\s*($|  )", s, re.M))
        assert label in sheet, heading
