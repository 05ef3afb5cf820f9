"""Write docs/rules.md from the declared rules: python docs/make_rules.py."""  # noqa: INP001 - a script, no package

from pathlib import Path

from siteplan.books.rules_page import rules_page
from siteplan.checks.judge import PARAMETERS

PAGE = Path(__file__).with_name("rules.md")

if __name__ == "__main__":
    PAGE.write_text(rules_page(PARAMETERS), encoding="utf-8", newline="\n")
