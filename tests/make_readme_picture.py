"""Draws the picture of the README from the README's own ten lines: python tests/make_readme_picture.py"""

import contextlib
import io
import re
from pathlib import Path

from formulate.sheets.figures.achieved import achieved

ROOT = Path(__file__).parent.parent
DPI = 110


def main():
    """Write reference/pictures/readme.png."""
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    code = re.search(r"```python\n(.*?)```", readme, re.DOTALL).group(1)
    space = {}
    with contextlib.redirect_stdout(io.StringIO()):
        exec(code, space)  # the README's own lines, nothing from outside
    path = ROOT / "reference" / "pictures" / "readme.png"
    path.write_bytes(achieved(space["recipe"]).png(dpi=DPI))


if __name__ == "__main__":
    main()
