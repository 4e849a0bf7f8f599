"""Pages of every form in a real browser, before a validator and an accessibility checker: ``make check-page``.

The sessions are rehearsals, and one logbook holds hostile words. Looked for: requests, console, width, clips that do
not play, findings of html-validate (standard and document rules) and of axe-core (WCAG 2.2 A and AA, best practice),
at two widths and in both themes. Prints what is found and ends with 1 when anything is.
"""

from __future__ import annotations

import argparse
import json
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from tests.chromium import Chromium, Tab, browser_path, chromium
from tests.pages import HOSTILE, example_rig, kept

HERE = Path(__file__).resolve().parent
WIDTHS, THEMES = (390, 1280), ("light", "dark")
RULES = ("wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice")
SESSIONS = (
    ("listen", "--rehearsal", "7", "--fast", "--plain", "--seconds", "120", "--keep-clips", "--tag", "old"),
    ("tune", "--rehearsal", "7", "--fast", "--plain", "--keep-clips", "--tag", "tuned"),
    ("confirm", "--rehearsal", "7", "--quick"),
    ("restart", "--rehearsal", "7", "--repeats", "2"),
    ("listen", "--rehearsal", "12", "--fast", "--plain", "--seconds", "60"),
)
FORMS = {
    "two": ("1", "2"), "tuning": ("2",), "tags": ("--before", "tag:old", "--after", "tag:tuned"),
    "confirmed": ("2", "3"), "restart": ("4",), "refused": ("3", "5"), "alone": ("1", "--alone"),
    "bare": ("2", "--alone", "--no-clips"),
}
_LENGTHS = """Promise.all([...document.querySelectorAll("audio")].map(a => a.readyState > 0 ? a.duration : new Promise(
    done => { a.onloadedmetadata = () => done(a.duration); a.onerror = () => done(0); })))"""


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.browser", description=__doc__)
    parser.add_argument("--packages", type=Path, default=Path(".venv/browser"), help="where npm puts the checkers")
    parser.add_argument("--shots", type=Path, help="folder for pictures of every page, and for its print")
    wanted = parser.parse_args()
    missing = [name for name, there in (("chromium", browser_path()), ("npm", shutil.which("npm"))) if not there]
    if missing:
        print(f"needs {' and '.join(missing)}: on Debian, apt-get install {' '.join(missing)}", file=sys.stderr)
        return 2
    packages = _packages(wanted.packages)
    with tempfile.TemporaryDirectory() as name, chromium(Path(name) / "profile") as browser:
        pages = _pages(Path(name))
        found = _validated(packages, pages)
        script = (packages / "node_modules/axe-core/axe.min.js").read_text(encoding="utf-8")
        for page in pages:
            for width in WIDTHS:
                for theme in THEMES:
                    found += [f"{page.name}, {width} px, {theme}: {words}"
                              for words in _looked_at(browser, page, width, theme, script, wanted.shots)]
    print("\n".join([*found, f"{len(pages)} pages, {len(WIDTHS)} widths, {len(THEMES)} themes: {len(found)} findings"]))
    return 1 if found else 0


def _packages(folder: Path) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    shutil.copy(HERE / "package.json", folder)
    subprocess.run(["npm", "install", "--silent", "--no-fund", "--no-audit"], cwd=folder, check=True)
    return folder.resolve()


def _pages(folder: Path) -> list[Path]:
    book = folder / "rehearsed.sqlite"
    for words in SESSIONS:
        _hushweir(*words, "--logbook", str(book))
    for name, words in FORMS.items():
        _hushweir("report", *words, "--logbook", str(book), "--out", str(folder / f"{name}.html"))
    hostile = kept(folder / "hostile.sqlite", HOSTILE, rig=example_rig(folder))
    _hushweir("report", "1", "2", "--logbook", str(hostile), "--out", str(folder / "hostile.html"))
    return sorted(folder.glob("*.html"))


def _hushweir(*words: str) -> None:
    done = subprocess.run([sys.executable, "-m", "tuner", *words], capture_output=True, text=True, check=False)
    if done.returncode:
        raise SystemExit(f"hushweir {' '.join(words)}: {done.stderr}")


def _validated(packages: Path, pages: list[Path]) -> list[str]:
    rules = packages / "rules.json"
    rules.write_text(json.dumps({"root": True, "extends": ["html-validate:standard", "html-validate:document"]}))
    done = subprocess.run(
        [packages / "node_modules/.bin/html-validate", "--config", rules, "--formatter", "json", *pages],
        capture_output=True, text=True, check=False,
    )
    if done.returncode > 1 or not done.stdout:
        raise SystemExit(f"html-validate: {done.stderr}")
    return [f"{Path(page['filePath']).name}: line {m['line']}: {m['message']} ({m['ruleId']})"
            for page in json.loads(done.stdout) for m in page["messages"]]


def _looked_at(
    browser: Chromium, page: Path, width: int, theme: str, script: str, shots: Path | None
) -> list[str]:
    tab = Tab(browser, page, width, theme)
    wide = tab.value("document.documentElement.scrollWidth")
    found = [f"{wide} px wide"] if wide > width else []
    found += [f"clip {i} does not play" for i, length in enumerate(tab.value(_LENGTHS), 1) if not length]
    found += [f"asks for {url}" for url in tab.requests] + tab.complaints
    if shots is not None:
        shots.mkdir(parents=True, exist_ok=True)
        (shots / f"{page.stem}-{width}-{theme}.png").write_bytes(tab.picture())
        (shots / f"{page.stem}.pdf").write_bytes(tab.pdf())
    tab.run(script)
    for fault in tab.value(f"axe.run({{runOnly: {json.dumps(RULES)}}}).then(found => found.violations)"):
        found.append(f"{fault['impact']}: {fault['help']} ({fault['id']}): {fault['nodes'][0]['html'][:120]}")
    tab.close()
    return found


if __name__ == "__main__":
    sys.exit(main())
