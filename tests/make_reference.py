"""Write reference/equations.md and reference/sources.md, from docstrings and from tables.

python tests/make_reference.py
"""

from pathlib import Path

from reference_equations import equations_page
from reference_sources import sources_page

REFERENCE = Path(__file__).parent.parent / "reference"
PAGES = {"equations.md": equations_page, "sources.md": sources_page}


def main():
    """Write every page."""
    for name, page in PAGES.items():
        (REFERENCE / name).write_text(page(), encoding="utf-8")


if __name__ == "__main__":
    main()
